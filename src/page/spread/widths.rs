//! The yield against the width of a figure's limits.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::outcome::{FigureSpread, SpreadOutcome};
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::panel::{Panel, Reading};
use crate::page::parts::figure_text;
use crate::plots::{Axis, Pen, Plot, linear_ticks};

/// Figures whose limits can be widened, by their place among all.
pub(super) fn limited(spread: &SpreadOutcome) -> Vec<usize> {
    let all = spread.figures.iter().enumerate();
    all.filter(|(_, figure)| figure.widths.is_some())
        .map(|(at, _)| at)
        .collect()
}

#[component]
pub fn YieldAgainstWidth() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let chosen = Held::new(None::<String>);
    let names = memo(move || {
        desk.spread.with(|spread| {
            let spread = spread.as_ref();
            let all = spread.map(|s| limited(s).into_iter().map(|at| &s.figures[at]));
            let name = |figure: &FigureSpread| (figure.name.clone(), figure.label.clone());
            all.map(|all| all.map(name).collect::<Vec<_>>())
                .unwrap_or_default()
        })
    });
    let now = memo(move || {
        let names = names.get();
        let taken = chosen
            .get()
            .filter(|name| names.iter().any(|(n, _)| n == name));
        taken.or_else(|| names.first().map(|(name, _)| name.clone()))
    });
    let figure = memo(move || {
        let name = now.get()?;
        desk.spread.with(|spread| {
            let figures = &spread.as_ref()?.figures;
            figures.iter().find(|figure| figure.name == name).cloned()
        })
    });
    let drawn = memo(move || figure.with(|figure| plot(figure.as_ref()?).map(Arc::new)));
    let options = move || {
        let option = |(name, label): (String, String)| {
            let is_now = now.with_untracked(|now| now.as_ref() == Some(&name));
            view! { <option value=name selected=is_now>{label}</option> }
        };
        names.get().into_iter().map(option).collect_nodes()
    };
    let told = move || {
        figure.with(|figure| {
            let widths = figure.as_ref()?.widths.as_ref()?;
            let unit = figure.as_ref()?.unit;
            Some(format!(
                "1 is the limit as it stands, {} from {}.",
                figure_text(widths.unit, unit),
                figure_text(widths.middle, unit)
            ))
        })
    };
    let reading = Reading {
        along: Along::Ratio,
        place: Held::new(None),
        text: Some(super::per_cent),
        unit: None,
    };
    view! {
        <div>
            <div class="field">
                <label for="width-figure">"Limits to widen"</label>
                <select id="width-figure" on:change=move |event| chosen.set(Some(event_target_value(&event)))>{options}</select>
            </div>
            <Panel
                title="Yield against limit width"
                note="of this figure's limits, all others as they are"
                plot=drawn
                reading
            />
            <p class="secondary">{told}</p>
        </div>
    }
}

fn plot(figure: &FigureSpread) -> Option<Plot> {
    let widths = figure.widths.as_ref()?;
    let last = *widths.width.last()?;
    let curve = widths
        .width
        .iter()
        .copied()
        .zip(widths.share.iter().copied());
    Some(Plot {
        x: Axis {
            low: 0.0,
            high: last,
            ticks: linear_ticks(0.0, last, 6, &[1.0, 2.0, 5.0], |v| format!("{v} ×")),
        },
        y: Axis {
            low: 0.0,
            high: 1.02,
            ticks: linear_ticks(0.0, 1.0, 5, &[1.0, 2.0, 2.5, 5.0], |v| {
                format!("{:.0} %", v * 100.0)
            }),
        },
        bands: Vec::new(),
        lines: vec![
            (vec![(1.0, 0.0), (1.0, 1.02)], Pen::Guide),
            (curve.collect(), Pen::Real),
        ],
        points: Vec::new(),
        dots: Vec::new(),
        square: false,
    })
}
