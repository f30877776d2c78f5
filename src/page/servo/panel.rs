//! One chart of the Loop region.

use leptos::html::Canvas;
use leptos::prelude::*;

use crate::outcome::ServoOutcome;
use crate::page::chart::{self, Plot};
use crate::page::desk::Desk;
use crate::page::theme::Theme;

/// A titled canvas that draws what `plot` makes of the last good loop.
#[component]
pub fn Panel(
    title: &'static str,
    /// What is told beside the title.
    #[prop(optional)]
    note: &'static str,
    plot: fn(&ServoOutcome) -> Option<Plot>,
) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let canvas: NodeRef<Canvas> = NodeRef::new();
    Effect::new(move |last: Option<(u32, bool)>| {
        let redraw = desk.redraw.get();
        let drawn = canvas.get().zip(desk.servo.get());
        if let Some((canvas, servo)) = &drawn {
            if last != Some((redraw, true)) {
                chart::fit(canvas);
            }
            if let Some(plot) = plot(servo) {
                chart::draw(canvas, &plot, &Theme::now());
            }
        }
        (redraw, drawn.is_some())
    });
    view! {
        <figure>
            <figcaption>
                <strong>{title}</strong>
                <span class="quiet">{note}</span>
            </figcaption>
            <div class="plot" role="img" aria-label=title>
                <canvas node_ref=canvas></canvas>
            </div>
        </figure>
    }
}
