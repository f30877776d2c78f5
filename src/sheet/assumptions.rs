//! What was assumed: shelf, op amp, distributions, temperature, seed, boards.

use maud::{Markup, html};

use super::entries::{Entries, Entry, listed};
use crate::design::Group;
use crate::outcome::Outcome;
use crate::wording::capital;

/// What only proposals read.
const ASIDE: [&str; 2] = ["/spread/wanted", "/spread/trimmed"];

/// All of it, in columns.
pub fn assumptions(entries: &Entries, outcome: &Outcome) -> Markup {
    let has_parts = !entries.design.stages.is_empty();
    let of = |groups: &[Group]| {
        let within = |group: &Group| groups.contains(group);
        let all: Vec<&Entry> = entries
            .within(within)
            .filter(|e| !ASIDE.contains(&e.path.as_str()))
            .collect();
        listed(all)
    };
    let networks: Vec<Group> = (0..entries.design.spread.networks.len())
        .map(Group::Network)
        .collect();
    let own: Vec<String> = entries
        .within(|group| matches!(group, Group::PartSpread(..)))
        .filter(|entry| entry.is_set)
        .map(of_its_own)
        .collect();
    html! {
        h2 { "Assumptions" }
        div.sheet-assumptions {
            @if has_parts {
                (kinds(entries))
                section { h3 { "Op amps" } (of(&[Group::OpAmp, Group::OpAmpSpread])) }
            }
            section {
                h3 { "Boards" } (of(&[Group::Spread]))
                @if outcome.servo.is_some() { h3 { "Plants" } (of(&[Group::Drift])) }
            }
        }
        @if !networks.is_empty() { h3 { "Networks" } (of(&networks)) }
        @if !own.is_empty() {
            p { strong { "Parts that vary on their own: " } (own.join("; ")) "." }
        }
    }
}

/// Resistors and capacitors side by side.
fn kinds(entries: &Entries) -> Markup {
    let of = |groups: [Group; 2]| -> Vec<&Entry> {
        entries
            .within(|group| groups.contains(group))
            .filter(|entry| !entry.text.is_empty())
            .collect()
    };
    let resistors = of([Group::Resistors, Group::ResistorSpread]);
    let capacitors = of([Group::Capacitors, Group::CapacitorSpread]);
    let key = |entry: &Entry| {
        entry
            .path
            .replace("resistors", "")
            .replace("capacitors", "")
    };
    let find = |among: &[&Entry], wanted: &str| {
        let same = among.iter().find(|entry| key(entry) == wanted);
        same.map_or(String::new(), |entry| entry.text.clone())
    };
    let mut rows: Vec<(String, String)> = Vec::new();
    for entry in resistors.iter().chain(&capacitors) {
        if !rows.iter().any(|(known, _)| *known == key(entry)) {
            rows.push((key(entry), of_either(&entry.label)));
        }
    }
    html! {
        table {
            thead {
                tr { th {} th.number scope="col" { "Resistors" } th.number scope="col" { "Capacitors" } }
            }
            tbody {
                @for (key, label) in &rows {
                    tr {
                        th scope="row" { (label) }
                        td.number { (find(&resistors, key)) }
                        td.number { (find(&capacitors, key)) }
                    }
                }
            }
        }
    }
}

/// A label that holds for both kinds.
fn of_either(label: &str) -> String {
    let mut text = label.to_owned();
    for word in [
        " of resistors",
        " of capacitors",
        "Resistors ",
        "Capacitors ",
        " resistor",
        " capacitor",
    ] {
        text = text.replace(word, "");
    }
    capital(&text)
}

/// An entry of one part, with its stage.
fn of_its_own(entry: &Entry) -> String {
    let Group::PartSpread(stage, _) = entry.group else {
        return String::new();
    };
    format!("stage {}, {} {}", stage + 1, entry.label, entry.text)
}
