//! The design as somebody's document: the way back, files, what leaves the page, and words about it.

mod about;
pub mod download;
pub(super) mod export;
mod files;
pub(super) mod kept;
pub(super) mod steps;
mod store;

use crate::page::prelude::*;

use super::desk::Desk;
use super::sheet::Print;

/// The row below the page's name.
#[component]
pub fn Document() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let name = memo(move || {
        desk.design.with(|design| match design.about.name.trim() {
            "" => "Design without a name".to_owned(),
            name => name.to_owned(),
        })
    });
    Effect::new(move || {
        let title = name.get();
        let is_named = desk.design.with(|design| !design.about.is_empty());
        document().set_title(&match is_named {
            true => format!("{title} · polewright"),
            false => "polewright".to_owned(),
        });
    });
    view! {
        <section class="document" aria-label="Design">
            <div class="buttons">
                <steps::Steps />
                <files::Files />
                <Print />
                <files::LongLink />
            </div>
            <details class="about">
                <summary><span class="design-name">{name}</span>": name, notes, log"</summary>
                {later(|| view! { <about::About /> }.into_node())}
            </details>
            <export::Export />
            <kept::Kept />
        </section>
    }
}
