//! The sheet's heading: what it is, of when, and where the one who checks it signs.

use maud::{Markup, html};

use super::page::name;
use crate::design::Design;
use crate::outcome::Outcome;
use crate::wording::per_cent;

/// Notes up to so many characters stand in the heading, longer ones behind the assumptions.
const SHORT: usize = 300;

/// The heading of the first page.
pub fn heading(design: &Design, outcome: &Outcome) -> Markup {
    let about = &design.about;
    let date = about.date.trim();
    let notes = about.notes.trim();
    html! {
        header.sheet-heading {
            div.sheet-title {
                p.sheet-kind { "Build sheet" }
                h1 { (name(design)) }
                p.sheet-summary { (summary(design, outcome)) }
            }
            dl.sheet-signature {
                div { dt { "Date of the design" } dd { (if date.is_empty() { "not stated" } else { date }) } }
                div.sheet-blank { dt { "Checked by" } dd {} }
                div.sheet-blank { dt { "Date" } dd {} }
            }
        }
        @if !notes.is_empty() && is_short(notes) { p.sheet-notes { (notes) } }
    }
}

/// Whether notes have room in the heading.
pub fn is_short(notes: &str) -> bool {
    notes.chars().count() <= SHORT && notes.lines().count() <= 4
}

/// The whole of it in a line.
fn summary(design: &Design, outcome: &Outcome) -> String {
    let stages = match design.stages.len() {
        0 => "No stage: the path is a wire".to_owned(),
        1 => "One stage".to_owned(),
        count => format!("Path of {count} stages"),
    };
    let mut told = vec![stages];
    if design.servo.has_plant() {
        told.push("loop with a plant".to_owned());
    }
    if let Some(spread) = &outcome.spread {
        told.push(format!(
            "yield {} of {} boards",
            per_cent(spread.of_all_stages().fraction),
            spread.boards
        ));
    }
    told.join(", ") + "."
}
