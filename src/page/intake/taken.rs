//! What was read of each text, what is wrong with it, and whose the design's is.

use crate::page::prelude::*;

use super::reading;
use super::source::{Read, Source, Standing, Taken};

/// Bad rows that are listed.
const LISTED: usize = 8;

/// All texts one after the other.
#[component]
pub fn TakenTexts(
    source: Source,
    /// What the design still has where it is not what the texts say; none where it has nothing.
    before: Derived<Option<&'static str>>,
) -> impl IntoView {
    let standing = move || {
        let before = before
            .get()
            .filter(|_| source.standing.get() == Standing::Before)?;
        let why = if source.taken.with(Vec::is_empty) {
            "the text field is empty, and no other text was read."
        } else {
            "it is not what the text here says."
        };
        Some(
            view! { <p class="problem" role="status" data-standing="before">{format!("{before}: {why}")}</p> },
        )
    };
    let texts = move || {
        let taken = source.taken.get();
        let is_one = taken.len() == 1;
        taken
            .iter()
            .enumerate()
            .map(|(at, taken)| one(source, at, taken, is_one))
            .collect_nodes()
    };
    let notes = move || {
        let notes = source.notes.get();
        let lines = notes.into_iter().map(|note| view! { <li>{note}</li> });
        view! { <ul class="notes">{lines.collect_nodes()}</ul> }
    };
    view! {
        {standing}
        {notes}
        {texts}
    }
}

fn one(source: Source, at: usize, taken: &Taken, is_one: bool) -> impl Content + use<> {
    let heading = (!is_one).then(|| view! { <h4>{taken.name.clone()}</h4> });
    let leave_out = (!is_one).then(|| {
        view! {
            <p class="buttons">
                <button type="button" on:click=move |_| source.leave_out(at)>
                    {format!("Exclude {}", taken.name)}
                </button>
            </p>
        }
    });
    let told = match &taken.reading {
        Read::Awaited => {
            view! { <p class="secondary" role="status">"Being read …"</p> }.into_node()
        }
        Read::Lost => view! {
            <div class="problem" role="alert">
                <p>"Not read: the part that computes was stopped, or failed, before it had read this."</p>
                <button type="button" on:click=move |_| source.again(at)>"Read it again"</button>
            </div>
        }
        .into_node(),
        Read::NoText(sentence) => {
            view! { <p class="problem" role="alert">{sentence.clone()}</p> }.into_node()
        }
        Read::Table(found) => {
            let columns = found.columns;
            let error = found.error.clone().map(|error| {
                let as_shown = found.doubt.then(|| {
                    view! {
                        <button type="button" on:click=move |_| source.correct(at, columns)>
                            "Read it as shown below"
                        </button>
                    }
                });
                view! { <div class="problem" role="alert"><p>{error}</p>{as_shown}</div> }
            });
            let bad = (found.bad_rows > 0).then(|| {
                let listed = found.bad.iter().take(LISTED);
                let rows = listed
                    .map(|bad| view! { <li>{format!("Line {}: {} ", bad.line, bad.reason)}<code>{bad.text.clone()}</code></li> })
                    .collect_nodes();
                let count = rows_of(found.bad_rows);
                view! {
                    <div class="problem" role="alert">
                        <p>{format!("{count} cannot be read:")}</p>
                        <ul>{rows}</ul>
                        <button type="button" on:click=move |_| source.skip(at)>
                            {format!("Exclude {count}")}
                        </button>
                    </div>
                }
            });
            let mut lines = vec![format!("{}.", rows_of(found.rows))];
            lines.extend(found.notes.iter().cloned());
            let lines = lines.into_iter().map(|line| view! { <li>{line}</li> });
            view! {
                {error}
                {bad}
                <ul class="notes">{lines.collect_nodes()}</ul>
                {reading::told(found, (source.intake, at), move |columns| source.correct(at, columns))}
            }
            .into_node()
        }
    };
    view! { {heading} {told} {leave_out} }
}

fn rows_of(count: usize) -> String {
    if count == 1 {
        "1 row".to_owned()
    } else {
        format!("{count} rows")
    }
}
