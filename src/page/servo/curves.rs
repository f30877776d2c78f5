//! The curves of plant and loop: measured points as small open circles, what the model makes of it as a
//! line.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::design::labelled;
use crate::outcome::{LoopOutcome, ServoOutcome};
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::legend::legend;
use crate::page::panel::{Panel, Reading};
use crate::plots::looped::{self, turned};
use crate::plots::{Chart, Plot, between, minus};

#[component]
pub fn LoopCurves() -> impl IntoView {
    let desk = expect_context::<Desk>();
    // "dB" alone stands at every tick.
    let level = memo(move || {
        let units = desk.units();
        if units.reference().is_empty() {
            String::new()
        } else {
            units.decibels()
        }
    });
    view! {
        <div class="loop-curves">
            {legend(&Chart::PlantMagnitude.legend())}
            {move || view! { <Panel title=labelled(Chart::PlantMagnitude.title(), &level.get()) plot=of_loop(desk, looped::plant_magnitude) reading=decibels(desk) file=Chart::PlantMagnitude.name() legend=Chart::PlantMagnitude.legend() /> }}
            <Panel title=Chart::PlantPhase.title() plot=of_loop(desk, looped::plant_phase) reading=degrees(desk) file=Chart::PlantPhase.name() legend=Chart::PlantPhase.legend() />
            <Panel title=Chart::OpenMagnitude.title() plot=of_loop(desk, looped::open_magnitude) reading=decibels(desk) file=Chart::OpenMagnitude.name() legend=Chart::OpenMagnitude.legend() />
            <Panel title=Chart::OpenPhase.title() plot=of_loop(desk, looped::open_phase) reading=degrees(desk) file=Chart::OpenPhase.name() legend=Chart::OpenPhase.legend() />
            <Panel
                title=Chart::Nyquist.title()
                note=Chart::Nyquist.note()
                file=Chart::Nyquist.name() legend=Chart::Nyquist.legend()
                plot=of_loop(desk, looped::nyquist)
                mark=under_cursor(desk, |l| (&l.real, &l.imaginary))
            />
            <Panel
                title=Chart::Nichols.title()
                note=Chart::Nichols.note()
                file=Chart::Nichols.name() legend=Chart::Nichols.legend()
                plot=of_loop(desk, looped::nichols)
                mark=nichols_mark(desk)
            />
            <Panel title=Chart::Sensitivity.title() note=Chart::Sensitivity.note() plot=of_loop(desk, looped::sensitivity) reading=decibels(desk) file=Chart::Sensitivity.name() legend=Chart::Sensitivity.legend() />
            <Panel title=Chart::Closed.title() note=Chart::Closed.note() plot=of_loop(desk, looped::closed) reading=decibels(desk) file=Chart::Closed.name() legend=Chart::Closed.legend() />
        </div>
    }
}

/// What `plot` makes of the last good loop.
pub(super) fn of_loop(
    desk: Desk,
    plot: fn(&ServoOutcome) -> Option<Plot>,
) -> Derived<Option<Arc<Plot>>> {
    memo(move || desk.servo.with(|servo| plot(servo.as_ref()?).map(Arc::new)))
}

/// Decibels over frequency, read where the stage's curves are read.
pub(super) fn decibels(desk: Desk) -> Reading {
    Reading {
        along: Along::Frequency,
        place: desk.cursor,
        text: Some(|v| minus(format!("{v:.1} dB"))),
        unit: None,
    }
}

fn degrees(desk: Desk) -> Reading {
    Reading {
        text: Some(|v| minus(format!("{v:.1}°"))),
        ..decibels(desk)
    }
}

/// Where a loop stands at the cursor's frequency in a plane of two of its columns; the modelled loop, or the
/// measured one where there is no model.
fn under_cursor(
    desk: Desk,
    columns: fn(&LoopOutcome) -> (&Vec<f64>, &Vec<f64>),
) -> Derived<Option<(f64, f64)>> {
    memo(move || {
        let at = desk.cursor.get()?;
        desk.servo.with(|servo| {
            let open = servo.as_ref()?.closed()?;
            let along = &open.open.frequency;
            let is_inside = *along.first()? <= at && at <= *along.last()?;
            let (x, y) = columns(open);
            is_inside.then(|| (between(along, x, at), between(along, y, at)))
        })
    })
}

fn nichols_mark(desk: Desk) -> Derived<Option<(f64, f64)>> {
    let at = under_cursor(desk, |l| (&l.open.phase_deg, &l.open.magnitude_db));
    memo(move || at.get().map(|(phase, gain)| (turned(phase), gain)))
}
