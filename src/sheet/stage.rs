//! One stage: what is asked, its drawing, its parts, its figures, its yield and its response.

use maud::{Markup, PreEscaped, html};

use super::entries::{Entries, listed};
use super::{figures, parts, transfer};
use crate::design::Group;
use crate::outcome::{Note, Outcome, StageOutcome};
use crate::plots::schematic;
use crate::wording::per_cent;

/// The stage at this place of the path.
pub fn stage(entries: &Entries, outcome: &Outcome, index: usize) -> Markup {
    let Some(stage) = outcome.stages.get(index) else {
        return Markup::default();
    };
    let number = match outcome.stages.len() {
        1 => String::new(),
        _ => format!("Stage {}: ", index + 1),
    };
    let asked =
        entries.within(|group| matches!(group, Group::Ask(at) | Group::Limits(at) if *at == index));
    html! {
        h2 { (number) (stage.title) }
        p.sheet-secondary { (stage.summary) }
        section.sheet-block {
            h3 { "Required" }
            (listed(asked))
        }
        figure.sheet-schematic { (PreEscaped(schematic::svg(stage, &stage.title))) }
        div.sheet-tables {
            (parts::parts(stage))
            (figures::figures(&stage.figures))
        }
        (held(outcome, index))
        (notes(stage))
        (transfer::of_stage(outcome, index))
        @if !stage.sources.is_empty() {
            p.sheet-secondary { "Sources: " (stage.sources.join("; ")) }
        }
    }
}

/// On how many boards the stage holds its limits.
fn held(outcome: &Outcome, index: usize) -> Markup {
    let Some(spread) = &outcome.spread else {
        return html! { p { "Yield: the boards are not drawn yet." } };
    };
    let path = spread.path.as_ref();
    let share = match path.and_then(|path| path.stages.get(index)) {
        Some(share) => *share,
        None => spread.share.fraction,
    };
    html! {
        p { "Yield: " strong { (per_cent(share)) } " of " (spread.boards) " boards hold every limit of this stage." }
    }
}

fn notes(stage: &StageOutcome) -> Markup {
    html! {
        @if !stage.notes.is_empty() {
            ul.sheet-told {
                @for note in &stage.notes {
                    @match note {
                        Note::Reach(told) => li.sheet-missed { (told) },
                        Note::Advice(told) => li { (told) },
                    }
                }
            }
        }
    }
}
