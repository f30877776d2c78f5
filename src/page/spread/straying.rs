//! How parts stray: by kind, by package, and part by part.

use crate::page::prelude::*;

use crate::design::{Field, Group, Network};
use crate::page::desk::Desk;
use crate::page::field::{Fields, Input};

#[component]
pub fn Straying() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let kind = |title: &'static str, group: Group| {
        let fields = move || {
            desk.form.with(|form| form.spread.clone());
            view! { <Fields fields=desk.group(group) /> }
        };
        view! { <div class="place"><h3>{title}</h3>{fields}</div> }
    };
    let networks = move || {
        let count = desk.form.with(|form| form.spread.networks);
        let one = |index: usize| {
            let remove = move |_| {
                desk.edit_path(|design| {
                    design.spread.networks.remove(index);
                    for part in design
                        .stages
                        .iter_mut()
                        .flat_map(|s| s.variations.values_mut())
                    {
                        part.network = match part.network {
                            Some(number) if number == index + 1 => None,
                            Some(number) if number > index + 1 => Some(number - 1),
                            other => other,
                        };
                    }
                });
            };
            view! {
                <div class="place">
                    <h3>{format!("Network {}", index + 1)}</h3>
                    <Fields fields=desk.group(Group::Network(index)) />
                    <p class="buttons">
                        <button type="button" aria-label=format!("Remove network {}", index + 1) on:click=remove>"×"</button>
                    </p>
                </div>
            }
        };
        (0..count).map(one).collect_nodes()
    };
    let add = move |_| desk.edit_path(|design| design.spread.networks.push(Network::default()));
    view! {
        <details class="part-variation">
            <summary>"Part variation: distributions, lots, networks, ageing, op amps, single parts"</summary>
            <div class="places">
                {kind("Resistors", Group::ResistorSpread)}
                {kind("Capacitors", Group::CapacitorSpread)}
                {kind("Op amps", Group::OpAmpSpread)}
                {networks}
            </div>
            <p class="buttons">
                <button type="button" on:click=add>"Add a network of matched parts"</button>
            </p>
            <p class="secondary">
                "Tolerance and tempco of all resistors or all capacitors are set at the shelf. A network's parts share the deviation of their kind and keep their \
                 ratio; say below which parts are in it."
            </p>
            <Single />
        </details>
    }
}

/// The shown stage's parts, one a row.
#[component]
fn Single() -> impl IntoView {
    let desk = expect_context::<Desk>();
    const COLUMNS: [(&str, &str); 7] = [
        ("tolerance", "Tolerance ±"),
        ("tempco", "Tempco ±"),
        ("ageing", "Ageing ±"),
        ("law", "Distribution"),
        ("sigmas", "Tolerance in sigmas"),
        ("hole", "Tighter grade removed within"),
        ("network", "Network"),
    ];
    let parts = move || -> Vec<(String, Vec<Field>)> {
        let stage = desk.form.with(|form| form.stage);
        let mut parts: Vec<(String, Vec<Field>)> = Vec::new();
        for field in desk.all(|group| matches!(group, Group::PartSpread(of, _) if *of == stage)) {
            let mut words = field.path.rsplit('/');
            let name = words.nth(1).unwrap_or_default().to_owned();
            match parts.last_mut() {
                Some((last, fields)) if *last == name => fields.push(field),
                _ => parts.push((name, vec![field])),
            }
        }
        parts
    };
    let table = move || {
        desk.form.with(|form| form.spread.clone());
        let parts = parts();
        let is_there = |key: &str| {
            let ends = |field: &Field| field.path.ends_with(key);
            parts.iter().any(|(_, fields)| fields.iter().any(ends))
        };
        let columns: Vec<_> = COLUMNS
            .into_iter()
            .filter(|(key, _)| is_there(key))
            .collect();
        let head = columns
            .iter()
            .map(|(_, title)| view! { <th scope="col">{*title}</th> })
            .collect_nodes();
        let row = |(name, fields): (String, Vec<Field>)| {
            let cell = |(key, _): &(&str, &str)| {
                let field = fields
                    .iter()
                    .find(|field| field.path.ends_with(key))
                    .cloned();
                view! { <td>{field.map(|field| view! { <Input field /> })}</td> }
            };
            let cells = columns.iter().map(cell).collect_nodes();
            view! { <tr><th scope="row">{name}</th>{cells}</tr> }
        };
        let rows = parts.into_iter().map(row).collect_nodes();
        view! {
            <table class="single-parts">
                <thead><tr><th scope="col">"Part"</th>{head}</tr></thead>
                <tbody>{rows}</tbody>
            </table>
        }
    };
    view! { <div class="wide-table">{table}</div> }
}
