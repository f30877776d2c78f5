//! Two figures of the first boards against each other, with their limits as a box.

use std::sync::Arc;

use crate::numerics::put_in_order;
use crate::page::prelude::*;

use crate::outcome::{FigureSpread, SpreadOutcome};
use crate::page::desk::Desk;
use crate::page::panel::Panel;
use crate::plots::{Axis, Pen, Plot, linear_ticks};
use crate::quantity::rounded;

#[component]
pub fn Scatter() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let chosen = Held::new((None::<String>, None::<String>));
    let names = memo(move || {
        desk.spread.with(|spread| {
            let figures = spread.as_ref().map_or(&[][..], |s| &s.figures);
            let name = |figure: &FigureSpread| (figure.name.clone(), figure.label.clone());
            figures.iter().map(name).collect::<Vec<_>>()
        })
    });
    // The first two with limits, unless others are chosen.
    let now = memo(move || {
        desk.spread.with(|spread| {
            let spread = spread.as_ref()?;
            let mut order: Vec<usize> = (0..spread.figures.len()).collect();
            put_in_order(&mut order, |a, b| {
                let (a, b) = (&spread.figures[*a], &spread.figures[*b]);
                a.held.is_none().cmp(&b.held.is_none())
            });
            let find = |name: &Option<String>| {
                let name = name.as_ref()?;
                spread
                    .figures
                    .iter()
                    .position(|figure| figure.name == *name)
            };
            chosen.with(|(x, y)| {
                let x = find(x).or(order.first().copied())?;
                let y = find(y).or(order.iter().copied().find(|at| *at != x))?;
                Some((x, y))
            })
        })
    });
    let drawn = memo(move || {
        let (x, y) = now.get()?;
        desk.spread
            .with(|spread| plot(spread.as_ref()?, x, y).map(Arc::new))
    });
    let options = move |is_x: bool| {
        let shown = now.get().map(|(x, y)| if is_x { x } else { y });
        let option = move |(at, (name, label)): (usize, (String, String))| {
            view! { <option value=name selected=shown == Some(at)>{label}</option> }
        };
        names
            .get()
            .into_iter()
            .enumerate()
            .map(option)
            .collect_nodes()
    };
    view! {
        <div>
            <div class="axis-choices">
                <div class="field">
                    <label for="scatter-x">"Horizontal axis"</label>
                    <select id="scatter-x" on:change=move |event| chosen.update(|c| c.0 = Some(event_target_value(&event)))>
                        {move || options(true)}
                    </select>
                </div>
                <div class="field">
                    <label for="scatter-y">"Vertical axis"</label>
                    <select id="scatter-y" on:change=move |event| chosen.update(|c| c.1 = Some(event_target_value(&event)))>
                        {move || options(false)}
                    </select>
                </div>
            </div>
            <Panel
                title="Scatter of boards"
                note="filled: outside a limit; a click shows the board below"
                plot=drawn
                pick=|desk, index| {
                    let number = desk.spread.with_untracked(|spread| spread.as_ref().and_then(|s| number_of(s, index)));
                    desk.board.set(number);
                }
            />
        </div>
    }
}

/// The board behind a point of the plot: good ones come first.
fn number_of(spread: &SpreadOutcome, index: usize) -> Option<u32> {
    let good = &spread.sample.good;
    let of_kind = |kind: bool| (0..good.len()).filter(move |&at| good[at] == kind);
    of_kind(true)
        .chain(of_kind(false))
        .nth(index)
        .map(|number| number as u32)
}

fn plot(spread: &SpreadOutcome, x: usize, y: usize) -> Option<Plot> {
    let sample = &spread.sample;
    let (xs, ys) = (sample.values.get(x)?, sample.values.get(y)?);
    let of_kind = |kind: bool| {
        let all = xs.iter().zip(ys).zip(&sample.good);
        all.filter(|(_, good)| **good == kind)
            .map(|((x, y), _)| (*x, *y))
            .collect::<Vec<_>>()
    };
    let (x, y) = (axis(&spread.figures[x], xs)?, axis(&spread.figures[y], ys)?);
    let upright = |at: f64| (vec![(at, y.0.low), (at, y.0.high)], Pen::Guide);
    let level = |at: f64| (vec![(x.0.low, at), (x.0.high, at)], Pen::Guide);
    let lines = x.1.iter().copied().map(upright);
    let lines = lines.chain(y.1.iter().copied().map(level)).collect();
    Some(Plot {
        x: x.0,
        y: y.0,
        bands: Vec::new(),
        lines,
        points: of_kind(true),
        dots: of_kind(false),
        square: false,
    })
}

/// An axis that holds nearly all values and the limits that are not far off, and these limits.
fn axis(figure: &FigureSpread, values: &[f64]) -> Option<(Axis, Vec<f64>)> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let at = |share: f64| sorted[(last as f64 * share).round() as usize];
    let (mut low, mut high) = (at(0.005), at(0.995));
    let span = (high - low).max(1e-9 * high.abs()).max(f64::MIN_POSITIVE);
    let mut limits = Vec::new();
    for limit in [figure.lowest, figure.highest].into_iter().flatten() {
        if limit > low - 1.5 * span && limit < high + 1.5 * span {
            low = low.min(limit);
            high = high.max(limit);
            limits.push(limit);
        }
    }
    let room = 0.06 * (high - low).max(span);
    let (low, high) = (low - room, high + room);
    let unit = figure.unit;
    let ticks = linear_ticks(low, high, 5, &[1.0, 2.0, 2.5, 5.0], |v| rounded(v, unit, 4));
    Some((Axis { low, high, ticks }, limits))
}
