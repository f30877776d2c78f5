//! The Parts region: the schematic, the bill and the figures.

use crate::page::prelude::*;

use super::desk::Desk;
use super::field::Input;
use super::schematic::Schematic;
use super::table::figures;
use crate::design::Group;
use crate::outcome::{FigureOutcome, PartOutcome};
use crate::quantity::{exact, rounded};
use crate::wording::deviation;
pub use crate::wording::figure_text;

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

#[component]
fn Bill() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let rows = move || {
        let pins = desk.group(Group::Pins(desk.form.get().stage));
        let row = |(index, pin)| {
            let part = memo(move || {
                desk.stage
                    .with(|s| s.as_ref().and_then(|s| s.parts.get(index).cloned()))
            });
            let show =
                move |text: fn(&PartOutcome) -> String| move || part.with(|p| p.as_ref().map(text));
            view! {
                <tr>
                    <th scope="row">{show(|p| p.name.clone())}</th>
                    <td class="number secondary">{show(|p| rounded(p.exact, p.unit, 6))}</td>
                    <td
                        class="number bought"
                        data-part=show(|p| p.name.clone())
                        data-value=show(|p| format!("{}", p.value))
                    >
                        {show(|p| exact(p.value, p.unit))}
                    </td>
                    <td class="number">{show(|p| deviation(p.miss))}</td>
                    <td class="pin"><Input field=pin /></td>
                </tr>
            }
        };
        pins.into_iter().enumerate().map(row).collect_nodes()
    };
    view! {
        <table class="bill">
            <thead>
                <tr>
                    <th scope="col">"Part"</th>
                    <th scope="col" class="number">"Exact"</th>
                    <th scope="col" class="number">"Buy"</th>
                    <th scope="col" class="number">"Deviation"</th>
                    <th scope="col">"Fixed value"</th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
        </table>
    }
}

#[component]
fn Figures() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let count = memo(move || {
        desk.stage
            .with(|stage| stage.as_ref().map_or(0, |s| s.figures.len()))
    });
    let rows = move || {
        (0..count.get())
            .map(|index| view! { <FigureRow index /> })
            .collect_nodes()
    };
    view! {
        <h3>"Figures of the response"</h3>
        {figures(&["", "Required", "Ideal op amp", "Real op amp"], rows)}
    }
}

#[component]
fn FigureRow(index: usize) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let figure = memo(move || {
        desk.stage
            .with(|s| s.as_ref().and_then(|s| s.figures.get(index).cloned()))
    });
    let show =
        move |text: fn(&FigureOutcome) -> String| move || figure.with(|f| f.as_ref().map(text));
    view! {
        <tr title=show(|f| f.meaning.clone())>
            <th scope="row">{show(|f| f.label.clone())}</th>
            <td class="number secondary">{show(FigureOutcome::required)}</td>
            <td class="number" data-figure=show(|f| format!("{}-ideal", f.name)) data-value=show(|f| f.ideal.to_string())>
                {show(|f| figure_text(f.ideal, f.unit))}
            </td>
            <td class="number real" data-figure=show(|f| f.name.clone()) data-value=show(|f| f.value.to_string())>
                {show(|f| figure_text(f.value, f.unit))}
            </td>
        </tr>
    }
}
