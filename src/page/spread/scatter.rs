//! Two figures of the first boards against each other, with their limits as a box.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::outcome::{FigureSpread, SpreadOutcome};
use crate::page::desk::Desk;
use crate::page::panel::Panel;
use crate::plots::{Chart, scatter};

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
            let order = scatter::limited_first(spread);
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
            .with(|spread| scatter::plot(spread.as_ref()?, x, y).map(Arc::new))
    });
    let told_in_file = memo(move || {
        let (x, y) = now.get()?;
        desk.spread
            .with(|spread| scatter::note(spread.as_ref()?, x, y))
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
                title=Chart::Scatter.title()
                file=Chart::Scatter.name() legend=Chart::Scatter.legend()
                told_in_file
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
