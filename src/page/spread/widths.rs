//! The yield against the width of a figure's limits.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::outcome::FigureSpread;
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::panel::{Panel, Reading};
use crate::page::parts::figure_text;
use crate::plots::{Chart, widths};

#[component]
pub fn YieldAgainstWidth() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let chosen = Held::new(None::<String>);
    let names = memo(move || {
        desk.spread.with(|spread| {
            let spread = spread.as_ref();
            let all = spread.map(|s| widths::limited(s).into_iter().map(|at| &s.figures[at]));
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
    let drawn = memo(move || figure.with(|figure| widths::plot(figure.as_ref()?).map(Arc::new)));
    let options = move || {
        let option = |(name, label): (String, String)| {
            let is_now = now.with_untracked(|now| now.as_ref() == Some(&name));
            view! { <option value=name selected=is_now>{label}</option> }
        };
        names.get().into_iter().map(option).collect_nodes()
    };
    let told = move || {
        figure.with(|figure| {
            let curve = figure.as_ref()?.widths.as_ref()?;
            let unit = figure.as_ref()?.unit;
            Some(format!(
                "1 is the limit as it stands, {} from {}.",
                figure_text(curve.unit, unit),
                figure_text(curve.middle, unit)
            ))
        })
    };
    let told_in_file = memo(move || figure.with(|figure| figure.as_ref().map(widths::note)));
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
                title=Chart::Widths.title()
                file=Chart::Widths.name() legend=Chart::Widths.legend()
                told_in_file
                note="of this figure's limits, all others as they are"
                plot=drawn
                reading
            />
            <p class="secondary">{told}</p>
        </div>
    }
}
