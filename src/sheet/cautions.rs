//! What must be kept in mind: the same words on the page and on paper.

use maud::{Markup, html};

use crate::outcome::Outcome;

/// What a computed design is not.
pub const COMPUTED: &str = "Computed, not measured: layout, strays and dielectric effects are not in it. Before a loop is closed on \
    anything that moves or emits light, keep to the machine's own safety case and local codes: first power-up at reduced \
    current, travel stops in place, and an interlock that does not depend on this loop. Licensed practice comes first.";

/// Before a loop is closed.
pub const LOOP: &str = "Before a loop is closed on anything that moves or emits light: first power-up at reduced current, travel \
    stops in place, an interlock that does not depend on this loop, the machine's own safety case (for lasers IEC 60825-1), \
    local codes and licensed practice first.";

/// Before parts are bought.
const BUYING: &str =
    "Before you buy, check values, voltage ratings and dielectrics against the data sheets.";

/// What a list of a supply's lines is not.
pub const SUPPLY: &str = "A supply's spectrum must be measured, at light load and at full load: this list says where to look, not how \
    much is there. Combinations of three converters, and beats of bursts with each other, are not in it.";

/// Those that hold for every sheet. The loop's stands with the loop.
pub fn cautions(outcome: &Outcome) -> Markup {
    let has_parts = !outcome.stages.is_empty();
    html! {
        p.sheet-caution {
            strong { "Cautions. " }
            (COMPUTED)
            @if has_parts { " " (BUYING) }
        }
    }
}
