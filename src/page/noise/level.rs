//! The level of impedance of the shown stage as a slider, and what other levels would cost: noise against current, capacitors
//! and load.

use crate::page::prelude::*;
use serde_json::json;

use super::volts;
use crate::design::IMPEDANCES;
use crate::noise::{Level as Trade, LevelRow};
use crate::page::desk::Desk;
use crate::quantity::{Unit, rounded};

/// Levels of the table, by their factor to the stage's own.
const FACTORS: [f64; 7] = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0];
/// The slider's ends, as decimal logarithms of Ω, and its step.
const ENDS: (f64, f64) = (2.0, 6.0);
const STEP: f64 = 0.05;

#[component]
pub fn Level() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let shown = memo(move || desk.form.with(|form| form.stage));
    let trade = memo(move || {
        let place = shown.get();
        desk.noise
            .with(|noise| noise.as_ref()?.stages.get(place)?.level)
    });
    let table = move || trade.get().map(|trade| table(desk, shown.get(), trade));
    view! {
        <div class="levels">
            <h3>{move || format!("Impedance level of stage {}", shown.get() + 1)}</h3>
            <Slider shown trade />
            <div class="scroll" tabindex="0" role="region" aria-label="Impedance levels">{table}</div>
            <p class="secondary">
                "Level: geometric mean of the resistors. Rows scale all parts of this set; a level in use is picked from the shelf. Current: \
                 the most that an op amp gives or takes for 1 V at the input, without what follows."
            </p>
        </div>
    }
}

/// Where the stage's level stands, and where it shall stand.
#[component]
fn Slider(shown: Derived<usize>, trade: Derived<Option<Trade>>) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let asked = memo(move || {
        desk.design.with(|design| {
            let stage = design.stages.get(shown.get());
            stage.and_then(|stage| stage.impedance)
        })
    });
    let level = memo(move || asked.get().or_else(|| Some(trade.get()?.impedance)));
    let value = move || level.get().map_or(4.0, f64::log10).to_string();
    let text = move || match (asked.get(), level.get()) {
        (Some(asked), _) => rounded(asked, Unit::Ohm, 3),
        (None, Some(own)) => format!("{}, as picked", rounded(own, Unit::Ohm, 3)),
        (None, None) => String::new(),
    };
    let slide = move |event| {
        if let Ok(lg) = event_target_value(&event).parse::<f64>() {
            take(desk, shown.get_untracked(), Some(10f64.powf(lg)));
        }
    };
    let free = move |_| take(desk, shown.get_untracked(), None);
    view! {
        <div class="buttons level">
            <label for="impedance-slider">"Resistors round"</label>
            <input
                id="impedance-slider"
                type="range"
                min=ENDS.0.to_string()
                max=ENDS.1.to_string()
                step=STEP.to_string()
                prop:value=value
                aria-valuetext=text
                on:input=slide
            />
            <span data-figure="impedance" data-value=move || level.get().unwrap_or(f64::NAN).to_string()>{text}</span>
            <button type="button" disabled=move || asked.with(Option::is_none) on:click=free>"As usual"</button>
        </div>
    }
}

/// Has a stage's resistors lie round an impedance (Ω), in three digits; none for the usual comfort.
fn take(desk: Desk, stage: usize, impedance: Option<f64>) {
    let three = |value: f64| {
        let decade = 10f64.powf(value.log10().floor() - 2.0);
        (value / decade).round() * decade
    };
    let value = impedance.map(|value| three(value.clamp(IMPEDANCES.0, IMPEDANCES.1)));
    let path = format!("/stages/{stage}/impedance");
    if let Ok(design) = desk
        .design
        .with_untracked(|design| design.with(&path, json!(value)))
    {
        desk.put(design);
    }
}

fn table(desk: Desk, stage: usize, trade: Trade) -> Node {
    let maybe = |value: Option<f64>, unit| value.map(|value| rounded(value, unit, 3));
    let row = |factor: f64| {
        let LevelRow {
            impedance,
            noise,
            capacitor,
            current,
            input,
        } = trade.at(factor * trade.impedance);
        let is_own = factor == 1.0;
        let level = rounded(impedance, Unit::Ohm, 3);
        let label = format!("Use an impedance level of {level}");
        let taking = match is_own {
            true => view! { <span>"In use"</span> }.into_node(),
            false => view! {
                <button type="button" aria-label=label on:click=move |_| take(desk, stage, Some(impedance))>"Use"</button>
            }
            .into_node(),
        };
        view! {
            <tr class:in-use=is_own>
                <th scope="row" class="number">{level}</th>
                <td class="number">{volts(noise)}</td>
                <td class="number">{maybe(capacitor, Unit::Farad)}</td>
                <td class="number">{maybe(current, Unit::Ampere)}</td>
                <td class="number">{maybe(input, Unit::Ohm)}</td>
                <td>{taking}</td>
            </tr>
        }
    };
    let rows = FACTORS.into_iter().map(row).collect_nodes();
    view! {
        <table class="figures">
            <thead>
                <tr>
                    <th scope="col" class="number">"Level"</th>
                    <th scope="col" class="number">"Noise, rms"</th>
                    <th scope="col" class="number">"Largest capacitor"</th>
                    <th scope="col" class="number">"Op-amp current per V"</th>
                    <th scope="col" class="number">"Least input impedance"</th>
                    <th scope="col"></th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
        </table>
    }
    .into_node()
}
