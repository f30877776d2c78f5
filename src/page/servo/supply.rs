//! Supply lines: the converters, the lines that fall on modes, switching frequencies that are free of them, and a
//! picture of both over frequency.

use std::sync::Arc;

use crate::numerics::put_in_order;
use crate::page::prelude::*;

use crate::design::{Group, PlantUnits, with_unit};
use crate::outcome::{SupplyHit, SupplyOutcome};
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::page::panel::{Panel, Reading};
use crate::page::parts::figure_text;
use crate::plots::{Chart, supply_lines};
use crate::quantity::{Unit, rounded};
use crate::sheet::cautions;
use crate::supply::{Converter, Source, Supply};

/// Rows of the table: the loudest.
const MOST_ROWS: usize = 12;
/// Lines named in a row.
const MOST_NAMED: usize = 6;
/// Free bands told for a converter: the widest.
const MOST_FREE: usize = 8;

#[component]
pub fn SupplyLines() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let form = memo(move || desk.form.with(|form| form.supply.clone()));
    let is_there = move || form.with(|form| !form.is_empty());
    let converters = move || {
        form.get()
            .into_iter()
            .enumerate()
            .map(|(index, toggles)| view! { <OneConverter index toggles /> })
            .collect_nodes()
    };
    let orders = move || {
        is_there()
            .then(|| view! { <div class="row"><Fields fields=desk.group(Group::Supply) /></div> })
    };
    let add = move |_| desk.edit_plant(|servo| Supply::add(&mut servo.supply));
    view! {
        <details class="supply">
            <summary>"Supply lines: switching frequencies and the modes"</summary>
            <div class="places">{converters}</div>
            <p class="buttons">
                <button type="button" disabled=move || form.with(|form| form.len() >= Supply::MOST) on:click=add>
                    "Add a converter"
                </button>
            </p>
            {orders}
            <Show when=is_there>
                <p class="caution" role="note">{cautions::SUPPLY}</p>
                <LinesOverFrequency />
                <Told />
            </Show>
        </details>
    }
}

/// The entries of one converter.
#[component]
fn OneConverter(index: usize, toggles: (bool, bool)) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let edit = move |change: &dyn Fn(&mut Converter)| {
        desk.edit_plant(|servo| {
            let supply = servo.supply.as_mut();
            if let Some(converter) = supply.and_then(|s| s.converters.get_mut(index)) {
                change(converter);
            }
        });
    };
    let name = memo(move || {
        desk.design.with(|design| {
            let supply = design.servo.supply.as_ref();
            supply.and_then(|s| Some(s.converters.get(index)?.name.clone()))
        })
    });
    let rename = move |event| {
        let name = event_target_value(&event);
        edit(&|converter| converter.name = name.clone());
    };
    let remove = move |_| desk.edit_plant(|servo| Supply::remove(&mut servo.supply, index));
    let number = index + 1;
    let id = format!("converter-name-{number}");
    view! {
        <div class="place">
            <form class="field" autocomplete="off" method="dialog">
                <label for=id.clone()>{format!("Converter {number} name")}</label>
                <input
                    id=id
                    type="text"
                    maxlength="40"
                    spellcheck="false"
                    placeholder="its rail"
                    prop:value=move || name.get().unwrap_or_default()
                    on:change=rename
                />
            </form>
            <Fields fields=desk.group(Group::Converter(index)) />
            <p class="buttons">
                <button
                    type="button"
                    aria-pressed=toggles.0.to_string()
                    aria-label=format!("Bursts at light load, converter {number}")
                    on:click=move |_| edit(&Converter::toggle_burst)
                >
                    "Bursts at light load"
                </button>
                <button
                    type="button"
                    aria-pressed=toggles.1.to_string()
                    aria-label=format!("Spread spectrum, converter {number}")
                    on:click=move |_| edit(&Converter::toggle_spread)
                >
                    "Spread spectrum"
                </button>
                <button type="button" aria-label=format!("Remove converter {number}") on:click=remove>"×"</button>
            </p>
        </div>
    }
}

/// Sentences, the table of lines on modes, and the free bands.
#[component]
fn Told() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let has_model = memo(move || {
        desk.servo.with(|servo| {
            let plant = servo.as_ref().map(|servo| &servo.plant);
            plant.is_none_or(|plant| plant.model.is_some())
        })
    });
    let asked = memo(move || desk.design.with(|design| design.servo.supply.clone()));
    let units = memo(move || desk.units());
    let drawn = move || {
        if !has_model.get() {
            let why = "There is no model of the plant, so that its modes are not known.";
            return view! { <p class="problem" role="alert">{why}</p> }.into_node();
        }
        let found = asked.get().zip(desk.supply.get());
        let Some((supply, found)) = found.filter(|(s, f)| s.converters.len() == f.free.len())
        else {
            return Node::Nothing;
        };
        let notes = found
            .told
            .iter()
            .map(|line| view! { <li>{line.clone()}</li> });
        let notes = notes.collect_nodes();
        let count = found.hits.len().to_string();
        view! {
            <ul class="notes" data-figure="supply-hits" data-value=count>{notes}</ul>
            {table(&supply, &found, &units.get())}
            {free(&supply, &found)}
        }
        .into_node()
    };
    drawn.into_node()
}

/// Lines of one kind, of the same converters, on the same mode; the loudest first.
fn groups(hits: &[SupplyHit]) -> Vec<Vec<&SupplyHit>> {
    let key = |hit: &SupplyHit| {
        let source = hit.hit.line.source;
        (hit.hit.mode, kind(source), source.converters())
    };
    let mut groups: Vec<Vec<&SupplyHit>> = Vec::new();
    for hit in hits {
        match groups.iter_mut().find(|group| key(group[0]) == key(hit)) {
            Some(group) => group.push(hit),
            None => groups.push(vec![hit]),
        }
    }
    groups
}

fn kind(source: Source) -> &'static str {
    match source {
        Source::Harmonic { .. } => "harmonics",
        Source::Subharmonic { .. } => "subharmonics",
        Source::Burst { .. } => "bursts",
        Source::Modulation { .. } => "modulation",
        Source::Beat { .. } => "beats m : n",
    }
}

/// "3", "3/2", "2 : 1".
fn order(source: Source) -> String {
    match source {
        Source::Harmonic { order, .. }
        | Source::Burst { order, .. }
        | Source::Modulation { order, .. } => order.to_string(),
        Source::Subharmonic { order, divisor, .. } => format!("{order}/{divisor}"),
        Source::Beat { orders, .. } => format!("{} : {}", orders.0, orders.1),
    }
}

fn table(supply: &Supply, found: &SupplyOutcome, units: &PlantUnits) -> impl Content + use<> {
    let groups = groups(&found.hits);
    let left = groups.len().saturating_sub(MOST_ROWS);
    let shown = groups.iter().take(MOST_ROWS).enumerate();
    let rows = shown.map(|(place, group)| row(supply, place, group));
    let rows = rows.collect_nodes();
    let more = (left > 0).then(|| format!("And {left} more rows, weaker by that rule. "));
    let reference = units.reference();
    let measured = one_of_a_line(units);
    (!groups.is_empty()).then(|| {
        view! {
            <div class="scroll" tabindex="0" role="region" aria-label="Lines on modes">
                <table class="modes">
                    <thead>
                        <tr>
                            <th scope="col">"Converter"</th>
                            <th scope="col">"Lines"</th>
                            <th scope="col">"First line at"</th>
                            <th scope="col">"Mode"</th>
                            <th scope="col">"Worst at"</th>
                            <th scope="col">"Path"</th>
                            <th scope="col">{with_unit("Plant".to_owned(), &reference)}</th>
                            <th scope="col">"1/(1 + L)"</th>
                            <th scope="col">{with_unit("Product of all three".to_owned(), &reference)}</th>
                        </tr>
                    </thead>
                    <tbody>{rows}</tbody>
                </table>
            </div>
            <p class="secondary">
                {more}
                "A line on the path's input comes out of the plant by all three gains in a row; one that enters at the drive, as through \
                 an amplifier's supply, does not have the path's. Rows and lines are in the order of that, less 20·lg of the line's order: \
                 harmonics fall about as 1/k, beats as 1/(m·n), a rule of thumb."
                {measured}
            </p>
        }
    })
}

/// One row, of lines of a kind; `place` counts from 0.
fn row(supply: &Supply, place: usize, group: &[&SupplyHit]) -> impl Content + use<> {
    let loudest = group[0];
    let (line, passage) = (loudest.hit.line, loudest.passage);
    let mut named: Vec<String> = group.iter().map(|hit| order(hit.hit.line.source)).collect();
    if named.len() > MOST_NAMED {
        named.truncate(MOST_NAMED);
        named.push("…".to_owned());
    }
    let figure = |name: &str| format!("supply-line-{}-{name}", place + 1);
    let hertz = |value: f64| rounded(value, Unit::Hertz, 3);
    let decibel = |name: &str, value: f64| {
        let text = figure_text(value, Unit::Decibel);
        view! { <td class="number" data-figure=figure(name) data-value=value.to_string()>{text}</td> }
    };
    let sensitivity = match passage.sensitivity_db {
        Some(value) => decibel("sensitivity", value).into_node(),
        None => view! { <td class="number">"—"</td> }.into_node(),
    };
    view! {
        <tr>
            <th scope="row">{supply.names(line.source)}</th>
            <td>{format!("{} {}", kind(line.source), named.join(", "))}</td>
            <td class="number">
                <span data-figure=figure("from") data-value=line.range.0.to_string()>{hertz(line.range.0)}</span>
                " to "
                <span data-figure=figure("to") data-value=line.range.1.to_string()>{hertz(line.range.1)}</span>
            </td>
            <td class="number" data-figure=figure("mode") data-value=(loudest.hit.mode + 1).to_string()>
                {loudest.hit.mode + 1}
            </td>
            <td class="number">{hertz(passage.frequency)}</td>
            {decibel("path", passage.path_db)}
            {decibel("plant", passage.plant_db)}
            {sensitivity}
            {decibel("through", passage.through_db)}
        </tr>
    }
}

/// What 0 dB of all three means, where the plant's output has a unit. The path's stages know volts alone: what drives the
/// plant counts as what they put out.
fn one_of_a_line(units: &PlantUnits) -> Option<String> {
    if units.output.is_empty() {
        return None;
    }
    let input = with_unit("1".to_owned(), &units.input);
    let output = &units.output;
    let volt = if matches!(units.input.as_str(), "" | "V") {
        String::new()
    } else {
        format!(", 1 V at the path's output standing for {input}")
    };
    Some(format!(
        " At 0 dB a line of 1 V moves the plant by 1 {output}{volt}."
    ))
}

fn free(supply: &Supply, found: &SupplyOutcome) -> impl Content + use<> {
    let hertz = |value: f64| rounded(value, Unit::Hertz, 4);
    let of_one = |(converter, bands): (usize, &Vec<(f64, f64)>)| {
        let mut widest: Vec<(f64, f64)> = bands.clone();
        put_in_order(&mut widest, |a, b| (b.1 / b.0).total_cmp(&(a.1 / a.0)));
        widest.truncate(MOST_FREE);
        put_in_order(&mut widest, |a, b| a.0.total_cmp(&b.0));
        let left = bands.len() - widest.len();
        let band = |(place, (from, to)): (usize, (f64, f64))| {
            let figure = |end| format!("supply-free-{}-{}-{end}", converter + 1, place + 1);
            view! {
                {(place > 0).then_some(", ")}
                <span data-figure=figure("from") data-value=from.to_string()>{hertz(from)}</span>
                " to "
                <span data-figure=figure("to") data-value=to.to_string()>{hertz(to)}</span>
            }
        };
        let list = widest.into_iter().enumerate().map(band).collect_nodes();
        let now = supply.converters.get(converter).map(|c| c.frequency);
        let is_free = now.is_some_and(|f| bands.iter().any(|b| b.0 < f && f < b.1));
        let ends = match (bands.is_empty(), left, is_free) {
            (true, ..) => "none in this range.".to_owned(),
            (_, 0, true) => ". It lies in one of them.".to_owned(),
            (_, 0, false) => ". It lies in none of them.".to_owned(),
            (_, n, true) => format!(" and {n} narrower. It lies in one of them."),
            (_, n, false) => format!(" and {n} narrower. It lies in none of them."),
        };
        view! { <li><strong>{supply.name(converter)}</strong>": " {list} {ends}</li> }
    };
    let items = found.free.iter().enumerate().map(of_one).collect_nodes();
    view! {
        <h3>"Free switching frequencies"</h3>
        <ul class="notes">{items}</ul>
        <p class="secondary">
            "As entered: with its whole tolerance no harmonic, subharmonic or beat of that converter then falls on a mode, the others as they \
             are. Bursts and the modulation do not move with it. A tighter tolerance leaves more; so does one clock for all, which removes beats."
        </p>
    }
}

/// Modes' bands shaded, lines as strokes from where to where they may lie.
#[component]
fn LinesOverFrequency() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = memo(move || {
        desk.supply
            .with(|found| supply_lines(found.as_ref()?).map(Arc::new))
    });
    view! {
        <Panel
            title=Chart::SupplyLines.title()
            note=Chart::SupplyLines.note()
            file=Chart::SupplyLines.name() legend=Chart::SupplyLines.legend()
            plot=drawn
            reading=Reading {
                along: Along::Frequency,
                place: desk.cursor,
                text: None,
                unit: None,
            }
        />
    }
}
