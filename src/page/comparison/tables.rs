//! What differs, in tables: entries, parts, figures.

use std::sync::Arc;

use crate::page::prelude::*;

use super::copy::Beside;
use crate::comparison::{
    Compared, EntryDifference, PartDifference, PartDifferences, Side, entries, figures, parts,
};
use crate::page::desk::Desk;
use crate::page::turns;
use crate::quantity::exact;

/// All that is told of two designs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Told {
    pub entries: Vec<EntryDifference>,
    pub parts: PartDifferences,
    pub figures: Vec<Compared>,
}

/// Follows both designs; what is told comes when the page has nothing else to do.
pub fn follow(desk: Desk, beside: Beside) -> Held<Option<Arc<Told>>> {
    let told = Held::new(None);
    let is_due = StoredValue::new(false);
    Effect::new(move || {
        let is_there = beside.copy.with(Option::is_some);
        desk.design.track();
        desk.stages.track();
        desk.path.track();
        desk.spread.track();
        desk.servo.track();
        desk.loops.track();
        desk.motion.track();
        desk.demands.track();
        desk.noise.track();
        beside.found.track();
        if !is_there {
            told.set(None);
        } else if !is_due.get_value() {
            is_due.set_value(true);
            turns::at_rest(move || {
                is_due.set_value(false);
                let now = compare(desk, beside).map(Arc::new);
                if told.with_untracked(|before| *before != now) {
                    told.set(now);
                }
            });
        }
    });
    told
}

fn compare(desk: Desk, beside: Beside) -> Option<Told> {
    let copy = beside.copy.get_untracked()?;
    let found = beside.found.get_untracked();
    with_side(desk, |now| {
        let copy = Side::of(&copy.design, &found);
        Told {
            entries: entries(now.design, copy.design),
            parts: parts(now, &copy),
            figures: figures(now, &copy),
        }
    })
}

/// Looks at the design of the page with what is found for it.
pub fn with_side<T>(desk: Desk, look: impl FnOnce(&Side) -> T) -> Option<T> {
    let stages = desk.stages.get_untracked();
    let path = desk.path.get_untracked();
    let spread = desk.spread.get_untracked();
    let servo = desk.servo.get_untracked();
    let loops = desk.loops.get_untracked();
    let motion = desk.motion.get_untracked();
    let demands = desk.demands.get_untracked();
    let noise = desk.noise.get_untracked();
    desk.design.with_untracked(|design| {
        let is_of_design = stages.len() == design.stages.len();
        is_of_design.then(|| {
            look(&Side {
                design,
                stages: stages.iter().map(Arc::as_ref).collect(),
                path: path.as_deref(),
                spread: spread.as_deref(),
                servo: servo.as_deref(),
                loops: loops.as_deref(),
                motion: motion.as_deref(),
                demands: demands.as_deref(),
                noise: noise.as_deref(),
            })
        })
    })
}

/// The three tables.
#[component]
pub fn Tables(told: Held<Option<Arc<Told>>>) -> impl IntoView {
    let read = move |look: &dyn Fn(&Told) -> Node| told.with(|told| Some(look(told.as_ref()?)));
    let figures = move || read(&|told| figure_table(&told.figures));
    let entries = move || read(&|told| entry_table(&told.entries));
    let parts = move || read(&|told| part_table(&told.parts));
    view! {
        <div class="comparison-grid">
            <div>
                <h3>"Figures, yields and margins"</h3>
                {figures}
            </div>
            <div>
                <h3>"Entries that differ"</h3>
                {entries}
                <h3>"Parts that differ"</h3>
                {parts}
            </div>
        </div>
    }
}

fn head(columns: &[&'static str]) -> Node {
    let cells = columns.iter().enumerate().map(|(place, name)| match place {
        0 => view! { <td></td> }.into_node(),
        _ => view! { <th scope="col" class="number">{*name}</th> }.into_node(),
    });
    view! { <thead><tr>{cells.collect_nodes()}</tr></thead> }.into_node()
}

/// A row with its group's name where the group begins.
fn group(place: &str, before: &mut String, columns: &'static str) -> Option<Node> {
    if place == before {
        return None;
    }
    place.clone_into(before);
    let place = place.to_owned();
    Some(
        view! { <tr class="group"><th scope="colgroup" colspan=columns>{place}</th></tr> }
            .into_node(),
    )
}

fn figure_table(all: &[Compared]) -> Node {
    let mut before = String::new();
    let rows = all.iter().map(|row| {
        let data = |value: Option<f64>| value.unwrap_or(f64::NAN).to_string();
        view! {
            {group(&row.place, &mut before, "4")}
            <tr class:same=row.is_same()>
                <th scope="row">{row.label.clone()}</th>
                <td class="number" data-figure=format!("compared-{}", row.name) data-value=data(row.now)>{row.text(row.now)}</td>
                <td class="number" data-figure=format!("copy-{}", row.name) data-value=data(row.copy)>{row.text(row.copy)}</td>
                <td class="number">{row.change()}</td>
            </tr>
        }
        .into_node()
    });
    let rows = rows.collect_nodes();
    view! {
        <table class="compared">
            {head(&["", "This design", "Copy", "Change"])}
            <tbody>{rows}</tbody>
        </table>
    }
    .into_node()
}

fn entry_table(all: &[EntryDifference]) -> Node {
    if all.is_empty() {
        return view! { <p class="secondary">"No entry differs."</p> }.into_node();
    }
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let rows = all.iter().map(|row| Line {
        place: row.place.clone(),
        label: row.label.clone(),
        now: text(&row.now),
        copy: text(&row.copy),
    });
    both("compared entries", rows)
}

/// A line of a table with a column for each design.
struct Line {
    place: String,
    label: String,
    now: String,
    copy: String,
}

/// A table with a column for each design.
fn both(class: &'static str, lines: impl Iterator<Item = Line>) -> Node {
    let mut before = String::new();
    let rows = lines.map(|line| {
        view! {
            {group(&line.place, &mut before, "3")}
            <tr>
                <th scope="row">{line.label}</th>
                <td class="number">{line.now}</td>
                <td class="number">{line.copy}</td>
            </tr>
        }
        .into_node()
    });
    let rows = rows.collect_nodes();
    view! {
        <table class=class>
            {head(&["", "This design", "Copy"])}
            <tbody>{rows}</tbody>
        </table>
    }
    .into_node()
}

fn part_table(all: &PartDifferences) -> Node {
    let same = match all.same {
        0 => "No part is the same in both.".to_owned(),
        1 => "One part is the same in both.".to_owned(),
        count => format!("{count} parts are the same in both."),
    };
    if all.rows.is_empty() {
        return view! { <p class="secondary">"No part differs. "{same}</p> }.into_node();
    }
    let place = |row: &PartDifference| match (row.stage.now, row.stage.copy) {
        (Some(stage), _) => format!("Stage {}", stage + 1),
        (None, Some(stage)) => format!("Stage {} of the copy", stage + 1),
        (None, None) => String::new(),
    };
    let rows = all.rows.iter().map(|row| {
        let text =
            |value: Option<f64>| value.map_or_else(String::new, |value| exact(value, row.unit));
        Line {
            place: place(row),
            label: row.name.clone(),
            now: text(row.now),
            copy: text(row.copy),
        }
    });
    view! {
        {both("compared part-differences", rows)}
        <p class="secondary">{same}</p>
    }
    .into_node()
}
