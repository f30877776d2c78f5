//! A page of the sheet, with what stands above it.

use maud::{Markup, html};

use crate::design::Design;

/// What the design is called.
pub fn name(design: &Design) -> &str {
    match design.about.name.trim() {
        "" => "Design without a name",
        name => name,
    }
}

/// A page that is not the first: `what` is on it.
pub fn page(design: &Design, what: &str, body: Markup) -> Markup {
    html! {
        section.sheet-page {
            p.sheet-running { span { (name(design)) } span { (what) } }
            (body)
        }
    }
}
