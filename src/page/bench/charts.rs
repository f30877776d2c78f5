//! The measured response over the predicted one.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::legend::legend;
use crate::page::panel::{Panel, Reading};
use crate::plots::response::Response;
use crate::plots::{Chart, bench, boards_of, minus};

#[component]
pub fn Charts() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let plot = move |of: Response| {
        memo(move || {
            let found = desk.bench.get()?;
            let spread = desk.spread.get();
            let boards = boards_of(&found, spread.as_deref());
            bench(&found, boards.as_ref(), of).map(Arc::new)
        })
    };
    let reading = |text: fn(f64) -> String| Reading {
        along: Along::Frequency,
        place: desk.cursor,
        text: Some(text),
        unit: None,
    };
    let has_phase =
        memo(move || (desk.bench).with(|found| found.as_ref().is_none_or(|found| found.has_phase)));
    let level = reading(|v| minus(format!("{v:.2} dB")));
    let angle = reading(|v| minus(format!("{v:.1}°")));
    view! {
        <div class="bench-charts">
            {legend(&Chart::BenchMagnitude.legend())}
            <Panel title=Chart::BenchMagnitude.title() plot=plot(Response::Magnitude) reading=level file=Chart::BenchMagnitude.name() legend=Chart::BenchMagnitude.legend() />
            <Show when=move || has_phase.get()>
                <Panel title=Chart::BenchPhase.title() plot=plot(Response::Phase) reading=angle file=Chart::BenchPhase.name() legend=Chart::BenchPhase.legend() />
            </Show>
            <Show when=move || !has_phase.get()>
                <p class="secondary">"Phase not measured."</p>
            </Show>
        </div>
    }
}
