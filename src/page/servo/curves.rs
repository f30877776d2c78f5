//! The curves of plant and loop: measured points as small open circles, what the model makes of it as a
//! line.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::design::labelled;
use crate::outcome::{LoopOutcome, ServoOutcome};
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::panel::{Panel, Reading};
use crate::plots::looped::{self, turned};
use crate::plots::{Plot, between, minus};

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
            <ul class="legend">
                <li><span class="dot"></span>"measured points"</li>
                <li><span class="line real"></span>"with the model"</li>
                <li><span class="line guide"></span>"the required limit"</li>
            </ul>
            {move || view! { <Panel title=labelled("Plant, magnitude", &level.get()) plot=of_loop(desk, looped::plant_magnitude) reading=decibels(desk) /> }}
            <Panel title="Plant, phase" plot=of_loop(desk, looped::plant_phase) reading=degrees(desk) />
            <Panel title="Open loop, magnitude" plot=of_loop(desk, looped::open_magnitude) reading=decibels(desk) />
            <Panel title="Open loop, phase" plot=of_loop(desk, looped::open_phase) reading=degrees(desk) />
            <Panel
                title="Nyquist, near −1"
                note="the circle is the largest sensitivity allowed"
                plot=of_loop(desk, looped::nyquist)
                mark=under_cursor(desk, |l| (&l.real, &l.imaginary))
            />
            <Panel
                title="Nichols"
                note="the lines are the required margins"
                plot=of_loop(desk, looped::nichols)
                mark=nichols_mark(desk)
            />
            <Panel title="Sensitivity" note="the share of a disturbance that remains" plot=of_loop(desk, looped::sensitivity) reading=decibels(desk) />
            <Panel title="Closed loop" note="reference to measured" plot=of_loop(desk, looped::closed) reading=decibels(desk) />
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
            let servo = servo.as_ref()?;
            let open = servo.modelled.as_ref().or(servo.measured.as_ref())?;
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
