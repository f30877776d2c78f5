//! The Noise region: what the path's parts add of noise, over frequency and over a band, by contributor, and what it does
//! round the loop.

mod charts;
mod level;
mod tables;

use crate::page::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use crate::design::{Group, in_unit};
use crate::outcome::{LoopNoise, NoiseOutcome, NoiseTotal};
use crate::quantity::{Unit, rounded};

#[component]
pub fn Noise() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let has_stage = desk.has_stage();
    let total = move || desk.noise.with(|noise| noise.as_deref().map(total));
    let looped = move || {
        desk.noise.with(|noise| {
            let looped = noise.as_ref()?.looped.as_ref()?;
            Some(round_the_loop(looped))
        })
    };
    view! {
        <section class="noise" id="noise" aria-labelledby="noise-title">
            <h2 id="noise-title">"Noise"</h2>
            <Show
                when=move || has_stage.get()
                fallback=move || view! { <p class="advice" role="note">"No stage, and so no part that makes noise."</p> }
            >
                <div class="noise-grid">
                    <div class="share">
                        {total}
                        <Fields fields=desk.group(Group::Noise) />
                        <p class="secondary">
                            "Resistors' thermal noise, op amps' voltage and current noise with their 1/f corners. Inputs are grounded; what a stage \
                             works between, a sensor and what follows the path add none here."
                        </p>
                        {looped}
                    </div>
                    <div class="noise-charts">
                        {later(|| view! { <charts::OfStage /> }.into_node())}
                        {later(|| view! { <charts::OfPath /> }.into_node())}
                        {later(|| view! { <charts::OfLoop /> }.into_node())}
                    </div>
                </div>
                {later(|| view! { <level::Level /> }.into_node())}
                <div class="noise-tables">
                    {later(|| view! { <tables::Contributors /> }.into_node())}
                    {later(|| view! { <tables::Stages /> }.into_node())}
                </div>
            </Show>
        </section>
    }
}

/// A voltage, rms.
fn volts(value: f64) -> String {
    rounded(value, Unit::Volt, 3)
}

/// At the path's output, and referred to its input.
fn total(noise: &NoiseOutcome) -> impl Content + use<> {
    let NoiseTotal {
        rms,
        gain,
        gain_at,
        input_rms,
    } = noise.path.total;
    let band = format!(
        "from {} to {}",
        rounded(noise.from, Unit::Hertz, 3),
        rounded(noise.to, Unit::Hertz, 3)
    );
    let input = input_rms.map(|input| {
        view! {
            <p class="interval">
                <span data-figure="input-noise" data-value=input.to_string()>{volts(input)}</span>
                {format!(
                    " rms referred to the input: over the largest gain in the band, {} at {}",
                    rounded(gain, Unit::One, 3),
                    rounded(gain_at, Unit::Hertz, 3)
                )}
            </p>
        }
    });
    view! {
        <p class="yield">
            <span class="figure" data-figure="path-noise" data-value=rms.to_string()>{volts(rms)}</span>
            <span class="what">{format!("rms at the path's output, {band}")}</span>
        </p>
        {input}
    }
}

/// Drive and position.
fn round_the_loop(looped: &LoopNoise) -> Node {
    if let Some(why) = looped.why.clone() {
        return view! { <p class="problem">{why}</p> }.into_node();
    }
    let row = |name: &'static str, label: &'static str, value: f64, unit: &str| {
        let unit = looped.units.get(unit).map_or("", String::as_str);
        view! {
            <tr>
                <th scope="row">{label}</th>
                <td class="number" data-figure=name data-value=value.to_string()>
                    {in_unit(value, unit, 3)}
                </td>
            </tr>
        }
    };
    let plant = match looped.is_measured {
        true => "the measured plant",
        false => "the plant's model",
    };
    let told = format!(
        "The path's noise in the closed loop, with {plant}, from {} to {}.",
        rounded(looped.from, Unit::Hertz, 3),
        rounded(looped.to, Unit::Hertz, 3)
    );
    view! {
        <table class="figures">
            <tbody>
                {row("drive-noise", "Drive, rms", looped.drive_rms, "drive_rms")}
                {row("position-noise", "Position, rms", looped.position_rms, "position_rms")}
            </tbody>
        </table>
        <p class="secondary">{told}</p>
    }
    .into_node()
}
