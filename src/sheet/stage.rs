//! One stage: what is asked, its drawing, its parts, its figures, its yield and its response.

use maud::{Markup, PreEscaped, html};

use super::charts::{HALF, charts, legend, of_unshown};
use super::entries::Entries;
use super::{asked, figures, parts, transfer};
use crate::design::Design;
use crate::outcome::{Note, Outcome, StageOutcome};
use crate::plots::response::Response;
use crate::plots::{Chart, schematic};
use crate::wording::per_cent;

/// A drawing wider than so many times its height stands above the parts, and not beside them.
const LONG: f64 = 2.1;

/// The stage at this place of the path.
pub fn stage(entries: &Entries, outcome: &Outcome, index: usize) -> Markup {
    let Some(stage) = outcome.stages.get(index) else {
        return Markup::default();
    };
    let number = match outcome.stages.len() {
        1 => String::new(),
        _ => format!("Stage {}: ", index + 1),
    };
    let picture = PreEscaped(schematic::svg(stage, &stage.title));
    let [_, _, width, height] = schematic::view_box(&stage.drawing);
    // What is long needs the sheet's whole width to be read.
    let is_long = width > LONG * height;
    let layout = if is_long {
        "sheet-long"
    } else {
        "sheet-square"
    };
    html! {
        h2 { (number) (stage.title) small { (stage.summary) } }
        (asked::asked(entries, index))
        div.sheet-circuit.(layout) {
            figure.sheet-schematic { (picture) }
            (parts::parts(stage, is_long))
        }
        (figures::figures(&stage.figures))
        (held(outcome, index))
        (notes(stage))
        (response(entries.design, outcome, index))
        p.sheet-secondary {
            (legend(index == outcome.shown && outcome.spread.is_some())) " "
            (transfer::of_stage(outcome, index))
            @if !stage.sources.is_empty() { " Sources: " (stage.sources.join("; ")) "." }
        }
    }
}

/// What is drawn of the stage's response: of a stage alone group delay and step, too.
fn response(design: &Design, outcome: &Outcome, index: usize) -> Markup {
    let all = Response::ALL.map(Chart::Stage);
    let drawn = match outcome.stages.len() {
        1 => &all[..],
        _ => &all[..2],
    };
    let others = outcome.unshown.get(index).and_then(Option::as_ref);
    html! {
        @if index == outcome.shown {
            (charts(design, outcome, drawn, HALF))
        } @else if let Some(curves) = others {
            (of_unshown(curves))
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
