//! What was assumed: shelf, op amp, distributions, temperature, seed, boards.

use maud::{Markup, html};

use super::entries::{Entries, Entry, listed};
use crate::design::Group;
use crate::outcome::Outcome;

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
                section { h3 { "Resistors" } (of(&[Group::Resistors, Group::ResistorSpread])) }
                section { h3 { "Capacitors" } (of(&[Group::Capacitors, Group::CapacitorSpread])) }
                section { h3 { "Op amps" } (of(&[Group::OpAmp, Group::OpAmpSpread])) }
            }
            section { h3 { "Boards" } (of(&[Group::Spread])) }
            @if !networks.is_empty() {
                section { h3 { "Networks" } (of(&networks)) }
            }
            @if outcome.servo.is_some() {
                section { h3 { "Plants" } (of(&[Group::Drift])) }
            }
        }
        @if !own.is_empty() {
            p { strong { "Parts that vary on their own: " } (own.join("; ")) "." }
        }
    }
}

/// An entry of one part, with its stage.
fn of_its_own(entry: &Entry) -> String {
    let Group::PartSpread(stage, _) = entry.group else {
        return String::new();
    };
    format!("stage {}, {} {}", stage + 1, entry.label, entry.text)
}
