//! The Parts region: the schematic, the bill, the figures, and the next-best picks.

use leptos::prelude::*;
use serde_json::Value;

use super::desk::Desk;
use super::field::Input;
use super::schematic::Schematic;
use crate::design::Group;
use crate::outcome::{FigureOutcome, PartOutcome, StageOutcome};
use crate::quantity::{Unit, exact, rounded};

#[component]
pub fn Parts() -> impl IntoView {
    view! {
        <section class="parts" aria-labelledby="parts-title">
            <h2 id="parts-title">"Parts"</h2>
            <Schematic />
            <Bill />
            <Figures />
        </section>
    }
}

/// A relative miss with its sign, in per cent.
fn miss(value: f64) -> String {
    if value.abs() < 5e-6 {
        return "0".into();
    }
    let text = rounded(value, Unit::Percent, 2);
    if value > 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

#[component]
fn Bill() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let pins = desk.group(Group::Pins);
    let rows = pins
        .into_iter()
        .enumerate()
        .map(|(index, pin)| {
            let part = Memo::new(move |_| {
                desk.stage
                    .with(|s| s.as_ref().and_then(|s| s.parts.get(index).cloned()))
            });
            let show =
                move |text: fn(&PartOutcome) -> String| move || part.with(|p| p.as_ref().map(text));
            view! {
                <tr>
                    <th scope="row">{show(|p| p.name.clone())}</th>
                    <td class="number quiet">{show(|p| rounded(p.exact, p.unit, 6))}</td>
                    <td
                        class="number bought"
                        data-part=show(|p| p.name.clone())
                        data-value=show(|p| format!("{}", p.value))
                    >
                        {show(|p| exact(p.value, p.unit))}
                    </td>
                    <td class="number">{show(|p| miss(p.miss))}</td>
                    <td class="pin"><Input field=pin /></td>
                </tr>
            }
        })
        .collect_view();
    view! {
        <table class="bill">
            <thead>
                <tr>
                    <th scope="col">"Part"</th>
                    <th scope="col" class="number">"Exact"</th>
                    <th scope="col" class="number">"Buy"</th>
                    <th scope="col" class="number">"Miss"</th>
                    <th scope="col">"Keep at"</th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
        </table>
    }
}

/// A figure as people read it: fewer digits than scripts get.
pub fn figure_text(value: f64, unit: Unit) -> String {
    if !value.is_finite() {
        return "none".into();
    }
    match unit {
        Unit::Decibel => format!("{} dB", format!("{value:.2}").replace('-', "−")),
        Unit::Degree => format!("{}°", format!("{value:.2}").replace('-', "−")),
        _ => rounded(value, unit, 5),
    }
}

#[component]
fn Figures() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let row = |figure: &FigureOutcome| {
        let asked = match (figure.wanted, figure.lowest, figure.highest) {
            (Some(wanted), ..) => rounded(wanted, figure.unit, 6),
            (None, Some(lowest), None) => format!("≥ {}", rounded(lowest, figure.unit, 6)),
            (None, None, Some(highest)) => format!("≤ {}", rounded(highest, figure.unit, 6)),
            _ => String::new(),
        };
        view! {
            <tr title=figure.meaning.clone()>
                <th scope="row">{figure.label.clone()}</th>
                <td class="number quiet">{asked}</td>
                <td class="number" data-figure=format!("{}-ideal", figure.name) data-value=figure.ideal.to_string()>
                    {figure_text(figure.ideal, figure.unit)}
                </td>
                <td class="number real" data-figure=figure.name.clone() data-value=figure.value.to_string()>
                    {figure_text(figure.value, figure.unit)}
                </td>
            </tr>
        }
    };
    view! {
        <h3>"Figures, read off the curve"</h3>
        <table class="figures">
            <thead>
                <tr>
                    <th scope="col"></th>
                    <th scope="col" class="number">"Asked"</th>
                    <th scope="col" class="number">"Ideal op amp"</th>
                    <th scope="col" class="number">"Real op amp"</th>
                </tr>
            </thead>
            <tbody>{move || desk.stage.get().map(|stage| stage.figures.iter().map(row).collect_view())}</tbody>
        </table>
    }
}

#[component]
pub fn Picks() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let take = move |index: usize| {
        if let Ok(design) = desk
            .design
            .with_untracked(|d| d.with("/stages/0/choice", Value::from(index)))
        {
            desk.put(design);
        }
    };
    let list = move |stage: &StageOutcome| {
        let parts = &stage.parts;
        stage
            .picks
            .iter()
            .enumerate()
            .map(|(index, pick)| {
                let values: Vec<String> = pick
                    .values
                    .iter()
                    .zip(parts)
                    .map(|(&value, part)| exact(value, part.unit).replace([' ', 'Ω', 'F'], ""))
                    .collect();
                let taken = index == stage.choice;
                view! {
                    <tr class:taken=taken>
                        <td>
                            <button type="button" aria-pressed=taken.to_string() on:click=move |_| take(index)>
                                {if taken { "taken".to_owned() } else { format!("take {}", index + 1) }}
                            </button>
                        </td>
                        {values.into_iter().map(|v| view! { <td class="number">{v}</td> }).collect_view()}
                        <td class="number">{rounded(pick.miss, Unit::Percent, 2)}</td>
                        <td class="trade">{pick.trade.clone()}</td>
                    </tr>
                }
            })
            .collect_view()
    };
    let heads = move || {
        desk.stage.get().map(|stage| {
            let heads = stage
                .parts
                .iter()
                .map(|p| view! { <th scope="col" class="number">{p.name.clone()}</th> });
            heads.collect_view()
        })
    };
    view! {
        <section class="picks" aria-labelledby="picks-title">
            <h2 id="picks-title">"Picks"</h2>
            <div class="scroll" tabindex="0" role="region" aria-label="Next-best picks">
                <table>
                    <thead>
                        <tr>
                            <th scope="col"></th>
                            {heads}
                            <th scope="col" class="number" title="Worst miss as a share of its limit">"Of limit"</th>
                            <th scope="col">"Against the best"</th>
                        </tr>
                    </thead>
                    <tbody>{move || desk.stage.get().map(|stage| list(&stage))}</tbody>
                </table>
            </div>
        </section>
    }
}
