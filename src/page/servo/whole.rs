//! The loop as a whole: one ask, one answer, one click.

use crate::page::prelude::*;

use crate::compensation::{ALLOWANCE, Role, WholeStage};
use crate::design::{Field, Group, WholeAsk};
use crate::outcome::WholeHelp;
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::page::focus;
use crate::page::parts::figure_text;
use crate::quantity::{Unit, rounded, to_digits};
use crate::stages::catalogued;
use crate::wording::capital;

/// What every ask says; the rest is folded.
const FIRST: [&str; 4] = ["crossover", "phase_margin", "level_db", "form"];

#[component]
pub fn Whole() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let form = memo(move || desk.form.with(|form| form.plant.clone()));
    let is_asked = memo(move || form.with(|form| form.whole.is_some()));
    let toggle = move |_| {
        let model = desk
            .servo
            .with_untracked(|servo| servo.as_ref()?.plant.model.clone());
        desk.edit_plant(|servo| {
            servo.whole = match servo.whole {
                Some(_) => None,
                None => Some(
                    model
                        .as_ref()
                        .map_or_else(WholeAsk::default, WholeAsk::first),
                ),
            };
        });
    };
    let fields = move || {
        form.track();
        let (first, rest): (Vec<Field>, Vec<Field>) = desk
            .group(Group::Whole)
            .into_iter()
            .partition(|field| FIRST.iter().any(|name| field.path.ends_with(name)));
        is_asked.get().then(|| {
            view! {
                <Fields fields=first />
                <details class="more">
                    <summary>"Peak limits, roll-off, corners, notch tolerances"</summary>
                    <Fields fields=rest />
                </details>
            }
        })
    };
    let told = move || {
        is_asked.get().then_some(())?;
        let help = desk.help.with(|help| help.as_ref()?.whole.clone())?;
        Some(answer(desk, help))
    };
    view! {
        <div class="whole-loop">
            <p class="buttons">
                <button type="button" aria-pressed=move || is_asked.get().to_string() on:click=toggle>
                    "Controller and notches for one crossover"
                </button>
            </p>
            <div class="loop-grid">
                <div class="loop-results">{fields}</div>
                <div class="loop-results">{told}</div>
            </div>
        </div>
    }
}

fn answer(desk: Desk, help: WholeHelp) -> impl Content {
    let is_in = help.now.as_ref().is_some_and(|now| now.is_in);
    let off = help.now.as_ref().filter(|now| now.is_in && !now.holds);
    let off = off.map(|now| {
        let lines = now.off.iter().map(|line| view! { <li>{line.clone()}</li> });
        view! {
            <div class="problem" role="alert">
                <p>"The loop no longer meets its requirements:"</p>
                <ul>{lines.collect_nodes()}</ul>
            </div>
        }
    });
    let words = match (is_in, off.is_some(), help.stages.len()) {
        (true, true, _) => "Shape again".to_owned(),
        (true, false, count) => format!("Put these {count} stages in place of the earlier ones"),
        (false, _, 1) => "Put this stage in the path".to_owned(),
        (false, _, count) => format!("Put these {count} stages in the path"),
    };
    let now_holds = help.now.as_ref().map(|now| now.holds.to_string());
    let verdict = if help.holds {
        format!(
            "These stages, off the shelf and with the real op amp, meet every requirement, {ALLOWANCE}"
        )
    } else {
        "No stages were found that meet every requirement; these come closest".to_owned()
    };
    let verdict = (!help.stages.is_empty()).then_some(verdict);
    let lines = help
        .told
        .iter()
        .map(|line| view! { <li>{line.clone()}</li> });
    let lines = lines.collect_nodes();
    let crossover = help.reading.as_ref().and_then(|reading| reading.crossover);
    let margin = help
        .reading
        .as_ref()
        .and_then(|reading| reading.phase_margin);
    let figure = |value: Option<f64>| value.map(|value| value.to_string());
    let stages = table(&help);
    let peaks = peaks(&help);
    let others = runners_up(&help);
    let nearest = easier(desk, &help);
    let has_reading = help.reading.is_some();
    let holds = help.holds.to_string();
    let button = (!help.stages.is_empty()).then(|| {
        let take = move |_| {
            focus::to_asked();
            desk.edit_path(|design| help.put_in(design));
        };
        // What is shown may be the answer to the ask before.
        let is_stale = move || !desk.spread_is_current.get();
        view! {
            <p class="buttons">
                <button type="button" class="take" disabled=is_stale on:click=take>{words}</button>
            </p>
        }
    });
    view! {
        {off}
        <p data-figure="whole-holds" data-value=holds>
            <strong data-figure="whole-now-holds" data-value=now_holds>{verdict}</strong>
        </p>
        {button}
        <ul class="notes">{lines}</ul>
        {nearest}
        {stages}
        <div class="scroll" tabindex="0" role="region" aria-label="The resulting loop" hidden=!has_reading>
            <table class="figures">
                <tbody>
                    <tr>
                        <th scope="row">"Resulting crossover"</th>
                        <td class="number" data-figure="whole-crossover" data-value=figure(crossover)>
                            {crossover.map(|f| rounded(f, Unit::Hertz, 4))}
                        </td>
                    </tr>
                    <tr>
                        <th scope="row">"Resulting phase margin"</th>
                        <td class="number" data-figure="whole-phase-margin" data-value=figure(margin)>
                            {margin.map(|margin| figure_text(margin, Unit::Degree))}
                        </td>
                    </tr>
                    {peaks}
                </tbody>
            </table>
        </div>
        {others}
    }
}

/// Buttons that ask for what can be had, each with the other wishes kept.
fn easier(desk: Desk, help: &WholeHelp) -> impl Content + use<> {
    let button = |words: String, edit: Box<dyn Fn(&mut WholeAsk) + Send>| {
        let ask = move |_| {
            focus::to_asked();
            desk.edit_plant(|servo| {
                if let Some(whole) = &mut servo.whole {
                    edit(whole);
                }
            });
        };
        view! { <button type="button" on:click=ask>{words}</button> }
    };
    let nearest = help.nearest.unwrap_or_default();
    // A hair on the safe side of what was found.
    let crossover = nearest.crossover.or(help.below_first).map(|f| {
        let f = to_digits(0.99 * f, 3);
        let words = format!("Require {} instead", rounded(f, Unit::Hertz, 3));
        button(words, Box::new(move |ask| ask.crossover = f))
    });
    let margin = nearest
        .phase_margin
        .filter(|margin| *margin > 2.0)
        .map(|margin| {
            let margin = (margin - 0.5).floor();
            let words = format!("Require a margin of {margin:.0}° instead");
            button(words, Box::new(move |ask| ask.phase_margin = margin))
        });
    view! { <p class="buttons">{crossover} {margin}</p> }
}

/// What a stage is there for.
fn role(stage: &WholeStage) -> String {
    match &stage.role {
        Role::Controller(name) => capital(name),
        Role::Amplifier => "Amplifier".to_owned(),
        Role::Notch { mode } => format!("Notch for mode {}", mode + 1),
        Role::LowPass => "Low-pass".to_owned(),
    }
}

fn table(help: &WholeHelp) -> impl Content + use<> {
    let row = |stage: &WholeStage| {
        let title = catalogued(&stage.circuit).map_or("", |circuit| circuit.title());
        view! {
            <tr>
                <th scope="row">{role(stage)}</th>
                <td>{title}</td>
                <td class="number">{figure_text(stage.gain_db, Unit::Decibel)}</td>
                <td class="number">{figure_text(stage.phase_deg, Unit::Degree)}</td>
            </tr>
        }
    };
    let rows = help.stages.iter().map(row).collect_nodes();
    (!help.stages.is_empty()).then(|| {
        view! {
            <div class="scroll" tabindex="0" role="region" aria-label="Stages of the help">
                <table class="figures">
                    <thead>
                        <tr>
                            <th scope="col">"Stage"</th>
                            <th scope="col">"Circuit"</th>
                            <th scope="col" class="number">"Gain at crossover"</th>
                            <th scope="col" class="number">"Phase at crossover"</th>
                        </tr>
                    </thead>
                    <tbody>{rows}</tbody>
                </table>
            </div>
        }
    })
}

/// What is left of each peak against what is asked.
fn peaks(help: &WholeHelp) -> impl Content + use<> {
    let peaks = help.reading.iter().flat_map(|reading| &reading.peaks);
    let rows = peaks.map(|peak| {
        let asked = figure_text(peak.level_db, Unit::Decibel);
        view! {
            <tr>
                <th scope="row">{format!("Peak of mode {}, {}", peak.mode + 1, rounded(peak.frequency, Unit::Hertz, 3))}</th>
                <td class="number" data-figure=format!("whole-peak-{}", peak.mode + 1) data-value=peak.worst_db.to_string()>
                    {figure_text(peak.worst_db, Unit::Decibel)} <span class="at">{format!("(limit {asked})")}</span>
                </td>
            </tr>
        }
    });
    rows.collect_nodes()
}

fn runners_up(help: &WholeHelp) -> impl Content + use<> {
    let rows = help.runners_up.iter().map(|other| {
        let low_pass = other.low_pass.map_or(String::new(), |order| {
            format!(" with a low-pass of order {order}")
        });
        let verdict = match (other.holds, other.failed) {
            (_, true) => "not with real parts",
            (true, false) => "meets the requirement",
            (false, false) => "falls short",
        };
        view! {
            <tr>
                <th scope="row">{format!("{}{low_pass}", capital(&other.form))}</th>
                <td class="number">{figure_text(other.phase_margin, Unit::Degree)}</td>
                <td class="number">{other.stages}</td>
                <td class="number">{figure_text(other.noise_gain_db, Unit::Decibel)}</td>
                <td>{verdict}</td>
            </tr>
        }
    });
    let rows = rows.collect_nodes();
    (!help.runners_up.is_empty()).then(|| {
        view! {
            <details class="more">
                <summary>"Other controllers"</summary>
                <div class="scroll" tabindex="0" role="region" aria-label="Other controllers">
                    <table class="figures">
                        <thead>
                            <tr>
                                <th scope="col">"Controller"</th>
                                <th scope="col" class="number">"Phase margin"</th>
                                <th scope="col" class="number">"Stages"</th>
                                <th scope="col" class="number">"Gain above crossover"</th>
                                <th scope="col"></th>
                            </tr>
                        </thead>
                        <tbody>{rows}</tbody>
                    </table>
                </div>
            </details>
        }
    })
}
