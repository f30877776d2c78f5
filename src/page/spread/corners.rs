//! The worst case: how far each figure can get, and the parts that take it there.

use crate::page::prelude::*;

use crate::outcome::{BoardPart, CornerBoard, CornersOutcome, FigureCorners};
use crate::page::desk::Desk;
use crate::page::parts::figure_text;
use crate::quantity::{Unit, rounded};

#[component]
pub fn Corners() -> impl IntoView {
    let desk = expect_context::<Desk>();
    // The figure whose boards are shown.
    let opened = Held::new(None::<String>);
    let table = move || {
        let corners = desk.corners.get()?;
        let open = opened.get();
        let rows = corners.figures.iter();
        let rows = rows.map(|figure| row(figure, open.as_ref() == Some(&figure.name), opened));
        Some(view! {
            <table class="figures corners">
                <thead>
                    <tr>
                        <th scope="col"></th>
                        <th scope="col" class="number">"Lowest"</th>
                        <th scope="col" class="number">"Highest"</th>
                        <th scope="col">"Limits"</th>
                        <th scope="col"></th>
                    </tr>
                </thead>
                <tbody>{rows.collect_nodes()}</tbody>
            </table>
            <p class="secondary">{stated(&corners)}</p>
        })
    };
    view! {
        <section class="worst-case" aria-labelledby="corners-title" aria-busy=move || (!desk.contributions_are_current.get()).to_string()>
            <h3 id="corners-title">"Worst case"</h3>
            <div class="wide-table">{table}</div>
        </section>
    }
}

fn stated(corners: &CornersOutcome) -> String {
    format!(
        "Every part at either end of its tolerance, drift and ageing: {}. {} boards were evaluated, those not at a corner among them.",
        corners.method, corners.boards
    )
}

fn row(
    figure: &FigureCorners,
    is_open: bool,
    opened: Held<Option<String>>,
) -> impl Content + use<> {
    let end = |board: &CornerBoard, which: &str| {
        let text = figure_text(board.value, figure.unit);
        view! {
            <td class="number" data-figure=format!("corner-{}-{which}", figure.name) data-value=board.value.to_string()>
                {text}
                {board.is_inside.then(|| view! { <span class="at">"not at a corner"</span> })}
            </td>
        }
    };
    let judged = figure
        .holds
        .map(|holds| if holds { "met" } else { "not met" });
    let name = figure.name.clone();
    let spoken = match is_open {
        true => format!("Close the parts at the extremes of {}", figure.label),
        false => format!("Parts at the extremes of {}", figure.label),
    };
    let press = move |_| opened.set((!is_open).then(|| name.clone()));
    let more = is_open.then(|| {
        let unread = (figure.unreadable > 0).then(|| {
            format!(
                " It cannot be read on {} of the boards evaluated.",
                figure.unreadable
            )
        });
        view! {
            <tr class="corner-parts">
                <td colspan="5">
                    <p class="secondary">{figure.guarantee.clone()}{unread}</p>
                    {parts(&figure.lowest, &figure.highest)}
                </td>
            </tr>
        }
    });
    view! {
        <tr class:missed=figure.holds == Some(false)>
            <th scope="row">{figure.label.clone()}</th>
            {end(&figure.lowest, "low")}
            {end(&figure.highest, "high")}
            <td>{judged}</td>
            <td>
                <button type="button" aria-expanded=is_open.to_string() aria-label=spoken on:click=press>
                    {if is_open { "Close" } else { "Parts" }}
                </button>
            </td>
        </tr>
        {more}
    }
}

/// The parts of both boards, side by side.
fn parts(lowest: &CornerBoard, highest: &CornerBoard) -> impl Content + use<> {
    let off = |part: &BoardPart| {
        let off = match part.unit {
            Unit::Decibel => format!("{:+.1} dB", part.value - part.marked),
            _ => format!("{:+.2} %", (part.value / part.marked - 1.0) * 100.0),
        };
        let value = rounded(part.value, part.unit, 5);
        format!("{value} ({})", off.replace('-', "−"))
    };
    let pairs = lowest.parts.iter().zip(&highest.parts);
    let rows = pairs.map(|(low, high)| {
        view! {
            <tr>
                <th scope="row">{low.label.clone()}</th>
                <td class="number">{off(low)}</td>
                <td class="number">{off(high)}</td>
            </tr>
        }
    });
    view! {
        <table class="figures">
            <thead>
                <tr>
                    <th scope="col"></th>
                    <th scope="col" class="number">"At the lowest value"</th>
                    <th scope="col" class="number">"At the highest value"</th>
                </tr>
            </thead>
            <tbody>{rows.collect_nodes()}</tbody>
        </table>
    }
}
