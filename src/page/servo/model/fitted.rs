//! The model as it was fitted, mode by mode.

use crate::page::prelude::*;

use super::with_doubt;
use crate::design::{labelled, with_unit};
use crate::outcome::PlantOutcome;
use crate::page::desk::Desk;
use crate::page::parts::figure_text;
use crate::plant::sweep::{FREQUENCIES, frequencies};
use crate::plant::{Fitted, FreeMode, Model, Start};
use crate::quantity::{Unit, rounded};

/// Digits of a model that is taken in hand: what is left out is far below what the sweep tells.
const DIGITS: usize = 5;

fn start_of(fitted: &Fitted) -> Start {
    Start {
        model: fitted.model.clone(),
        free: fitted.free.clone(),
    }
}

/// What a mode is beside a resonance.
fn kind(model: &Model, index: usize) -> Option<&'static str> {
    if model.suspension() == Some(index) {
        return Some("suspension");
    }
    (!model.modes[index].is_resonance()).then_some("damped, no resonance")
}

/// The model as it was fitted.
#[component]
pub(super) fn FittedModel() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let added = Held::new(String::new());
    let complaint = Held::new(None::<String>);
    let fitted = move || {
        desk.servo
            .with_untracked(|servo| servo.as_ref()?.plant.fitted.clone())
    };
    let restart = move |change: &dyn Fn(&mut Start)| {
        if let Some(fitted) = fitted() {
            let mut start = start_of(&fitted);
            change(&mut start);
            desk.edit_plant(|servo| servo.fit.start = Some(start));
        }
    };
    let add = move |_| match crate::quantity::parse(&added.get_untracked(), Unit::Hertz) {
        Ok(frequency) if (FREQUENCIES.0..=FREQUENCIES.1).contains(&frequency) => {
            complaint.set(None);
            restart(&|start| {
                start.add_mode(frequency);
            });
        }
        Ok(_) => complaint.set(Some(format!(
            "The mode's frequency must lie {}.",
            frequencies()
        ))),
        Err(error) => complaint.set(Some(format!("The mode's frequency {error}."))),
    };
    let take_in_hand = move |_| {
        if let Some(fitted) = fitted() {
            desk.edit_plant(|servo| servo.model = Some(fitted.model.in_digits(DIGITS)));
        }
    };
    let hold = move |index: usize,
                     label: &'static str,
                     is_free: bool,
                     set: fn(&mut FreeMode, bool)| {
        view! {
            <label class="hold">
                <input
                    type="checkbox"
                    prop:checked=!is_free
                    on:change=move |event| {
                        let free = !event_target_checked(&event);
                        restart(&|start| if let Some(mode) = start.free.modes.get_mut(index) { set(mode, free) });
                    }
                />
                {label}
            </label>
        }
    };
    let table = move || {
        desk.servo.with(|servo| {
            let plant = &servo.as_ref()?.plant;
            if let Some(why) = &plant.unfitted {
                return Some(view! { <p class="problem" role="alert">{why.clone()}</p> }.into_node());
            }
            let fitted = plant.fitted.as_ref()?;
            let units = desk.units();
            let has_slope = fitted.model.modes.iter().any(|mode| mode.slope != 0.0);
            let rows = fitted
                .model
                .modes
                .iter()
                .zip(&fitted.uncertainties.modes)
                .zip(&fitted.peaks)
                .zip(&fitted.free.modes)
                .enumerate()
                .map(|(index, (((mode, doubt), peak), free))| {
                    let remove = move |_| restart(&|start| start.remove_mode(index));
                    view! {
                        <tr>
                            <th scope="row">{index + 1} " " {kind(&fitted.model, index)}</th>
                            <td class="number" data-figure=format!("mode-{}-frequency", index + 1) data-value=mode.frequency.to_string()>
                                {with_doubt(mode.frequency, doubt.frequency, Unit::Hertz)}
                                {hold(index, "hold", free.frequency, |mode, free| mode.frequency = free)}
                            </td>
                            <td class="number" data-figure=format!("mode-{}-damping", index + 1) data-value=mode.damping.to_string()>
                                {with_doubt(mode.damping, doubt.damping, Unit::One)}
                                {hold(index, "hold", free.damping, |mode, free| mode.damping = free)}
                            </td>
                            <td class="number">
                                {with_doubt(mode.residue, doubt.residue, Unit::One)}
                                {hold(index, "hold", free.residue, |mode, free| mode.residue = free)}
                            </td>
                            {has_slope.then(|| view! { <td class="number">{with_doubt(mode.slope, doubt.slope, Unit::One)}</td> })}
                            <td class="number">{rounded(peak.frequency, Unit::Hertz, 5)}</td>
                            <td class="number">{figure_text(20.0 * peak.height.log10(), Unit::Decibel)}</td>
                            <td class="number">{peak.rise_db.map(|rise| figure_text(rise, Unit::Decibel))}</td>
                            <td><button type="button" aria-label=format!("Remove mode {}", index + 1) on:click=remove>"×"</button></td>
                        </tr>
                    }
                })
                .collect_nodes();
            Some(
                view! {
                    <div class="scroll">
                        <table class="modes">
                            <thead>
                                <tr>
                                    <th scope="col">"Mode"</th>
                                    <th scope="col" class="number">"Frequency"</th>
                                    <th scope="col" class="number">"Damping ζ"</th>
                                    <th scope="col" class="number">{labelled("Residue", &units.ratio_times_rate(2))}</th>
                                    {has_slope.then(|| view! { <th scope="col" class="number">{labelled("Slope", &units.ratio_times_rate(1))}</th> })}
                                    <th scope="col" class="number">"Peak at"</th>
                                    <th scope="col" class="number">{with_unit("Height".to_owned(), &units.reference())}</th>
                                    <th scope="col" class="number">"Above the other modes"</th>
                                    <th scope="col"></th>
                                </tr>
                            </thead>
                            <tbody>{rows}</tbody>
                        </table>
                    </div>
                    <p class="rest">{rest(plant, fitted)}</p>
                    <ul class="notes">{fitted.notes.iter().map(|note| view! { <li>{note.clone()}</li> }).collect_nodes()}</ul>
                }
                .into_node(),
            )
        })
    };
    let has_start = move || desk.design.with(|design| design.servo.fit.start.is_some());
    view! {
        {table}
        <form class="buttons" autocomplete="off" method="dialog">
            <label for="mode-added">"A mode near"</label>
            <input
                id="mode-added"
                type="text"
                size="9"
                prop:value=added
                on:input=move |event| added.set(event_target_value(&event))
                on:keydown=move |event| if event.key() == "Enter" { add(()) }
            />
            <button type="button" on:click=move |_| add(())>"Add and fit again"</button>
            <button type="button" on:click=take_in_hand>"Edit the model"</button>
            <button
                type="button"
                disabled=move || !has_start()
                on:click=move |_| desk.edit_plant(|servo| servo.fit.start = None)
            >
                "Fit from scratch"
            </button>
        </form>
        {move || complaint.get().map(|sentence| view! { <p class="problem" role="alert">{sentence}</p> })}
    }
}

/// What a model has besides its modes, and how well it fits.
fn rest(plant: &PlantOutcome, fitted: &Fitted) -> impl Content + use<> {
    let (model, doubt) = (&fitted.model, &fitted.uncertainties);
    let mut parts = Vec::new();
    let delay = with_doubt(model.delay, doubt.delay, Unit::Second);
    parts.push(format!("Delay {delay}."));
    if let (Some(lag), Some(doubt)) = (model.lag, doubt.lag) {
        parts.push(format!(
            "Lag corner {}.",
            with_doubt(lag, doubt, Unit::Hertz)
        ));
    }
    let points = plant
        .measured
        .as_ref()
        .map_or(0, |shape| shape.frequency.len());
    parts.push(format!(
        "Residual of the model over {points} points: {} rms of the measured magnitude.",
        rounded(fitted.rms, Unit::Percent, 2),
    ));
    view! { <span data-figure="fit-residual" data-value=fitted.rms.to_string()>{parts.join(" ")}</span> }
}
