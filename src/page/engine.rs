//! Keeps the results true to the design, in slices that leave the frame free.

use std::cell::RefCell;
use std::sync::Arc;

use leptos::prelude::*;

use super::desk::Desk;
use super::turn;
use crate::design::Design;
use crate::outcome::{BoardOutcome, OtherOutcome, Outcome};
use crate::solve::{Step, Work};

/// Longest stretch of work without giving the page its turn, ms; what is begun is finished on top.
const SLICE: f64 = 7.0;

thread_local! {
    static WORK: RefCell<Option<Work>> = const { RefCell::new(None) };
}

/// Solves the design now and whenever it changes, and keeps `body[data-state]`.
pub fn run(desk: Desk) {
    Effect::new(move || start(desk, &desk.design.get()));
    Effect::new(move || {
        let state = if desk.in_error() {
            "error"
        } else if desk.spread_is_current.get() && !desk.looks_through.get() {
            "ready"
        } else {
            "working"
        };
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
    });
}

/// One board of the spread that is shown, built again.
pub fn board(number: u32) -> Option<BoardOutcome> {
    WORK.with_borrow(|work| work.as_ref()?.board(number))
}

/// Goes on with this design; what still holds of what was found is kept.
fn start(desk: Desk, design: &Design) {
    let current = [
        desk.spread_is_current,
        desk.others_are_current,
        desk.proposals_are_current,
        desk.blame_is_current,
    ];
    current
        .into_iter()
        .for_each(|is_current| is_current.set(false));
    turn::drop_next();
    let changed = WORK.with_borrow_mut(|known| match known {
        Some(work) => work.change(design),
        None => Work::begin(design).map(|work| *known = Some(work)),
    });
    match changed {
        Ok(()) => slice(desk),
        Err(errors) => {
            desk.refused.set(errors);
            super::fragment::write(desk);
        }
    }
}

/// One slice; arranges for the next.
fn slice(desk: Desk) {
    let clock = window().performance();
    let now = || clock.as_ref().map_or(0.0, web_sys::Performance::now);
    let begin = now();
    let Some(mut work) = WORK.take() else { return };
    // Whether there is something new that the user waits for.
    let mut is_awaited = false;
    let mut is_done = false;
    // Short steps share a slice.
    let mut stretch = SLICE / 3.0;
    while now() < begin + stretch {
        let field = match work.advance(&mut || now() < begin + SLICE) {
            Step::Working { field, share } => {
                if matches!(field, "boards" | "loops") {
                    desk.progress.set(share);
                    desk.so_far.set(work.so_far());
                }
                continue;
            }
            Step::Found(field) | Step::Dropped(field) => {
                show(desk, field, &work);
                match field {
                    "path" => {
                        is_awaited = true;
                        // Path and loop share a frame, if the plant's model is known already.
                        let loop_follows = desk.form.with_untracked(|form| form.plant.is_there());
                        stretch = if loop_follows { SLICE } else { 0.0 };
                    }
                    "servo" => (is_awaited, stretch) = (true, 0.0),
                    "spread" | "loops" => stretch = 0.0,
                    _ => {}
                }
                field
            }
            Step::Failed(field) => {
                desk.refused.set(work.errors());
                field
            }
            Step::Kept(field) => field,
            Step::Done => {
                is_done = true;
                break;
            }
        };
        settle(desk, field, &work);
    }
    // Kept when it is done, too: the next design may take over what still holds.
    WORK.set(Some(work));
    match (is_done, is_awaited) {
        (true, _) => {}
        (false, true) => turn::after_frame(move || slice(desk)),
        (false, false) => turn::after(move || slice(desk)),
    }
}

/// A field of the outcome belongs to the design again, or nothing can be done about it.
fn settle(desk: Desk, field: &str, work: &Work) {
    match field {
        "path" if work.errors().is_empty() && is_refused(desk) => desk.refused.set(Vec::new()),
        "loops" => {
            desk.progress.set(1.0);
            desk.spread_is_current.set(true);
        }
        "blame" => desk.blame_is_current.set(true),
        "others" if !work.is_stale("others") => desk.others_are_current.set(true),
        "proposals" => desk.proposals_are_current.set(true),
        _ => {}
    }
}

fn is_refused(desk: Desk) -> bool {
    desk.refused.with_untracked(|refused| !refused.is_empty())
}

/// Shows a field of the outcome.
fn show(desk: Desk, field: &str, work: &Work) {
    let told = work.field(field);
    match field {
        "stages" => show_stages(desk, &told),
        "path" => put(desk.path, told.path),
        "shaft" => put(desk.shaft, told.shaft),
        "servo" => put(desk.servo, told.servo),
        "motion" => put(desk.motion, told.motion),
        "help" => put(desk.help, told.help),
        "supply" => put(desk.supply, told.supply),
        "spread" => put(desk.spread, told.spread),
        "loops" => put(desk.loops, told.loops),
        "corners" => put(desk.corners, told.corners),
        "blame" => put(desk.blame, told.blame),
        "others" => {
            show_others(desk, told.others, work.is_stale("others"));
            if !work.is_stale("others") {
                desk.better.set(told.better);
            }
        }
        "proposals" => put(desk.proposals, told.proposals),
        _ => {}
    }
}

/// Has a signal hold what was found; what it holds already is not drawn again.
fn put<T>(signal: RwSignal<Option<Arc<T>>>, found: Option<T>)
where
    T: PartialEq + Send + Sync + 'static,
{
    if signal.with_untracked(|known| known.as_deref() != found.as_ref()) {
        signal.set(found.map(Arc::new));
    }
}

fn show_stages(desk: Desk, told: &Outcome) {
    let shown = told.stages.get(told.shown);
    let circuit = shown.map(|stage| &stage.circuit);
    let is_other = desk
        .stage
        .with_untracked(|known| known.as_ref().map(|s| &s.circuit) != circuit);
    if is_other {
        // Another circuit's parts go by the same names.
        desk.corners.set(None);
        desk.blame.set(None);
    }
    // What is the same already is not drawn again: a change of the plant leaves the stages as they are.
    let same = desk.stages.with_untracked(|known| {
        let pairs = known.iter().zip(&told.stages);
        known.len() == told.stages.len() && pairs.into_iter().all(|(a, b)| **a == *b)
    });
    if !same {
        desk.stages
            .set(told.stages.iter().cloned().map(Arc::new).collect());
    }
    put(desk.stage, shown.cloned());
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
