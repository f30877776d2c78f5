//! What the op amps must have.

use maud::{Markup, html};

use super::entries::{Entries, Entry};
use crate::demands::{listed, missing, times};
use crate::design::{Enters, Group};
use crate::outcome::{DemandsOutcome, Least, Outcome};
use crate::quantity::{Unit, rounded};
use crate::wording::in_stage;

/// Under which signal, a paragraph for each op amp that the design names, then offset and supply; nothing of a path without
/// op amps.
pub fn demands(entries: &Entries, outcome: &Outcome) -> Markup {
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
            h3 { "Op amps " small { (conditions(entries, found)) } }
            @for least in found.least() { (one(entries, found, &least)) }
            @for note in &found.notes { p { (note) } }
            p {
                "Offset at the output "
                @if found.offset.at_rail { "beyond a rail" } @else { "at most ±" (volts(found.offset.output)) }
                ", referred to the path's input ±" (volts(found.offset.input))
                "; supply current of a board " (rounded(found.supply_current, Unit::Ampere, 3))
                ", " (rounded(found.supply_power, Unit::Watt, 3)) " between the rails, without load."
            }
        }
    }
}

/// Rails, load and signal, and how much of it is allowed.
fn conditions(entries: &Entries, found: &DemandsOutcome) -> String {
    let design = entries.design;
    let volts = |value: f64| rounded(value, Unit::Volt, 3);
    let board = format!(
        "Between {} and {}, with a load of {}",
        volts(design.conditions.negative_rail),
        volts(design.conditions.positive_rail),
        rounded(design.conditions.load, Unit::Ohm, 3)
    );
    let points = || {
        let points = design.signal.points.iter();
        let points = points.map(|p| {
            format!(
                "{} at {}",
                volts(p.amplitude),
                rounded(p.frequency, Unit::Hertz, 3)
            )
        });
        points.collect::<Vec<_>>().join(", ")
    };
    let signal = match found.signal {
        Some(Enters::Path) => format!("; sines at the path's input: {}", points()),
        Some(Enters::Reference) => format!("; sines as the loop's reference: {}", points()),
        Some(Enters::Motion) => "; the error of the loop's time response".to_owned(),
        None => String::new(),
    };
    let allowed = found.signal_allowed();
    let allowed = allowed.map(|allowed| format!("; all op amps allow {}", times(allowed)));
    format!("{board}{signal}{}.", allowed.unwrap_or_default())
}

/// An op amp's figures, as the design has them; what decides responses of the usual one stands among the assumptions.
fn data_sheet(entries: &Entries, name: &str) -> String {
    let rest = |group: &Group| matches!(group, Group::OpAmpData);
    let all = |group: &Group| rest(group) || matches!(group, Group::OpAmp);
    let list = &entries.design.op_amps;
    let place = list.iter().position(|own| own.name == name);
    let pairs: Vec<(&Entry, &Entry)> = match place.filter(|_| !name.is_empty()) {
        Some(place) => {
            let own = entries.within(|group| *group == Group::OwnOpAmp(place));
            // The name stands first.
            entries.within(all).zip(own.skip(1)).collect()
        }
        None => entries.within(rest).map(|own| (own, own)).collect(),
    };
    let each = pairs.into_iter();
    let each = each.map(|(usual, own)| format!("{} {}", small(&usual.label), own.text));
    each.collect::<Vec<_>>().join(", ")
}

/// A label within a sentence.
fn small(label: &str) -> String {
    let mut letters = label.chars();
    let first = letters.next().map(|letter| letter.to_ascii_lowercase());
    first.into_iter().chain(letters).collect()
}

fn one(entries: &Entries, found: &DemandsOutcome, least: &Least) -> Markup {
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
            span.sheet-secondary { " Data sheet: " (data_sheet(entries, &least.sheet)) "." }
        }
    }
}
