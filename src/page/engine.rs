//! Keeps the results true to the design: gives the worker every change, and shows what it finds.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use crate::page::prelude::*;

use super::desk::Desk;
use super::document::export;
use super::sheet;
use super::solver::{Heard, Solver};
use super::trouble::{self, Trouble};
use super::turns;
use crate::exchange::{Order, Report};
use crate::outcome::{OtherOutcome, Outcome};

/// Hears reports on texts, and None when the worker is gone with what it was to read.
type Listener = Box<dyn Fn(Option<&Report>)>;

thread_local! {
    static SOLVER: RefCell<Option<Solver>> = const { RefCell::new(None) };
    /// Counts changes of the design.
    static EDIT: Cell<u32> = const { Cell::new(0) };
    /// The number of the worker that takes the next order: what one was given the next does not know.
    static WORKER: Cell<u32> = const { Cell::new(1) };
    static TEXTS: RefCell<Vec<Listener>> = const { RefCell::new(Vec::new()) };
}

/// Solves the design now and whenever it changes, and keeps `body[data-state]`.
pub fn run(desk: Desk) {
    Effect::new(move || {
        desk.design.track();
        solve(desk);
    });
    Effect::new(move || tell_state(desk));
    trouble::watch(desk);
}

/// How the results stand to the design.
fn state(desk: Desk) -> &'static str {
    if desk.in_error() {
        "error"
    } else if desk.spread_is_current.get() && !desk.looks_through.get() {
        READY
    } else {
        "working"
    }
}

const READY: &str = "ready";

/// Says it on the body; that all is ready, when it is drawn.
fn tell_state(desk: Desk) {
    match state(desk) {
        READY => turns::at_rest(move || mark_body(state(desk))),
        other => mark_body(other),
    }
}

fn mark_body(state: &str) {
    let Some(body) = document().body() else {
        return;
    };
    let stale = if state == "error" { "true" } else { "false" };
    for (name, value) in [("data-state", state), ("data-stale", stale)] {
        // A changed attribute of the body has the browser look at every style again.
        if body.get_attribute(name).as_deref() != Some(value) {
            // Only fails on a name that is not well formed.
            let _ = body.set_attribute(name, value);
        }
    }
}

/// Which worker takes the next order, from 1: one that was replaced has taken all that it was given with it.
pub fn worker() -> u32 {
    WORKER.get()
}

/// The number of the last change of the design.
pub fn edit() -> u32 {
    EDIT.get()
}

/// Gives an order; starts a worker where there is none.
pub fn give(desk: Desk, order: &Order) {
    trouble::ordered(order);
    SOLVER.with_borrow_mut(|solver| {
        if solver.is_none() {
            match Solver::start(move |heard| hear(desk, heard)) {
                Ok(started) => *solver = Some(started),
                Err(words) => desk.trouble.set(Some(Trouble::NotStarted(words))),
            }
        }
        if let Some(solver) = solver {
            solver.give(order);
        }
    });
}

/// Ends the worker with all that it is at; the next order starts another.
pub fn stop() {
    SOLVER.take();
    WORKER.set(WORKER.get().wrapping_add(1));
    tell_of_texts(None);
    sheet::forget();
}

/// Has reports on texts go there, too.
pub fn hear_of_texts(listener: impl Fn(Option<&Report>) + 'static) {
    TEXTS.with_borrow_mut(|listeners| listeners.push(Box::new(listener)));
}

fn tell_of_texts(report: Option<Report>) {
    TEXTS.with_borrow(|listeners| {
        for listener in listeners {
            listener(report.as_ref());
        }
    });
}

/// Gives the design to the worker; what still holds of what was found is kept there.
fn solve(desk: Desk) {
    let current = [
        desk.spread_is_current,
        desk.others_are_current,
        desk.proposals_are_current,
        desk.contributions_are_current,
        desk.bench_is_current,
    ];
    current
        .into_iter()
        .for_each(|is_current| is_current.set(false));
    desk.trouble.set(None);
    // At once: who has seen the edit must not find the state of before.
    untrack(|| tell_state(desk));
    let edit = EDIT.get().wrapping_add(1);
    EDIT.set(edit);
    let design = desk.text.get_untracked().to_string();
    give(desk, &Order::Solve { edit, design });
}

fn hear(desk: Desk, heard: Heard) {
    match heard {
        Heard::Report(report) => {
            trouble::heard(desk, &report, EDIT.get());
            take(desk, report);
        }
        Heard::Died { was_ready, words } => {
            stop();
            trouble::died(desk, was_ready, words);
        }
    }
}

/// Shows what is reported. What was found for an earlier design is shown too, as long as nothing newer is there.
fn take(desk: Desk, report: Report) {
    let is_latest = |edit: u32| edit == EDIT.get();
    match report {
        Report::Ready => {}
        Report::Progress {
            edit,
            field,
            share,
            boards,
        } => {
            if is_latest(edit) && matches!(field.as_str(), "boards" | "loops") {
                desk.progress.set(share);
                desk.so_far.set(boards);
            }
        }
        Report::Found {
            field,
            told,
            is_current,
        } => show(desk, &field, *told, is_current),
        Report::Settled { edit, field } => {
            if is_latest(edit) {
                settle(desk, &field);
            }
        }
        Report::Refused { edit, errors } => {
            let same = desk.refused.with_untracked(|refused| *refused == errors);
            if is_latest(edit) && !same {
                desk.refused.set(errors);
            }
        }
        Report::Done { .. } => {}
        Report::Board { number, board } => {
            let board = board.map(|board| Arc::new(*board));
            if desk.board.get_untracked() == Some(number) {
                desk.built.set(board);
            }
        }
        Report::Read { .. } | Report::Kept { .. } => tell_of_texts(Some(report)),
        Report::Available(there) => {
            if desk.available.with_untracked(|known| *known != there) {
                desk.available.set(there);
            }
        }
        Report::Exported { what, file } => export::save(desk, what, file),
        Report::Sheet { edit, text } => sheet::take(desk, edit, &text),
        // Scripts have a worker of their own.
        Report::Answer { .. } => {}
    }
}

/// A field of the outcome belongs to the design again, or nothing can be done about it.
fn settle(desk: Desk, field: &str) {
    match field {
        "loops" => {
            desk.progress.set(1.0);
            desk.spread_is_current.set(true);
        }
        "blame" => desk.contributions_are_current.set(true),
        "others" => desk.others_are_current.set(true),
        "bench" => desk.bench_is_current.set(true),
        "proposals" => desk.proposals_are_current.set(true),
        _ => {}
    }
}

/// Shows a field of the outcome.
fn show(desk: Desk, field: &str, told: Outcome, is_current: bool) {
    match field {
        "stages" => show_stages(desk, told),
        "path" => put(desk.path, told.path),
        "filter" => put(desk.filter, told.filter),
        "shaft" => put(desk.shaft, told.shaft),
        "servo" => put(desk.servo, told.servo),
        "motion" => put(desk.motion, told.motion),
        "help" => put(desk.help, told.help),
        "supply" => put(desk.supply, told.supply),
        "demands" => put(desk.demands, told.demands),
        "bench" => put(desk.bench, told.bench),
        "noise" => put(desk.noise, told.noise),
        "spread" => put(desk.spread, told.spread),
        "loops" => put(desk.loops, told.loops),
        "corners" => put(desk.corners, told.corners),
        "blame" => put(desk.contributions, told.contributions),
        "others" => {
            show_others(desk, told.others, !is_current);
            if is_current {
                desk.better.set(told.better);
            }
        }
        "proposals" => put(desk.proposals, told.proposals),
        _ => {}
    }
}

/// Has a signal hold what was found; what it holds already is not drawn again.
fn put<T>(signal: Held<Option<Arc<T>>>, found: Option<T>)
where
    T: PartialEq + Send + Sync + 'static,
{
    if signal.with_untracked(|known| known.as_deref() != found.as_ref()) {
        signal.set(found.map(Arc::new));
    }
}

fn show_stages(desk: Desk, told: Outcome) {
    let shown = told.stages.get(told.shown).cloned();
    let circuit = shown.as_ref().map(|stage| &stage.circuit);
    let is_other = desk
        .stage
        .with_untracked(|known| known.as_ref().map(|s| &s.circuit) != circuit);
    if is_other {
        // Another circuit's parts go by the same names.
        desk.corners.set(None);
        desk.contributions.set(None);
    }
    // What is the same already is not drawn again: a change of the plant leaves the stages as they are.
    let same = desk.stages.with_untracked(|known| {
        let pairs = known.iter().zip(&told.stages);
        known.len() == told.stages.len() && pairs.into_iter().all(|(a, b)| **a == *b)
    });
    if !same {
        desk.stages
            .set(told.stages.into_iter().map(Arc::new).collect());
    }
    put(desk.stage, shown);
}

/// Shows the table of other circuits; while more of its rows are to come, those of before stand below.
fn show_others(desk: Desk, found: Vec<OtherOutcome>, more_follow: bool) {
    let mut rows: Vec<Arc<OtherOutcome>> = found.into_iter().map(Arc::new).collect();
    let same = desk.others.with_untracked(|shown| {
        let is_alike = |(a, b): (&Arc<OtherOutcome>, &Arc<OtherOutcome>)| a.circuit == b.circuit;
        if more_follow && rows.len() < shown.len() && rows.iter().zip(shown).all(is_alike) {
            rows.extend(shown[rows.len()..].iter().cloned());
        }
        *shown == rows
    });
    if !same {
        desk.others.set(rows);
    }
}
