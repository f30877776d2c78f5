//! Words about the design, and the log of what was changed on the bench.

use crate::page::prelude::*;

use crate::design::{About as Words, Group, LogEntry};
use crate::page::desk::Desk;
use crate::page::field::Fields;

/// Name, notes, date, and the log.
#[component]
pub fn About() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let entries = memo(move || desk.design.with(|design| design.about.log.len()));
    let add = move |_| {
        desk.edit_about(|about| {
            let date = String::from(js_sys::Date::new_0().to_iso_string());
            about.log.push(LogEntry {
                date: date.chars().take(10).collect(),
                change: String::new(),
            });
        });
    };
    let log = move || {
        let entry = |place: usize| {
            let take_out = move |_| {
                desk.edit_about(|about| {
                    about.log.remove(place);
                });
            };
            view! {
                <li>
                    <div><Fields fields=desk.group(Group::LogEntry(place)) /></div>
                    <button type="button" aria-label=format!("Take change {} out of the log", place + 1) on:click=take_out>"Remove"</button>
                </li>
            }
        };
        (0..entries.get()).map(entry).collect_nodes()
    };
    let is_full = move || (entries.get() >= Words::ENTRIES).then_some("true");
    view! {
        <div class="about-grid">
            <div><Fields fields=desk.group(Group::About) /></div>
            <div>
                <h3>"Log of the board"</h3>
                <ol class="log">{log}</ol>
                <button type="button" disabled=is_full on:click=add>"Add a change"</button>
            </div>
        </div>
    }
}
