//! Help with the loop: a PID for a wanted crossover and phase margin, a notch for a resonance; one click puts
//! either in the path, picked off the shelf.

use leptos::prelude::*;

use crate::design::{AdviceAsk, Design, Group, ShapeAsk, StageDesign, Summing};
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, NotchAsk, PidAsk, by_id};

const PID: &str = "pid-parallel";
const NOTCH: &str = "mfb-notch";

#[component]
pub fn Help() -> impl IntoView {
    view! {
        <section class="loop-boards" aria-labelledby="help-title">
            <h3 id="help-title">"Shaping the loop"</h3>
            <div class="help-grid">
                <Controller />
                <Notch />
            </div>
        </section>
    }
}

/// Puts an ask in place of another of its family, or as a new stage into the path; returns where.
fn put(design: &mut Design, replaces: Option<usize>, at: usize, circuit: &str, ask: Ask) -> usize {
    let place = match replaces.filter(|place| *place < design.stages.len()) {
        Some(place) => {
            let stage = &mut design.stages[place];
            stage.ask = ask;
            stage.pins.clear();
            stage.strays.clear();
            stage.choice = 0;
            place
        }
        None => {
            let at = at.min(design.stages.len());
            let stage = StageDesign {
                circuit: circuit.to_owned(),
                ask,
                ..StageDesign::default()
            };
            design.stages.insert(at, stage);
            at
        }
    };
    design.view.stage = place;
    place
}

fn put_pid(design: &mut Design, replaces: Option<usize>, ask: PidAsk, adds: bool) {
    let place = put(design, replaces, 0, PID, Ask::Pid(ask));
    let inverts = by_id(&design.stages[place].circuit).is_some_and(|stage| stage.sign() < 0);
    design.servo.summing = if adds == inverts {
        Summing::Subtracts
    } else {
        Summing::Adds
    };
}

fn put_notch(design: &mut Design, replaces: Option<usize>, ask: NotchAsk) {
    let last = design.stages.len();
    put(design, replaces, last, NOTCH, Ask::Notch(ask));
}

#[component]
fn Controller() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let is_asked = Memo::new(move |_| desk.form.with(|form| form.plant.shapes));
    let fields = move || {
        is_asked
            .get()
            .then(|| view! { <Fields fields=desk.group(Group::Shape) /> })
    };
    let told = move || {
        let found = desk.help.with(|help| help.as_ref()?.controller.clone());
        let found = found.filter(|_| is_asked.get())?;
        let line = |line: &String| view! { <li>{line.clone()}</li> };
        let list = found.told.iter().map(line).collect_view();
        let (replaces, adds) = (found.replaces, found.adds);
        let button = found.ask.map(|ask| {
            let take = move |_| {
                desk.edit_path(|design| put_pid(design, replaces, ask.clone(), adds));
            };
            let words = match replaces {
                Some(place) => format!("Put these values in stage {}", place + 1),
                None => "Put this PID in the path".to_owned(),
            };
            view! { <button type="button" on:click=take>{words}</button> }
        });
        Some(view! { <ul class="notes">{list}</ul> <p class="buttons">{button}</p> })
    };
    let toggle = move |_| {
        desk.edit_plant(|servo| {
            servo.shape = match servo.shape {
                Some(_) => None,
                None => Some(ShapeAsk::default()),
            };
        });
    };
    view! {
        <div class="loop-told">
            <p class="buttons">
                <button type="button" aria-pressed=move || is_asked.get().to_string() on:click=toggle>
                    "PID for a crossover and phase margin"
                </button>
            </p>
            {fields}
            {told}
        </div>
    }
}

#[component]
fn Notch() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let asked = Memo::new(move |_| desk.form.with(|form| form.plant.advises));
    let modes = move || {
        desk.servo.with(|servo| {
            let model = servo.as_ref()?.plant.model.as_ref()?;
            let buttons = model.modes.iter().enumerate().map(|(index, mode)| {
                let ask = move |_| {
                    desk.edit_plant(|servo| {
                        servo.advice = match servo.advice {
                            Some(advice) if advice.mode == index => None,
                            advice => Some(AdviceAsk {
                                mode: index,
                                ..advice.unwrap_or_default()
                            }),
                        };
                    });
                };
                let at = rounded(mode.frequency, Unit::Hertz, 3);
                let is_pressed = move || (asked.get() == Some(index)).to_string();
                view! {
                    <button type="button" aria-pressed=is_pressed on:click=ask>
                        {format!("Notch for mode {}, {at}", index + 1)}
                    </button>
                }
            });
            Some(view! { <p class="buttons">{buttons.collect_view()}</p> })
        })
    };
    let fields = move || {
        asked
            .get()
            .map(|_| view! { <Fields fields=desk.group(Group::Advice) /> })
    };
    let told = move || {
        asked.get()?;
        let found = desk.help.with(|help| help.as_ref()?.notch.clone())?;
        let line = |line: &String| view! { <li>{line.clone()}</li> };
        let list = found.told.iter().map(line).collect_view();
        let cost = found.cost_deg.map(|cost| cost.to_string());
        let replaces = found.replaces;
        let button = found.ask.map(|ask| {
            let take = move |_| desk.edit_path(|design| put_notch(design, replaces, ask.clone()));
            let words = match replaces {
                Some(place) => format!("Put this notch in stage {}", place + 1),
                None => "Put this notch in the path".to_owned(),
            };
            view! { <button type="button" on:click=take>{words}</button> }
        });
        Some(view! {
            <ul class="notes" data-figure="notch-cost" data-value=cost>{list}</ul>
            <p class="buttons">{button}</p>
        })
    };
    view! { <div class="loop-told">{modes} {fields} {told}</div> }
}
