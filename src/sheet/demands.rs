//! What the op amps must have.

use maud::{Markup, html};

use crate::demands::{listed, missing, times};
use crate::outcome::{DemandsOutcome, Least, Outcome};
use crate::quantity::{Unit, rounded};
use crate::wording::in_stage;

/// A line for each op amp that the design names, then offset and supply; nothing of a path without op amps.
pub fn demands(outcome: &Outcome) -> Markup {
    let Some(found) = outcome
        .demands
        .as_ref()
        .filter(|found| !found.op_amps.is_empty())
    else {
        return Markup::default();
    };
    let volts = |value: Option<f64>| value.map_or("none".to_owned(), |v| rounded(v, Unit::Volt, 3));
    html! {
        section.sheet-block {
            h3 { "Op amps" }
            @for least in found.least() { (one(found, &least)) }
            @for note in &found.notes { p { (note) } }
            p {
                @if let Some(allowed) = found.signal_allowed() {
                    "All op amps allow " (times(allowed)) ". "
                }
                "Offset at the output "
                @if found.offset.at_rail { "beyond a rail" } @else { "at most ±" (volts(found.offset.output)) }
                ", referred to the path's input ±" (volts(found.offset.input))
                "; supply current of a board " (rounded(found.supply_current, Unit::Ampere, 3))
                ", " (rounded(found.supply_power, Unit::Watt, 3)) " between the rails, without load."
            }
        }
    }
}

fn one(found: &DemandsOutcome, least: &Least) -> Markup {
    let name = match least.sheet.is_empty() {
        true => "Usual op amp",
        false => &least.sheet,
    };
    let places = least.places.iter();
    let places: Vec<String> = places
        .map(|(stage, name)| in_stage(found.stages > 1, *stage, name))
        .collect();
    html! {
        p {
            strong { (name) " (" (places.join(" ")) ")" }
            ": needs " (listed(&least.demands)) ". "
            @match missing(&least.demands) {
                Some(words) => span.sheet-missed { (words) },
                None => "It has all of it.",
            }
        }
    }
}
