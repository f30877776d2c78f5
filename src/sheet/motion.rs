//! The closed loop in time.

use maud::{Markup, html};

use super::entries::{Entries, listed};
use crate::design::{Group, PlantUnits, with_unit};
use crate::feedback::{Figures, Stimulus};
use crate::outcome::{MotionOutcome, Outcome};
use crate::quantity::{Unit, rounded};
use crate::wording::figure_text;

const WITHOUT_BOUND: &str = "grows without bound";
const OPEN: &str = "open: the sweep does not decide it";

/// What moves the loop, and what comes of it; nothing where nothing is known.
pub fn motion(entries: &Entries, outcome: &Outcome) -> Markup {
    let Some(motion) = &outcome.motion else {
        return Markup::default();
    };
    let servo = &entries.design.servo;
    let notes = motion
        .answer
        .iter()
        .flat_map(|answer| &answer.notes)
        .chain(&motion.told);
    html! {
        section.sheet-block {
            h3 { "Closed-loop time response: " (stimulus(&servo.motion.stimulus)) }
            (listed(entries.within(|group| *group == Group::Motion)))
            @if let Some(why) = &motion.why { p.sheet-missed { (why) } }
            @if let Some(answer) = &motion.answer {
                (told(&answer.figures, motion, &servo.motion.stimulus, &servo.units))
            }
            p.sheet-secondary { @for note in notes { (note) " " } }
        }
    }
}

fn stimulus(stimulus: &Stimulus) -> &'static str {
    match stimulus {
        Stimulus::Step => "a step",
        Stimulus::Ramp => "a ramp",
        Stimulus::Parabola => "a parabola",
        Stimulus::Disturbance => "a disturbance step at the plant",
        Stimulus::Trajectory { .. } => "a trajectory of its own",
    }
}

fn told(
    found: &Figures,
    motion: &MotionOutcome,
    stimulus: &Stimulus,
    units: &PlantUnits,
) -> Markup {
    let named = |value: f64, unit: &str| with_unit(figure_text(value, Unit::One), unit);
    let left = match found.steady_error {
        _ if motion.is_open(|constants| constants.left(stimulus)) => OPEN.to_owned(),
        Some(value) => with_unit(rounded(value, Unit::One, 4), &units.output),
        None => WITHOUT_BOUND.to_owned(),
    };
    let all = [
        (
            "Overshoot",
            found.overshoot.map(|v| figure_text(v, Unit::Percent)),
        ),
        (
            "Rise time, 10 to 90 %",
            found.rise_time.map(|v| figure_text(v, Unit::Second)),
        ),
        (
            "Settling time",
            found.settling_time.map(|v| figure_text(v, Unit::Second)),
        ),
        ("Peak error", Some(named(found.peak_error, &units.output))),
        ("Steady-state error", Some(left)),
        (
            "Tracking error, rms",
            found.rms_error.map(|v| named(v, &units.output)),
        ),
        ("Peak drive", Some(named(found.drive_peak, &units.input))),
    ];
    html! {
        dl.sheet-facts {
            @for (label, text) in all {
                @if let Some(text) = text { div { dt { (label) } dd { (text) } } }
            }
        }
    }
}
