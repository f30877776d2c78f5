//! The first build, step by step.

use crate::page::prelude::*;

use crate::sheet::cautions;
use crate::sheet::guide::{TOPICS, Topic};

#[component]
pub fn FirstBuild() -> impl IntoView {
    let topic = |topic: &Topic| {
        let facts = topic.facts.iter();
        let facts = facts.map(|fact| view! { <li>{*fact}</li> }).collect_nodes();
        view! {
            <div class="place">
                <h3>{topic.title}</h3>
                <ol>{facts}</ol>
                <p class="secondary">{topic.source}</p>
            </div>
        }
    };
    let topics = TOPICS.iter().map(topic).collect_nodes();
    view! {
        <details class="first-build" id="first-build">
            <summary>"First build: in which order, and what goes wrong where"</summary>
            <p class="caution" role="note">{cautions::LOOP}</p>
            <div class="places">{topics}</div>
        </details>
    }
}
