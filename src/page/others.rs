//! Other circuits for the shown stage's ask, side by side.

use std::cmp::Ordering;
use std::sync::Arc;

use crate::numerics::put_in_order;
use crate::page::prelude::*;

use super::desk::Desk;
use super::focus;
use super::parts::figure_text;
use super::spread::per_cent;
use crate::outcome::OtherOutcome;
use crate::quantity::{Unit, rounded};

/// A column of the table: its head, what it says, and how rows are put in its order.
#[derive(Clone, Copy)]
struct Column {
    head: &'static str,
    title: &'static str,
    text: fn(&OtherOutcome) -> String,
    /// Smaller is better.
    key: fn(&OtherOutcome) -> f64,
}

const COLUMNS: [Column; 10] = [
    Column {
        head: "Parts",
        title: "Resistors and capacitors",
        text: |row| row.parts.to_string(),
        key: |row| f64::from(row.parts),
    },
    Column {
        head: "Op amps",
        title: "Op amps",
        text: |row| row.op_amps.to_string(),
        key: |row| f64::from(row.op_amps),
    },
    Column {
        head: "Values",
        title: "Distinct values to buy",
        text: |row| row.distinct.to_string(),
        key: |row| f64::from(row.distinct),
    },
    Column {
        head: "Deviation / limit",
        title: "Largest deviation as a share of its limit, parts nominal",
        text: |row| finite(row.miss, |v| rounded(v, Unit::Percent, 2)),
        key: |row| row.miss,
    },
    Column {
        head: "Yield",
        title: "Boards that hold every limit, of as many as the note below says",
        text: |row| finite(row.share, per_cent),
        key: |row| -row.share,
    },
    Column {
        head: "Depth, worst 5 %",
        title: "Attenuation at the required frequency that 95 % of the boards reach",
        text: |row| {
            row.worst_depth_db
                .map_or(String::new(), |v| figure_text(v, Unit::Decibel))
        },
        key: |row| -row.worst_depth_db.unwrap_or(f64::NAN),
    },
    Column {
        head: "Phase cost",
        title: "Phase that it costs at the frequency in “Phase read at”; an inversion is not counted",
        text: |row| finite(row.phase_deg, |v| figure_text(v, Unit::Degree)),
        key: |row| row.phase_deg.abs(),
    },
    Column {
        head: "Required gain-bandwidth",
        title: "Least gain-bandwidth of an op amp with which the requirement can still be met, resistors solved again",
        text: |row| finite(row.gain_bandwidth, |v| rounded(v, Unit::Hertz, 2)),
        key: |row| row.gain_bandwidth,
    },
    Column {
        head: "Noise",
        title: "Noise at its output over the band in “Noise from” and “Noise to”, rms, of the best set",
        text: |row| finite(row.noise, |v| rounded(v, Unit::Volt, 3)),
        key: |row| row.noise,
    },
    Column {
        head: "Circuit",
        title: "In the catalogue's order",
        text: |_| String::new(),
        key: |_| 0.0,
    },
];

/// Rows stand as in the catalogue until a head is pressed.
const CATALOGUE_ORDER: usize = COLUMNS.len() - 1;

fn finite(value: f64, text: impl Fn(f64) -> String) -> String {
    if value.is_finite() {
        text(value)
    } else {
        String::new()
    }
}

#[component]
pub fn Others() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let order = Held::new((CATALOGUE_ORDER, false));
    let sorted = move || {
        let (column, reversed) = order.get();
        let mut rows = desk.others.get();
        let key = COLUMNS[column].key;
        put_in_order(&mut rows, |a, b| {
            let found = compare(key(a), key(b));
            if reversed { found.reverse() } else { found }
        });
        rows
    };
    let press = move |column: usize| {
        order.update(|(now, reversed)| {
            *reversed = *now == column && !*reversed;
            *now = column;
        });
    };
    let head = move |index: usize| {
        let column = COLUMNS[index];
        let sort = move || match order.get() {
            (now, _) if now != index => "none",
            (_, false) => "ascending",
            (_, true) => "descending",
        };
        view! {
            <th scope="col" class="number" aria-sort=sort title=column.title>
                <button type="button" class="sorts" on:click=move |_| press(index)>{column.head}</button>
            </th>
        }
    };
    let heads = (0..CATALOGUE_ORDER).map(head).collect_nodes();
    let told = move || {
        desk.others.with(|rows| {
            let others = rows.iter().filter(|row| !row.taken);
            let held = others.clone().filter(|row| row.reach.is_none());
            let best = held.map(|row| row.share).fold(f64::NAN, f64::max);
            let best = finite(best, |share| format!(", yields up to {}", per_cent(share)));
            format!("{} side by side{best}", others.count())
        })
    };
    let drawn = move || {
        let boards = desk
            .others
            .with(|rows| rows.iter().map(|row| row.boards).max())?;
        let spread = desk.spread.with(|spread| Some(spread.as_ref()?.boards))?;
        let more = format!(
            " Spread draws {spread} boards of the circuit in use, so its yield there differs a little."
        );
        Some(format!(
            "Yield and depth here: {boards} boards for each circuit.{}",
            if spread == boards { "" } else { &more }
        ))
    };
    let many = move || desk.others.with(|rows| rows.len() > 1);
    view! {
        <section
            class="others"
            aria-labelledby="others-title"
            aria-busy=move || (!desk.others_are_current.get()).to_string()
            data-rows=move || desk.others.with(Vec::len).to_string()
            class:single-row=move || !many()
        >
            <details>
                <summary>
                    <h2 id="others-title">"Other circuits for this requirement"</h2>
                    <span class="secondary">{told}</span>
                </summary>
                <div class="scroll" tabindex="0" role="region" aria-label="Other circuits for this requirement">
                    <table>
                        <thead>
                            <tr>
                                <th scope="col"></th>
                                <th scope="col" class="circuit">
                                    <button type="button" class="sorts" on:click=move |_| press(CATALOGUE_ORDER)>"Circuit"</button>
                                </th>
                                {heads}
                            </tr>
                        </thead>
                        <tbody>
                            <For each=sorted key=|row| row.clone_key() children=move |row| view! { <Row row /> } />
                        </tbody>
                    </table>
                </div>
                <p class="secondary">{drawn}</p>
            </details>
        </section>
    }
}

/// What cannot be had comes last, whichever way the table is sorted.
fn compare(a: f64, b: f64) -> Ordering {
    match (a.is_nan(), b.is_nan()) {
        (false, false) => a.total_cmp(&b),
        (a, b) => a.cmp(&b),
    }
}

trait Keyed {
    fn clone_key(&self) -> String;
}

impl Keyed for Arc<OtherOutcome> {
    /// A row is drawn anew when anything in it changes.
    fn clone_key(&self) -> String {
        format!(
            "{} {} {} {} {} {}",
            self.circuit, self.taken, self.miss, self.share, self.phase_deg, self.noise
        )
    }
}

#[component]
fn Row(row: Arc<OtherOutcome>) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let circuit = row.circuit.clone();
    let take = move |_| {
        focus::to_card();
        desk.take_circuit(&circuit);
    };
    let cells = COLUMNS[..CATALOGUE_ORDER]
        .iter()
        .map(|column| view! { <td class="number">{(column.text)(&row)}</td> })
        .collect_nodes();
    let taken = row.taken;
    view! {
        <tr class:in-use=taken class:unreached=row.reach.is_some() data-circuit=row.circuit.clone()>
            <td>
                <button type="button" aria-pressed=taken.to_string() on:click=take>
                    {if taken { "In use" } else { "Use" }}
                </button>
            </td>
            <td class="circuit">
                {row.title.clone()}
                {row.reach.as_deref().map(|why| view! { <span class="why">{in_short(why)}</span> })}
            </td>
            {cells}
        </tr>
    }
}

/// Of a refusal which limits are not held: what would be enough is said where the circuit is taken.
fn in_short(why: &str) -> String {
    why.lines().nth(1).unwrap_or(why).to_owned()
}
