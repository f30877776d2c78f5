//! The build sheet: what a colleague can check on paper, without the program.
//!
//! A document of its own, a pure function of a design and of what was found for it. Its first page has the first stage;
//! each further stage has a page, and so have the spread with all that was assumed, and the loop. One file a part of the
//! sheet; all words of the user are escaped.

mod asked;
mod assumptions;
pub mod cautions;
mod charts;
pub mod contributions;
mod demands;
mod entries;
mod figures;
pub mod guide;
mod heading;
mod looped;
mod motion;
mod noise;
mod notes;
mod page;
mod parts;
mod path;
mod plant;
mod spread;
mod stage;
mod supply;
mod transfer;

use maud::{DOCTYPE, Markup, html};

use crate::design::Design;
use crate::outcome::Outcome;
use entries::Entries;

/// The sheet's own style: for the page that prints it, and inside a file.
const STYLE: &str = include_str!("../../style/sheet.css");

/// The pages of the sheet, as HTML that is well-formed XML, too, without styles and scripts of its own. What was not found
/// is left out, or said to be missing.
///
/// ```
/// use polewright::{design::Design, outcome::Outcome, sheet};
/// let mut design = Design::default();
/// design.about.name = "Notch <1>".into();
/// let sheet = sheet::fragment(&design, &Outcome::default());
/// assert!(sheet.contains("Notch &lt;1&gt;"));
/// ```
pub fn fragment(design: &Design, outcome: &Outcome) -> String {
    pages(design, outcome).into_string()
}

/// The sheet as a file that any browser opens and prints: its style is in it, and it fetches nothing.
pub fn document(design: &Design, outcome: &Outcome) -> String {
    let title = format!("{} · build sheet", page::name(design));
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (maud::PreEscaped(STYLE)) }
            }
            body.sheet-file { div.sheet { (pages(design, outcome)) } }
        }
    };
    whole.into_string()
}

/// Whether there is something to print of an outcome.
pub fn is_there(outcome: &Outcome) -> bool {
    !outcome.stages.is_empty() || outcome.servo.is_some()
}

fn pages(design: &Design, outcome: &Outcome) -> Markup {
    let entries = Entries::of(design);
    let count = outcome.stages.len();
    let first = heading::heading(design, outcome);
    let looped = outcome.servo.as_ref().map(|servo| {
        html! {
            (looped::looped(&entries, outcome, servo))
            @if let Some(budget) = &servo.budget { (looped::phase_budget(budget)) }
            (motion::motion(&entries, outcome))
            (plant::plant(&entries, servo))
            (supply::supply(design, outcome))
        }
    });
    let assumed = html! {
        (assumptions::assumptions(&entries, outcome))
        (cautions::cautions(outcome))
    };
    // The shown stage has more to tell than the others: what was assumed stands on a page that has room.
    let host = (1..count).rev().find(|index| *index != outcome.shown);
    let page = |what: &str, body: Markup| page::page(design, what, body);
    html! {
        section.sheet-page {
            (first)
            @if count > 0 {
                (stage::stage(&entries, outcome, 0))
                // A single stage's page has room for them.
                @if count == 1 { (demands::demands(&entries, outcome)) }
            } @else {
                (path::without_parts(&entries))
                @if let Some(looped) = &looped { (looped) }
                (assumed)
                (notes::notes(design))
            }
        }
        @for index in 1..count {
            (page(&format!("Stage {} of {count}", index + 1), html! {
                (stage::stage(&entries, outcome, index))
                @if host == Some(index) { (assumed) }
            }))
        }
        @if count > 0 {
            (page("Spread", html! {
                (path::path(design, outcome))
                @if count > 1 { (demands::demands(&entries, outcome)) }
                (spread::spread(design, outcome))
                (noise::noise(outcome))
                @if host.is_none() { (assumed) }
                (notes::notes(design))
            }))
            @if let Some(looped) = looped { (page("Loop", looped)) }
        }
    }
}
