//! Help with the loop: a controller and its amplifiers for a wanted crossover and phase margin, a notch for a
//! resonance; one click puts either in the path, picked off the shelf.

use crate::page::prelude::*;

use crate::design::{AdviceAsk, Group, ShapeAsk};
use crate::outcome::ControllerHelp;
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::page::focus;
use crate::quantity::{Unit, rounded};

const NOTCH: &str = "mfb-notch";

#[component]
pub fn Help() -> impl IntoView {
    view! {
        <section class="loop-boards help" aria-labelledby="help-title">
            <h3 id="help-title">"Loop shaping"</h3>
            <super::whole::Whole />
            <div class="help-grid">
                <Controller />
                <Notch />
            </div>
        </section>
    }
}

/// What the button says.
fn put_words(found: &ControllerHelp) -> String {
    let name = found.stages.first().map_or("", |stage| stage.controller());
    match (found.replaces.as_slice(), found.stages.len()) {
        ([], 1) => format!("Put this {name} in the path"),
        ([], count) => format!("Put these {count} stages in the path"),
        ([place], 1) if found.is_other => {
            format!("Put this {name} in place of stage {}", place + 1)
        }
        ([place], 1) => format!("Put these values in stage {}", place + 1),
        ([place], count) => format!("Put these {count} stages in place of stage {}", place + 1),
        ([first, .., last], _) => {
            let to = if last - first > 1 { "to" } else { "and" };
            format!(
                "Put these in place of stages {} {to} {}",
                first + 1,
                last + 1
            )
        }
    }
}

#[component]
fn Controller() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let asked = memo(move || desk.form.with(|form| form.plant.shapes));
    let fields = move || {
        asked
            .get()
            .map(|_| view! { <Fields fields=desk.group(Group::Shape) /> })
    };
    let told = move || {
        let found = desk.help.with(|help| help.as_ref()?.controller.clone());
        let found = found.filter(|_| asked.get().is_some())?;
        let line = |line: &String| view! { <li>{line.clone()}</li> };
        let list = found.told.iter().map(line).collect_nodes();
        let crossover = found.crossover.map(|value| value.to_string());
        let margin = found.phase_margin.map(|value| value.to_string());
        let button = (!found.stages.is_empty()).then(|| {
            let words = put_words(&found);
            let take = move |_| {
                focus::to_asked();
                desk.edit_path(|design| found.put_in(design));
            };
            view! { <button type="button" on:click=take>{words}</button> }
        });
        Some(view! {
            <div data-figure="shaped-crossover" data-value=crossover>
                <ul class="notes" data-figure="shaped-phase-margin" data-value=margin>{list}</ul>
            </div>
            <p class="buttons">{button}</p>
        })
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
        <div class="loop-results">
            <p class="buttons">
                <button type="button" aria-pressed=move || asked.get().is_some().to_string() on:click=toggle>
                    "Controller for a crossover and phase margin"
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
    let asked = memo(move || desk.form.with(|form| form.plant.advises));
    let modes = move || {
        desk.servo.with(|servo| {
            let model = servo.as_ref()?.plant.model.as_ref()?;
            let resonances = model.modes.iter().enumerate();
            let resonances = resonances.filter(|(_, mode)| mode.is_resonance());
            let buttons = resonances.map(|(index, mode)| {
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
            Some(view! { <p class="buttons">{buttons.collect_nodes()}</p> })
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
        let list = found.told.iter().map(line).collect_nodes();
        let cost = found.cost_deg.map(|cost| cost.to_string());
        let button = found.ask.is_some().then(|| {
            let words = match found.replaces {
                Some(place) => format!("Put this notch in stage {}", place + 1),
                None => "Put this notch in the path".to_owned(),
            };
            let take = move |_| {
                focus::to_asked();
                desk.edit_path(|design| found.put_in(design, NOTCH));
            };
            view! { <button type="button" on:click=take>{words}</button> }
        });
        Some(view! {
            <ul class="notes" data-figure="notch-cost" data-value=cost>{list}</ul>
            <p class="buttons">{button}</p>
        })
    };
    view! { <div class="loop-results">{modes} {fields} {told}</div> }
}
