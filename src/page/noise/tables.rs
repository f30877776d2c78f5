//! Contributors of the shown stage, and stages at the path's output.

use crate::page::prelude::*;

use super::volts;
use crate::design::with_unit;
use crate::outcome::{LoopNoise, NoiseContributor, NoiseOutcome};
use crate::page::desk::Desk;
use crate::quantity::{Unit, rounded};
use crate::wording::estimate;

/// What each part of the shown stage adds at its output, most first.
#[component]
pub fn Contributors() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let shown = memo(move || desk.form.with(|form| form.stage));
    let table = move || {
        let place = shown.get();
        desk.noise.with(|noise| {
            let noise = noise.as_ref()?;
            Some(contributors(noise, place))
        })
    };
    view! {
        <div>
            <h3>{move || format!("Contributors of stage {}, at its output", shown.get() + 1)}</h3>
            <div class="scroll" tabindex="0" role="region" aria-label="Noise by contributor">{table}</div>
        </div>
    }
}

fn contributors(noise: &NoiseOutcome, place: usize) -> Node {
    let Some(stage) = noise.stages.get(place) else {
        return Node::Nothing;
    };
    let row = |one: &NoiseContributor| {
        view! {
            <tr>
                <th scope="row">{one.part.clone()}</th>
                <td>{one.words()}</td>
                <td class="number" data-contributor=format!("{} {}", one.part, one.words()) data-value=one.rms.to_string()>
                    {volts(one.rms)}
                </td>
                <td class="number">{estimate(one.share)}</td>
            </tr>
        }
    };
    let rows = stage.contributors.iter().map(row).collect_nodes();
    let limit = stage.limit.map(|limit| {
        let is_held = stage.total.rms <= limit;
        let told = match is_held {
            true => format!("Allowed: {}.", volts(limit)),
            false => format!(
                "Allowed: {}. It is {} times as much.",
                volts(limit),
                rounded(stage.total.rms / limit, Unit::One, 3)
            ),
        };
        view! { <p class=if is_held { "secondary" } else { "problem" }>{told}</p> }
    });
    view! {
        <table class="figures">
            <thead>
                <tr>
                    <th scope="col">"Part"</th>
                    <th scope="col">"Kind"</th>
                    <th scope="col" class="number">"rms"</th>
                    <th scope="col" class="number">"Share"</th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
            <tfoot>
                <tr>
                    <th scope="row" colspan="2">"All"</th>
                    <td class="number" data-figure="stage-noise" data-value=stage.total.rms.to_string()>{volts(stage.total.rms)}</td>
                    <td></td>
                </tr>
            </tfoot>
        </table>
        {limit}
    }
    .into_node()
}

/// What each stage adds at the path's output and round the loop, where there is more than one.
#[component]
pub fn Stages() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let titles = memo(move || {
        let titles = |stages: &Vec<std::sync::Arc<crate::outcome::StageOutcome>>| {
            let titles = stages.iter().map(|stage| stage.title.clone());
            titles.collect::<Vec<_>>()
        };
        desk.stages.with(titles)
    });
    let table = move || {
        let titles = titles.get();
        desk.noise.with(|noise| {
            let noise = noise.as_ref().filter(|noise| noise.stages.len() > 1)?;
            Some(stages(noise, &titles))
        })
    };
    table.into_node()
}

fn stages(noise: &NoiseOutcome, titles: &[String]) -> Node {
    let looped = noise.looped.as_ref().filter(|looped| looped.why.is_none());
    let in_loop = |place: usize| {
        let looped: &LoopNoise = looped?;
        let own = looped.stages.get(place)?;
        let cell = |value: f64, name: &str| {
            let unit = looped.units.get(name).map_or("", String::as_str);
            let text = with_unit(rounded(value, Unit::One, 3), unit);
            view! { <td class="number">{text}</td> }
        };
        Some(view! {
            {cell(own.drive_rms, "drive_rms")}
            {cell(own.position_rms, "position_rms")}
        })
    };
    let row = |(place, stage): (usize, &crate::outcome::StageShare)| {
        let title = titles.get(place).cloned().unwrap_or_default();
        let own = noise.stages.get(place).map(|own| volts(own.total.rms));
        view! {
            <tr>
                <th scope="row">{format!("{} {title}", place + 1)}</th>
                <td class="number">{own}</td>
                <td class="number">{volts(stage.rms)}</td>
                <td class="number">{estimate(stage.share)}</td>
                {in_loop(place)}
            </tr>
        }
    };
    let rows = noise
        .path
        .stages
        .iter()
        .enumerate()
        .map(row)
        .collect_nodes();
    let heads = looped.map(|_| {
        view! {
            <th scope="col" class="number">"Drive"</th>
            <th scope="col" class="number">"Position"</th>
        }
    });
    view! {
        <div>
            <h3>"Stages"</h3>
            <div class="scroll" tabindex="0" role="region" aria-label="Noise by stage">
                <table class="figures">
                    <thead>
                        <tr>
                            <th scope="col">"Stage"</th>
                            <th scope="col" class="number">"At its output"</th>
                            <th scope="col" class="number">"At the path's"</th>
                            <th scope="col" class="number">"Share"</th>
                            {heads}
                        </tr>
                    </thead>
                    <tbody>{rows}</tbody>
                </table>
            </div>
        </div>
    }
    .into_node()
}
