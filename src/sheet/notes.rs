//! The user's own words, as far as they have no room in the heading: notes, and the log of the bench.

use maud::{Markup, html};

use super::heading::is_short;
use crate::design::Design;

/// Nothing where nothing was written.
pub fn notes(design: &Design) -> Markup {
    let about = &design.about;
    let notes = Some(about.notes.trim()).filter(|notes| !is_short(notes));
    let log = about
        .log
        .iter()
        .filter(|entry| !entry.change.trim().is_empty() || !entry.date.trim().is_empty());
    let log: Vec<_> = log.collect();
    html! {
        @if let Some(notes) = notes {
            h2 { "Notes" }
            p.sheet-notes { (notes) }
        }
        @if !log.is_empty() {
            h2 { "Bench log" }
            table.sheet-log {
                thead { tr { th scope="col" { "Date" } th scope="col" { "Change" } } }
                tbody {
                    @for entry in log { tr { td { (entry.date) } td { (entry.change) } } }
                }
            }
        }
    }
}
