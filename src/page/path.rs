//! The path: its stages as a strip of cards, and the whole of it where it is more than one stage.

use std::cmp::Ordering;

use crate::page::prelude::*;

use super::curves::{Charts, Source};
use super::desk::Desk;
use super::fragment;
use super::spread::per_cent;
use crate::design::{Design, MOST_STAGES, StageDesign};
use crate::outcome::{Least, Loading, Purchase, StageOutcome};
use crate::quantity::{Unit, exact, rounded};
use crate::stages::{CATALOGUED, catalogued};
use crate::wording::in_stage;

/// The stages in signal order, a card each; one of them is shown.
#[component]
pub fn Strip() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let cards = move || {
        let form = desk.form.get();
        let last = form.circuits.len().saturating_sub(1);
        let card = |(index, circuit): (usize, &String)| {
            let title = catalogued(circuit).map_or("no such circuit", |stage| stage.title());
            view! { <Card index last title shown=index == form.stage /> }
        };
        form.circuits.iter().enumerate().map(card).collect_nodes()
    };
    let has_stage = desk.has_stage();
    let wire = move || (!has_stage.get()).then(|| view! { <span class="wire">"a wire"</span> });
    let sign = move || {
        let path = desk.path.get()?;
        let inverts = path.sign < 0;
        let words = if inverts {
            "the path inverts"
        } else {
            "the path does not invert"
        };
        Some(view! {
            <span class="sign" data-figure="path-sign" data-value=path.sign.to_string()>{words}</span>
        })
    };
    view! {
        <nav class="path" id="path" aria-label="Path">
            <span class="end">"in"</span>
            <ol>{cards}</ol>
            {wire}
            <span class="end">"out"</span>
            {sign}
            <Adding />
        </nav>
    }
}

/// What is asked of a stage, shortly; lines end between its numbers only.
fn brief(stage: &StageOutcome) -> String {
    let asked = stage.figures.iter().filter_map(|figure| {
        let wanted = rounded(figure.wanted?, figure.unit, 4);
        let words = match figure.unit {
            Unit::One => format!("Q {wanted}"),
            _ => wanted,
        };
        Some(words.replace(' ', "\u{a0}"))
    });
    asked.take(3).collect::<Vec<_>>().join(" · ")
}

#[component]
fn Card(index: usize, last: usize, title: &'static str, shown: bool) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let found = memo(move || {
        desk.stages.with(|stages| {
            let stage = stages.get(index)?;
            let sign = if stage.sign < 0 {
                "inverts"
            } else {
                "does not invert"
            };
            Some((brief(stage), sign))
        })
    });
    let asked = move || found.with(|found| found.as_ref().map(|(brief, _)| brief.clone()));
    let sign = move || found.with(|found| found.as_ref().map(|(_, sign)| *sign));
    let show = move |_| desk.edit_path(|design| design.view.stage = index);
    let swap = move |with: usize| {
        let edit = |design: &mut Design| {
            design.stages.swap(index, with);
            design.view.stage = with;
        };
        desk.move_stages(edit, |place| match place {
            place if place == index => Some(with),
            place if place == with => Some(index),
            place => Some(place),
        });
    };
    let remove = move |_| {
        let edit = |design: &mut Design| {
            design.stages.remove(index);
        };
        let to = |place: usize| match place.cmp(&index) {
            Ordering::Less => Some(place),
            Ordering::Equal => None,
            Ordering::Greater => Some(place - 1),
        };
        fragment::step(desk, || desk.move_stages(edit, to));
    };
    let unread = move || {
        (!shown && desk.has_unread(index))
            .then(|| view! { <span class="unread">"an entry is not valid"</span> })
    };
    let moves = (last > 0).then(|| {
        view! {
            <button
                type="button"
                aria-label="Move this stage earlier"
                disabled=index == 0
                on:click=move |_| swap(index.saturating_sub(1))
            >
                "‹"
            </button>
            <button
                type="button"
                aria-label="Move this stage later"
                disabled=index == last
                on:click=move |_| swap((index + 1).min(last))
            >
                "›"
            </button>
        }
    });
    let tools = shown.then(|| {
        view! {
            <span class="tools">
                {moves}
                <button type="button" aria-label="Remove this stage" on:click=remove>"×"</button>
            </span>
        }
    });
    view! {
        <li class="card" aria-current=shown.then_some("true")>
            <button type="button" class="show" on:click=show aria-pressed=shown.to_string()>
                <span class="place">{index + 1}</span>
                " "
                <span class="title">{title}</span>
                " "
                <span class="asked">{asked}</span>
                " "
                <span class="sign" title="sign of the passband gain">{sign}</span>
                {unread}
            </button>
            {tools}
        </li>
    }
}

/// Puts another stage behind the shown one, or the first one in an empty path.
#[component]
fn Adding() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let mut families: Vec<(&str, Vec<(&str, &str)>)> = Vec::new();
    for stage in CATALOGUED {
        let family = stage.default_ask().family();
        let entry = (stage.id(), stage.title());
        match families.iter_mut().find(|(name, _)| *name == family) {
            Some((_, stages)) => stages.push(entry),
            None => families.push((family, vec![entry])),
        }
    }
    let groups = families
        .into_iter()
        .map(|(family, stages)| {
            let options = stages
                .into_iter()
                .map(|(id, title)| view! { <option value=id>{title}</option> })
                .collect_nodes();
            view! { <optgroup label=family>{options}</optgroup> }
        })
        .collect_nodes();
    let add = move |event: leptos::ev::Event| {
        let id = event_target_value(&event);
        if let Some(stage) = catalogued(&id) {
            let place = desk.design.with_untracked(|design| {
                let after_shown = design.view.stage + 1;
                after_shown.min(design.stages.len())
            });
            let added = StageDesign {
                circuit: id,
                ask: stage.default_ask(),
                ..StageDesign::default()
            };
            let edit = |design: &mut Design| {
                design.stages.insert(place, added);
                design.view.stage = place;
            };
            desk.move_stages(edit, |own| Some(if own < place { own } else { own + 1 }));
        }
        // Ready for the next one.
        if let Some(select) = event.target() {
            let _ = js_sys::Reflect::set(&select, &"value".into(), &"".into());
        }
    };
    let is_full = move || desk.form.with(|form| form.circuits.len() >= MOST_STAGES);
    view! {
        <span class="adding">
            <label for="add-stage">"Add a stage"</label>
            <select id="add-stage" disabled=is_full on:change=add>
                <option value="">"choose …"</option>
                {groups}
            </select>
            <Show when=is_full>
                <span class="secondary">{format!("A path holds {MOST_STAGES} stages at most.")}</span>
            </Show>
        </span>
    }
}

/// The whole path: its curves, its yield, and what its product leaves out.
#[component]
pub fn Whole() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let several = memo(move || desk.form.with(|form| form.circuits.len() > 1));
    let share = move || {
        desk.spread.with(|spread| {
            let path = spread.as_ref()?.path.as_ref()?;
            let y = &path.share;
            let each: Vec<String> = path.stages.iter().map(|share| per_cent(*share)).collect();
            Some(view! {
                <p class="yield">
                    <span class="figure" data-figure="path-yield" data-value=y.fraction.to_string()>
                        {per_cent(y.fraction)}
                    </span>
                    <span class="what">"of boards hold every limit of every stage"</span>
                </p>
                <p class="interval">
                    {format!(
                        "{} to {} with {} confidence ({}); stage by stage {}",
                        per_cent(y.low),
                        per_cent(y.high),
                        per_cent(y.level),
                        y.method,
                        each.join(", "),
                    )}
                </p>
            })
        })
    };
    let loadings = move || {
        desk.path.with(|path| {
            let loadings = path.as_ref().map_or(&[][..], |path| &path.loadings);
            loadings
                .iter()
                .map(|loading| view! { <li class:strong=is_strong(loading)>{words(loading)}</li> })
                .collect_nodes()
        })
    };
    view! {
        <Show when=move || several.get()>
            <section class="whole" aria-labelledby="whole-title" aria-busy=move || (!desk.spread_is_current.get()).to_string()>
                <h2 id="whole-title">"Whole path"</h2>
                <div class="whole-grid">
                    <div class="share">
                        {share}
                        <Buy />
                        <h3>"Loading between stages"</h3>
                        <ul class="loadings">{loadings}</ul>
                        <p class="secondary">
                            "The path's response is the product of its stages'. What a stage's output resistance and the next one's \
                             input impedance change is left out of the curves and the spread; how much that is, computed with both \
                             circuits joined, stands above."
                        </p>
                    </div>
                    <div class="path-curves">
                        <Charts source=Source::Path />
                    </div>
                </div>
            </section>
        </Show>
    }
}

/// What one board takes.
#[component]
fn Buy() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let rows = move || {
        desk.path.with(|path| {
            let list = path.as_ref().map_or(&[][..], |path| &path.buy);
            let row = |purchase: &Purchase| {
                let places: Vec<String> = purchase
                    .places
                    .iter()
                    .map(|(stage, name)| in_stage(true, *stage, name))
                    .collect();
                view! {
                    <tr>
                        <th scope="row" class="number bought">{exact(purchase.value, purchase.unit)}</th>
                        <td class="number">{purchase.places.len()}</td>
                        <td>{places.join(" ")}</td>
                    </tr>
                }
            };
            list.iter().map(row).collect_nodes()
        })
    };
    let op_amps = move || {
        desk.path
            .with(|path| path.as_ref().map_or(0, |path| path.op_amps))
    };
    // Where the design names several.
    let named = move || {
        let kinds = desk
            .demands
            .with(|found| found.as_ref().map(|found| found.least()));
        let kinds = kinds.unwrap_or_default();
        if kinds.len() < 2 {
            return Node::Nothing;
        }
        let row = |kind: &Least| {
            let places = kind.places.iter();
            let places: Vec<String> = places
                .map(|(stage, name)| in_stage(true, *stage, name))
                .collect();
            let name = match kind.sheet.is_empty() {
                true => "of these the usual one".to_owned(),
                false => format!("of these {}", kind.sheet),
            };
            view! {
                <tr>
                    <th scope="row" class="number">{name}</th>
                    <td class="number">{kind.places.len()}</td>
                    <td>{places.join(" ")}</td>
                </tr>
            }
        };
        kinds.iter().map(row).collect_nodes()
    };
    view! {
        <table class="buy">
            <caption>"Bill of materials for one board"</caption>
            <thead>
                <tr>
                    <th scope="col" class="number">"Value"</th>
                    <th scope="col" class="number">"Quantity"</th>
                    <th scope="col">"Stage·part"</th>
                </tr>
            </thead>
            <tbody>
                {rows}
                <tr>
                    <th scope="row" class="number">"Op amp"</th>
                    <td class="number" data-figure="path-op-amps" data-value=op_amps>{op_amps}</td>
                    <td></td>
                </tr>
                {named}
            </tbody>
        </table>
    }
}

/// Worth an amplifier in between.
fn is_strong(loading: &Loading) -> bool {
    loading.decibel > 0.2 || loading.degrees > 2.0
}

fn words(loading: &Loading) -> String {
    let change = format!(
        "{} to {}: at most {:.2} dB and {:.2}°",
        loading.stage + 1,
        loading.stage + 2,
        loading.decibel,
        loading.degrees
    );
    if is_strong(loading) {
        format!("{change}, too much to leave out: put a follower between them")
    } else {
        format!("{change}, small because an op amp with loop gain drives the next stage")
    }
}
