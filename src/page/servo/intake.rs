//! Where a plant comes in: dropped files, a pasted text, points typed by hand, or a model without any
//! sweep.

use crate::page::prelude::*;
use leptos::ev;
use wasm_bindgen::JsCast;

use crate::design::ServoDesign;
use crate::exchange::{Intake as Of, Kept};
use crate::page::begin;
use crate::page::desk::Desk;
use crate::page::intake::{Source, Standing, TakenTexts, TextEntry, take_dropped};
use crate::plant::sweep;
use crate::plant::{Mode, Model, SweptOf};
use crate::quantity::{Unit, rounded};

/// "712 points", and for how many rows they stand.
fn counted(points: usize, rows: Option<u32>) -> String {
    match rows {
        Some(rows) => format!("{points} points for {rows} rows"),
        None => format!("{points} points"),
    }
}

/// A plant to begin with where there is no sweep: a mass on a suspension.
fn first_model() -> Model {
    let omega = std::f64::consts::TAU * 30.0;
    Model {
        rigid: None,
        modes: vec![Mode {
            frequency: 30.0,
            damping: 0.1,
            residue: omega * omega,
            slope: 0.0,
        }],
        ..Model::default()
    }
}

/// Whether somebody types rows or chooses columns.
fn is_at_work() -> bool {
    let element = document().active_element();
    element.is_some_and(|element| ["TEXTAREA", "SELECT"].contains(&element.tag_name().as_str()))
}

/// Keeps the keyboard where the intake was closed over it.
fn focus_summary() {
    let Some(intake) = document().get_element_by_id("intake") else {
        return;
    };
    let is_within = intake.contains(document().active_element().as_deref());
    let summary = intake.query_selector("summary").ok().flatten();
    let summary = summary.and_then(|found| found.dyn_into::<web_sys::HtmlElement>().ok());
    if let Some(summary) = summary.filter(|_| is_within) {
        let _ = summary.focus();
    }
}

/// Makes what is kept of the texts the plant.
fn put_in(desk: Desk, kept: Kept) {
    let is_demo = kept.sweep == kept.demo;
    // What the plant was so far.
    let is_first = desk.design.with_untracked(|design| {
        let servo = &design.servo;
        !servo.has_plant() || (servo.model.is_none() && servo.sweep == kept.demo)
    });
    let edit = |servo: &mut ServoDesign| {
        servo.rows = (kept.rows != kept.points).then_some(kept.rows);
        servo.swept_of = kept.of;
        servo.sweep = kept.sweep;
        servo.model = None;
        servo.fit.start = None;
    };
    // The path that a plant was worked out with stays, the demo's as well.
    if is_demo || kept.of.is_some() {
        desk.edit_plant(edit);
    } else {
        begin::take_a_strangers(desk, is_first, edit);
    }
}

/// What a sweep may be a response of: a plant that drifts away by itself is swept within its loop.
const SWEPT: [(Option<SweptOf>, &str); 4] = [
    (None, "the plant"),
    (Some(SweptOf::OpenLoop), "the open loop, L"),
    (Some(SweptOf::ClosedLoop), "the closed loop, L/(1 + L)"),
    (Some(SweptOf::Sensitivity), "the sensitivity, 1/(1 + L)"),
];

/// What the sweep is of, and with which path.
#[component]
fn Of(source: Source) -> impl IntoView {
    let options = SWEPT
        .iter()
        .enumerate()
        .map(|(place, (of, name))| {
            let is_it = move || source.of.get() == *of;
            view! { <option value=place.to_string() prop:selected=is_it>{*name}</option> }
        })
        .collect_nodes();
    let chosen = move |event: ev::Event| {
        let place = event_target_value(&event).parse::<usize>().ok();
        if let Some((of, _)) = place.and_then(|place| SWEPT.get(place)) {
            source.take_as(*of);
        }
    };
    let note = move || {
        source.of.get().map(|_| {
            view! {
                <p class="secondary">
                    "The plant is worked out with the path as it stands: its stages must be those that were in the loop."
                </p>
                <p class="buttons">
                    <button
                        type="button"
                        disabled=move || source.taken.with(Vec::is_empty)
                        on:click=move |_| source.take_as(source.of.get_untracked())
                    >
                        "Work out the plant again"
                    </button>
                </p>
            }
        })
    };
    view! {
        <div class="field">
            <label for="sweep-of">"Measured"</label>
            <select id="sweep-of" on:change=chosen>{options}</select>
        </div>
        {note}
    }
}

#[component]
pub fn Intake() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let source = Source::new(desk, Of::Plant, put_in);
    let over = Held::new(false);
    let open = Held::new(false);
    let dropped = move |event: ev::DragEvent| {
        over.set(false);
        if take_dropped(source, &event) {
            open.set(true);
        }
    };
    let plant = memo(move || desk.form.with(|form| form.plant.clone()));
    // Once the plant is theirs, what the loop says of it comes next; who types rows or corrects columns goes on.
    Effect::new(move || {
        source.taken.track();
        if source.standing.get() == Standing::Theirs && open.get_untracked() && !is_at_work() {
            open.set(false);
            focus_summary();
        }
    });
    let summary = move || {
        let plant = plant.get();
        match (plant.span, plant.is_there()) {
            (None, false) => {
                "No plant yet: drop a measured sweep here, or open this to paste one".to_owned()
            }
            (None, true) => "Plant: a model without a sweep".to_owned(),
            (Some((low, high)), _) => format!(
                "Plant: a sweep of {}{}, {} to {}",
                counted(plant.points, plant.rows),
                plant.swept_of.map_or(String::new(), |of| format!(
                    ", worked out from {}",
                    of.name()
                )),
                rounded(low, Unit::Hertz, 3),
                rounded(high, Unit::Hertz, 3),
            ),
        }
    };
    let before = memo(move || {
        plant.with(|plant| match (plant.points, plant.is_there()) {
            (_, false) => None,
            (0, true) => Some("The plant is still the model given before"),
            (_, true) => Some("The plant is still the sweep read before"),
        })
    });
    view! {
        <details
            class="intake"
            id="intake"
            class:over=over
            prop:open=open
            on:toggle=move |event: ev::Event| {
                let details = event.target().and_then(|t| t.dyn_into::<web_sys::HtmlDetailsElement>().ok());
                if let Some(details) = details { open.set(details.open()); }
            }
            on:dragover=move |event: ev::DragEvent| { event.prevent_default(); over.set(true); }
            on:dragleave=move |_| over.set(false)
            on:drop=dropped
        >
            <summary data-figure="sweep-points" data-value=move || plant.with(|p| p.points.to_string())>{summary}</summary>
            <div class="intake-grid">
                <div>
                    <Of source />
                    <TextEntry source name="sweep" label="Sweep" rows="8" files="A file, or several of one plant" />
                    <p class="buttons">
                        <button type="button" on:click=move |_| source.take(sweep::DEMO.to_owned())>
                            "Use the demo's sweep"
                        </button>
                        <button
                            type="button"
                            on:click=move |_| {
                                let is_first = desk.design.with_untracked(|design| !design.servo.has_plant());
                                begin::take_a_strangers(desk, is_first, |servo| {
                                    if servo.model.is_none() { servo.model = Some(first_model()); }
                                });
                            }
                        >
                            "Begin with a model"
                        </button>
                        <button
                            type="button"
                            disabled=move || !plant.with(|p| p.is_there())
                            on:click=move |_| {
                                source.clear();
                                desk.edit_plant(|servo| *servo = ServoDesign {
                                    asked: servo.asked,
                                    ..Default::default()
                                });
                            }
                        >
                            "Remove the plant"
                        </button>
                    </p>
                    <p class="secondary">"The demo's sweep is invented: a microscope's focus stage with modes near 2.35 kHz and 5.1 kHz."</p>
                </div>
                <div><TakenTexts source before /></div>
            </div>
        </details>
    }
}
