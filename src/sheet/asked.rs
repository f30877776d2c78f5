//! What is asked of one stage.

use maud::{Markup, html};

use super::entries::{Entries, listed};
use crate::design::Group;

/// What is asked of the stage at this place, and how far it may stray.
pub fn asked(entries: &Entries, index: usize) -> Markup {
    let of = |wanted: Group| listed(entries.within(move |group| *group == wanted));
    html! {
        div.sheet-asked {
            section { h3 { "Required" } (of(Group::Ask(index))) }
            section { h3 { "Limits" } (of(Group::Limits(index))) }
        }
    }
}
