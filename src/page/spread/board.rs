//! One board of the spread: its parts, its figures, its curve.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::exchange::Order;
use crate::outcome::{BoardOutcome, BoardPart, FigureSpread, SpreadOutcome};
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::engine;
use crate::page::panel::{Panel, Reading};
use crate::page::parts::figure_text;
use crate::plots::{OF_BOARD, of_board};
use crate::quantity::{Unit, rounded};

#[component]
pub fn OneBoard() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let built = desk.built;
    // Built again by the worker, also when the spread is another one.
    Effect::new(move || {
        let number = desk.board.get();
        let boards = desk
            .spread
            .with(|spread| spread.as_ref().map_or(0, |spread| spread.boards));
        let is_there = desk.spread_is_current.get();
        match number.filter(|number| *number < boards) {
            Some(number) if is_there => engine::give(desk, &Order::Board(number)),
            Some(_) => {}
            None => built.set(None),
        }
    });
    let bad = move |forward: bool| {
        let now = desk.board.get_untracked();
        let next = desk.spread.with_untracked(|spread| {
            let bad = &spread.as_ref()?.bad;
            match (now, forward) {
                (None, _) => bad.first().copied(),
                (Some(now), true) => bad
                    .iter()
                    .copied()
                    .find(|n| *n > now)
                    .or(bad.first().copied()),
                (Some(now), false) => {
                    let before = bad.iter().copied().rev().find(|n| *n < now);
                    before.or(bad.last().copied())
                }
            }
        });
        if next.is_some() {
            desk.board.set(next);
        }
    };
    let none_bad = move || {
        desk.spread
            .with(|s| s.as_ref().is_none_or(|s| s.bad.is_empty()))
    };
    let typed = move |event| {
        let text = event_target_value(&event);
        desk.board.set(
            text.trim()
                .parse::<u32>()
                .ok()
                .and_then(|n| n.checked_sub(1)),
        );
    };
    let shown = move || {
        let board = built.get()?;
        desk.spread
            .with(|spread| Some(told(&board, spread.as_ref()?)))
    };
    let curve = memo(move || {
        let board = built.get()?;
        desk.spread
            .with(|spread| of_board(&board, spread.as_ref()?).map(Arc::new))
    });
    let told_in_file = memo(move || {
        built.with(|board| {
            board
                .as_ref()
                .map(|board| format!("board {}", board.number + 1))
        })
    });
    let reading = Reading {
        along: Along::Frequency,
        place: desk.cursor,
        text: Some(|v| figure_text(v, Unit::Decibel)),
        unit: None,
    };
    view! {
        <section class="one-board" aria-labelledby="board-title">
            <h3 id="board-title">"Single board"</h3>
            <form class="buttons" autocomplete="off" method="dialog">
                <label for="board-number">"Board"</label>
                <input
                    id="board-number"
                    type="text"
                    inputmode="numeric"
                    placeholder="number"
                    prop:value=move || desk.board.get().map_or(String::new(), |n| (n + 1).to_string())
                    on:change=typed
                />
                <button type="button" disabled=none_bad on:click=move |_| bad(false)>"Previous failing board"</button>
                <button type="button" disabled=none_bad on:click=move |_| bad(true)>"Next failing board"</button>
                <Show when=move || desk.board.get().is_some()>
                    <button type="button" on:click=move |_| desk.board.set(None)>"Close"</button>
                </Show>
            </form>
            <Show when=move || built.with(Option::is_some)>
                <div class="board-grid">
                    {shown}
                    <Panel title="Magnitude of this board" note="over the band of most boards" plot=curve reading file="board" legend=OF_BOARD.to_vec() told_in_file />
                </div>
            </Show>
        </section>
    }
}

fn told(board: &BoardOutcome, spread: &SpreadOutcome) -> impl Content + use<> {
    let part = |part: &BoardPart| {
        let off = match part.unit {
            Unit::Decibel => format!("{:+.1} dB", part.value - part.marked),
            _ => format!("{:+.2} %", (part.value / part.marked - 1.0) * 100.0),
        };
        view! {
            <tr>
                <th scope="row">{part.label.clone()}</th>
                <td class="number" data-figure=format!("board-{}", part.label.replace(' ', "-")) data-value=part.value.to_string()>
                    {rounded(part.value, part.unit, 5)}
                </td>
                <td class="number">{off.replace('-', "−")}</td>
            </tr>
        }
    };
    let figure = |(figure, (value, holds)): (&FigureSpread, (&f64, &bool))| {
        let judged = figure
            .held
            .map(|_| if *holds { "within" } else { "outside" });
        view! {
            <tr class:missed=!*holds>
                <th scope="row">{figure.label.clone()}</th>
                <td class="number" data-figure=format!("board-{}", figure.name) data-value=value.to_string()>
                    {figure_text(*value, figure.unit)}
                </td>
                <td>{judged}</td>
            </tr>
        }
    };
    let judged = board.figures.iter().zip(&board.holds);
    view! {
        <table class="figures">
            <tbody>{spread.figures.iter().zip(judged).map(figure).collect_nodes()}</tbody>
        </table>
        <table class="figures">
            <tbody>{board.parts.iter().map(part).collect_nodes()}</tbody>
        </table>
    }
}
