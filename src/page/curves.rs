//! The Curves region: magnitude, phase, group delay and step, each with the ask, the bought parts
//! with an ideal op amp, and the bought parts with the real one; and a cursor that reads them.

use std::sync::Arc;

use crate::page::prelude::*;
use leptos::html::Canvas;

use super::cursor::{Along, Cursor};
use super::desk::Desk;
use super::field::Fields;
use super::legend::legend;
use super::saving::Saving;
use super::{sight, turns};
use crate::design::Group;
use crate::outcome::{Curve, Curves as Data, SpreadOutcome};
use crate::plots::response::{Bands, Response};
use crate::plots::{self, Caption, Chart, between};

/// What is drawn: the shown stage, or the whole path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    Stage,
    Path,
}

impl Source {
    /// Looks at the curves.
    fn with_curves<T>(self, desk: Desk, look: impl FnOnce(&Data) -> T) -> Option<T> {
        match self {
            Source::Stage => desk
                .stage
                .with(|stage| Some(look(stage.as_ref()?.curves.as_ref()?))),
            Source::Path => desk
                .path
                .with(|path| Some(look(path.as_ref()?.curves.as_ref()?))),
        }
    }

    fn drawn(self, response: Response) -> Chart {
        match self {
            Source::Stage => Chart::Stage(response),
            Source::Path => Chart::Path(response),
        }
    }

    /// What stands above a chart that is saved.
    fn caption(self, desk: Desk, response: Response) -> Caption {
        let legend = self.drawn(response).legend().into_iter();
        let of_stage = || {
            let stage = desk
                .stage
                .with_untracked(|stage| Some(stage.as_ref()?.title.clone()));
            stage.unwrap_or_default()
        };
        Caption {
            title: response.title().to_owned(),
            note: match self {
                Source::Stage => of_stage(),
                Source::Path => "whole path".to_owned(),
            },
            legend: legend.map(|(sign, text)| (sign, text.to_owned())).collect(),
        }
    }

    fn bands(self, spread: &SpreadOutcome) -> Option<Bands<'_>> {
        match self {
            Source::Stage => Some(Bands::of_stage(spread)),
            Source::Path => Bands::of_path(spread),
        }
    }
}

/// The four charts of a source, one below the other.
#[component]
pub fn Charts(source: Source) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let time = Held::new(None);
    if source == Source::Stage {
        mark_drawn(desk);
    }
    // Bands are drawn when they are whole, and those of before stay until the curves are others.
    let whole = Held::new(0u32);
    Effect::new(move || {
        if desk.spread_is_current.get() {
            whole.update(|times| *times = times.wrapping_add(1));
        }
    });
    Response::ALL
        .map(|chart| {
            let cursor = if chart == Response::Step {
                time
            } else {
                desk.cursor
            };
            view! { <Figure source chart whole cursor /> }
        })
        .collect_nodes()
}

/// Marks the body when parts, figures and curves of a design are drawn: scripts may wait for it.
fn mark_drawn(desk: Desk) {
    Effect::new(move |last: Option<u32>| {
        desk.stage.track();
        let serial = last.map_or(0, |n| n.wrapping_add(1));
        turns::behind(move || {
            if let Some(body) = document().body() {
                // Only fails on a name that is not well formed.
                let _ = body.set_attribute("data-drawn", &serial.to_string());
            }
        });
        serial
    });
}

/// The curves of the shown stage.
#[component]
pub fn Curves() -> impl IntoView {
    let desk = expect_context::<Desk>();
    view! {
        <section class="curves" aria-labelledby="curves-title">
            <h2 id="curves-title">"Curves"</h2>
            {legend(&Chart::Stage(Response::Magnitude).legend())}
            <Charts source=Source::Stage />
            <div class="row">
                <Fields fields=desk.group(Group::View) />
            </div>
        </section>
    }
}

/// One chart with its cursor.
#[component]
fn Figure(
    source: Source,
    chart: Response,
    whole: Held<u32>,
    cursor: Held<Option<f64>>,
) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let canvas: NodeRef<Canvas> = NodeRef::new();
    let plot = move || {
        whole.track();
        let is_whole = desk.spread_is_current.get_untracked();
        desk.spread.with_untracked(|spread| {
            let spread = spread.as_ref().filter(|_| is_whole);
            let bands = spread.and_then(|spread| source.bands(spread));
            source.with_curves(desk, |curves| Arc::new(chart.plot(curves, bands.as_ref())))
        })
    };
    sight::follow(desk, canvas, plot);
    let picture = Box::new(move || {
        let plot = untrack(plot)?;
        Some(plots::svg(&plot, &source.caption(desk, chart), plots::SIZE))
    });
    let along = if chart == Response::Step {
        Along::Time
    } else {
        Along::Frequency
    };
    let ends = memo(move || {
        let ends = source.with_curves(desk, |curves| {
            let xs = chart.xs(curves);
            Some((*xs.first()?, *xs.last()?))
        });
        ends.flatten()
    });
    let reading = move || {
        let x = cursor.get()?;
        let (low, high) = ends.get()?;
        if !(low..=high).contains(&x) {
            return None;
        }
        let [asked, ideal, real] = source.with_curves(desk, |curves| {
            let xs = chart.xs(curves);
            let at = |curve: &Curve| chart.text(between(xs, chart.values(curve), x));
            [at(&curves.ask), at(&curves.ideal), at(&curves.real)]
        })?;
        Some(view! {
            <span class="where">{along.text(x)}</span>
            <span class="asked">{asked}</span>
            <span class="ideal">{ideal}</span>
            <span class="real">{real}</span>
        })
    };
    let name = chart.title();
    view! {
        <figure class=name.to_ascii_lowercase().replace(' ', "-")>
            <figcaption>
                <strong>{name}</strong>
                <span class="reading" aria-live="off">{reading}</span>
            </figcaption>
            <Cursor name along ends place=cursor>
                <canvas node_ref=canvas></canvas>
            </Cursor>
            <Saving title=name file=source.drawn(chart).name() picture />
        </figure>
    }
}
