//! The best picks side by side, and taking one.

use crate::page::prelude::*;
use leptos::ev::KeyboardEvent;
use serde_json::Value;
use wasm_bindgen::JsCast;
use web_sys::HtmlElement;

use super::desk::Desk;
use super::field::Fields;
use crate::design::Group;
use crate::outcome::StageOutcome;
use crate::quantity::{Unit, exact, rounded};
use crate::wording::estimate;

/// One line of the table, as text.
#[derive(Clone, Debug, Default, PartialEq)]
struct Line {
    values: Vec<String>,
    share: String,
    miss: String,
    trade: String,
    taken: bool,
}

fn line(stage: &StageOutcome, index: usize) -> Option<Line> {
    let pick = stage.picks.get(index)?;
    let value = |(&value, part): (&f64, &crate::outcome::PartOutcome)| {
        exact(value, part.unit).replace([' ', 'Ω', 'F'], "")
    };
    Some(Line {
        values: pick.values.iter().zip(&stage.parts).map(value).collect(),
        share: estimate(pick.share),
        miss: match pick.miss.is_finite() {
            true => rounded(pick.miss, Unit::Percent, 2),
            false => "cannot be read".to_owned(),
        },
        trade: pick.trade.clone(),
        taken: index == stage.choice,
    })
}

#[component]
pub fn Picks() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let names = memo(move || {
        desk.stage.with(|stage| {
            let parts = stage
                .as_ref()
                .map(|s| s.parts.iter().map(|p| p.name.clone()).collect::<Vec<_>>());
            parts.unwrap_or_default()
        })
    });
    let count = memo(move || {
        desk.stage
            .with(|stage| stage.as_ref().map_or(0, |s| s.picks.len()))
    });
    let heads = move || {
        let heads = names
            .get()
            .into_iter()
            .map(|name| view! { <th scope="col" class="number">{name}</th> });
        heads.collect_nodes()
    };
    let taken = memo(move || {
        desk.stage
            .with(|stage| stage.as_ref().map_or(0, |stage| stage.choice))
    });
    // One stop of the Tab key for all sets: the one in use, or the first.
    let stop = memo(move || {
        if taken.get() < count.get() {
            taken.get()
        } else {
            0
        }
    });
    let rows = move || {
        let columns = names.with(Vec::len);
        (0..count.get())
            .map(|index| view! { <Row index columns stop /> })
            .collect_nodes()
    };
    view! {
        <section class="picks" aria-labelledby="picks-title">
            <h2 id="picks-title">"Picks"</h2>
            <div class="prefer">
                {move || view! { <Fields fields=desk.group(Group::Picks(desk.form.get().stage)) /> }}
                <p class="secondary">
                    "Arrow keys go from set to set. Sets that hold every limit with nominal parts come first, by estimated yield in steps of 2 percentage points. "
                    "Then few different values, values inside the preferred range (2 kΩ to 100 kΩ, 1 nF to 22 nF; common practice) and \
                     close together, and a small deviation."
                </p>
            </div>
            <div class="scroll" tabindex="0" role="region" aria-label="Next-best picks">
                <table style:--columns=move || names.with(Vec::len).to_string()>
                    <thead>
                        <tr>
                            <th scope="col"></th>
                            {heads}
                            <th
                                scope="col"
                                class="number"
                                title="Share of boards that hold every limit, estimated from the parts' tolerances"
                            >
                                "Yield, estimated"
                            </th>
                            <th scope="col" class="number" title="Largest deviation as a share of its limit">"Deviation / limit"</th>
                            <th scope="col" class="trade">"Compared with the first"</th>
                        </tr>
                    </thead>
                    <tbody on:keydown=walk>{rows}</tbody>
                </table>
            </div>
        </section>
    }
}

/// Arrow keys go from set to set, Home and End to the first and the last one.
fn walk(event: KeyboardEvent) {
    let Some(now) = document().active_element() else {
        return;
    };
    let Some(list) = now.closest("tbody").ok().flatten() else {
        return;
    };
    let Ok(buttons) = list.query_selector_all("button") else {
        return;
    };
    let last = buttons.length().saturating_sub(1);
    let own = (0..=last).find(|at| buttons.get(*at).is_some_and(|button| button == *now));
    let Some(own) = own else { return };
    let next = match event.key().as_str() {
        "ArrowDown" => (own + 1).min(last),
        "ArrowUp" => own.saturating_sub(1),
        "Home" => 0,
        "End" => last,
        _ => return,
    };
    event.prevent_default();
    let next = buttons.get(next);
    if let Some(next) = next.and_then(|node| node.dyn_into::<HtmlElement>().ok()) {
        let _ = next.focus();
    }
}

#[component]
fn Row(index: usize, columns: usize, stop: Derived<usize>) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let line = memo(move || {
        desk.stage.with(|stage| {
            stage
                .as_ref()
                .and_then(|stage| line(stage, index))
                .unwrap_or_default()
        })
    });
    let taken = move || line.with(|line| line.taken);
    let take = move |_| {
        let shown = desk.design.with_untracked(|d| d.view.stage);
        let path = format!("/stages/{shown}/choice");
        let taken = desk
            .design
            .with_untracked(|d| d.with(&path, Value::from(index)));
        if let Ok(design) = taken {
            desk.put(design);
        }
    };
    let cells = (0..columns)
        .map(|column| {
            let value = move || line.with(|line| line.values.get(column).cloned());
            view! { <td class="number">{value}</td> }
        })
        .collect_nodes();
    view! {
        <tr class:in-use=taken>
            <td>
                <button
                    type="button"
                    tabindex=move || if stop.get() == index { "0" } else { "-1" }
                    aria-pressed=move || taken().to_string()
                    on:click=take
                >
                    {move || if taken() { "In use".to_owned() } else { format!("Use {}", index + 1) }}
                </button>
            </td>
            {cells}
            <td class="number">{move || line.with(|line| line.share.clone())}</td>
            <td class="number">{move || line.with(|line| line.miss.clone())}</td>
            <td class="trade">{move || line.with(|line| line.trade.clone())}</td>
        </tr>
    }
}
