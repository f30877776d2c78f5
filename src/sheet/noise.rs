//! Noise of the path's parts, in a few lines.

use maud::{Markup, html};

use crate::design::in_unit;
use crate::outcome::{LoopNoise, NoiseOutcome, Outcome, StageNoiseOutcome};
use crate::quantity::{Unit, rounded};
use crate::wording::{capital, estimate};

/// Contributors that are named of an only stage, and of each of several: the page has little room.
const NAMED: [usize; 2] = [4, 2];

/// Nothing where none is worked out.
pub fn noise(outcome: &Outcome) -> Markup {
    let Some(noise) = &outcome.noise else {
        return Markup::default();
    };
    let all = noise.stages.iter().enumerate();
    let each: Vec<String> = all.map(|(place, stage)| one(noise, place, stage)).collect();
    html! {
        section.sheet-block {
            h3 {
                "Noise from " (rounded(noise.from, Unit::Hertz, 3)) " to " (rounded(noise.to, Unit::Hertz, 3))
                ", resistors at " (rounded(noise.kelvin - 273.15, Unit::Celsius, 3))
            }
            p {
                strong { (volts(noise.path.total.rms)) " rms" } " at the path's output"
                @if let Some(input) = noise.path.total.input_rms { ", " (volts(input)) " rms referred to the input" }
                ". " (capital(&each.join("; "))) "."
                @if let Some(looped) = &noise.looped { " " (round_the_loop(looped)) }
            }
        }
    }
}

fn volts(value: f64) -> String {
    rounded(value, Unit::Volt, 3)
}

fn one(noise: &NoiseOutcome, place: usize, stage: &StageNoiseOutcome) -> String {
    let count = NAMED[usize::from(noise.stages.len() > 1)];
    let named = stage.contributors.iter().take(count);
    let named: Vec<String> = named
        .map(|one| format!("{} {} {}", one.part, one.words(), estimate(one.share)))
        .collect();
    let whose = match noise.stages.len() {
        1 => String::new(),
        _ => format!(
            "stage {}: {} rms at its output, ",
            place + 1,
            volts(stage.total.rms)
        ),
    };
    let limit = stage.limit;
    let limit = limit.map_or(String::new(), |limit| format!("{} allowed, ", volts(limit)));
    format!("{whose}{limit}{}", named.join(", "))
}

fn round_the_loop(looped: &LoopNoise) -> String {
    if let Some(why) = &looped.why {
        return why.clone();
    }
    let told = |value: f64, name: &str| {
        let unit = looped.units.get(name).map_or("", String::as_str);
        in_unit(value, unit, 3)
    };
    format!(
        "In the closed loop: {} rms at the drive, {} rms of position.",
        told(looped.drive_rms, "drive_rms"),
        told(looped.position_rms, "position_rms")
    )
}
