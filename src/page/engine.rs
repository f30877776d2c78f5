//! Keeps the results true to the design, in slices that leave the frame free.

use std::cell::RefCell;
use std::sync::Arc;

use leptos::prelude::*;

use super::desk::Desk;
use super::turn;
use crate::design::Design;
use crate::outcome::BoardOutcome;
use crate::solve::{Progress, Work};

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

/// Drops whatever was being worked on and begins anew.
fn start(desk: Desk, design: &Design) {
    desk.spread_is_current.set(false);
    desk.others_are_current.set(false);
    desk.proposals_are_current.set(false);
    desk.blame_is_current.set(false);
    turn::drop_next();
    match Work::begin_after(design, WORK.take()) {
        Ok(work) => {
            WORK.set(Some(work));
            slice(desk);
        }
        Err(errors) => {
            WORK.set(None);
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
    let had_spread = desk.spread_is_current.get_untracked();
    let mut had_path = work.outcome().path.is_some();
    let mut had_servo = work.outcome().servo.is_some();
    let mut had_motion = work.outcome().motion.is_some();
    let mut had_supply = work.outcome().supply.is_some();
    // Whether there is something new that the user waits for.
    let mut is_awaited = false;
    // Short steps share a slice.
    let mut stretch = SLICE / 3.0;
    loop {
        let progress = match work.advance(&mut || now() < begin + SLICE) {
            Ok(progress) => progress,
            Err(errors) => {
                desk.refused.set(errors);
                super::fragment::write(desk);
                return;
            }
        };
        if !had_path && work.outcome().path.is_some() {
            (had_path, is_awaited) = (true, true);
            show_path(desk, &work);
            // Path and loop share a frame, if the plant's model is known already.
            let loop_follows = desk.form.with_untracked(|form| form.plant.is_there());
            stretch = if loop_follows { SLICE } else { 0.0 };
        }
        if !had_servo && let Some(servo) = &work.outcome().servo {
            (had_servo, is_awaited) = (true, true);
            desk.servo.set(Some(Arc::new(servo.clone())));
            stretch = 0.0;
        }
        if let Some(help) = &work.outcome().help {
            show(desk.help, Some(help));
        }
        if !had_motion && let Some(motion) = &work.outcome().motion {
            had_motion = true;
            desk.motion.set(Some(Arc::new(motion.clone())));
        }
        if !had_supply && let Some(supply) = &work.outcome().supply {
            had_supply = true;
            show(desk.supply, Some(supply));
        }
        match progress {
            Progress::Spreading(share) => {
                desk.progress.set(share);
                desk.so_far.set(work.so_far());
            }
            Progress::Blaming(_) | Progress::Comparing(_) if !had_spread => {
                show_spread(desk, work);
                return;
            }
            Progress::Blaming(_) => {}
            Progress::Comparing(rows) => {
                show_blame(desk, &work);
                show_others(desk, &work, rows);
            }
            Progress::Done => {
                show_blame(desk, &work);
                let rows = work.outcome().others.len();
                show_others(desk, &work, rows);
                // Fewer than before: the path is empty, or they are not wanted.
                if desk.others.with_untracked(|shown| shown.len() > rows) {
                    desk.others.update(|shown| shown.truncate(rows));
                }
                show_better(desk, &work);
                show_proposals(desk, &work);
                // Kept: the next design may take over what still holds.
                WORK.set(Some(work));
                return;
            }
            Progress::Picking(_) => {}
            Progress::Proposing => show_better(desk, &work),
        }
        if now() >= begin + stretch {
            break;
        }
    }
    WORK.set(Some(work));
    if is_awaited {
        turn::after_frame(move || slice(desk));
    } else {
        turn::after(move || slice(desk));
    }
}

/// Has a signal hold what was found; what it holds already is not drawn again.
fn show<T>(signal: RwSignal<Option<Arc<T>>>, found: Option<&T>)
where
    T: Clone + PartialEq + Send + Sync + 'static,
{
    if signal.with_untracked(|known| known.as_deref() != found) {
        signal.set(found.cloned().map(Arc::new));
    }
}

fn show_path(desk: Desk, work: &Work) {
    let outcome = work.outcome();
    let circuit = outcome.stages.get(outcome.shown).map(|s| &s.circuit);
    let is_other = desk
        .stage
        .with_untracked(|known| known.as_ref().map(|s| &s.circuit) != circuit);
    if is_other {
        // Another circuit's parts go by the same names.
        desk.corners.set(None);
        desk.blame.set(None);
    }
    // What is the same already is not drawn again: a change of the plant leaves the stages as they are.
    let shown = outcome.stages.get(outcome.shown);
    let same = desk.stages.with_untracked(|known| {
        let pairs = known.iter().zip(&outcome.stages);
        known.len() == outcome.stages.len() && pairs.into_iter().all(|(a, b)| **a == *b)
    });
    if !same {
        desk.stages
            .set(outcome.stages.iter().cloned().map(Arc::new).collect());
    }
    show(desk.stage, shown);
    show(desk.path, outcome.path.as_ref());
    show(desk.shaft, outcome.shaft.as_ref());
    if !desk.form.with_untracked(|form| form.plant.is_there()) {
        desk.servo.set(None);
        desk.loops.set(None);
        desk.motion.set(None);
    }
    if desk.refused.with_untracked(|refused| !refused.is_empty()) {
        desk.refused.set(Vec::new());
    }
}

/// Shows the spread, then that of the loop, each in a task of its own, and then the work goes on.
fn show_spread(desk: Desk, work: Work) {
    desk.spread.set(work.outcome().spread.clone().map(Arc::new));
    desk.progress.set(1.0);
    WORK.set(Some(work));
    turn::after(move || {
        WORK.with_borrow(|work| {
            let servo = work.as_ref().and_then(|work| work.outcome().servo.as_ref());
            show(desk.loops, servo.and_then(|servo| servo.spread.as_ref()));
        });
        turn::after(move || {
            super::fragment::write(desk);
            desk.spread_is_current.set(true);
            turn::after(move || slice(desk));
        });
    });
}

/// Shows what would change the yield.
fn show_proposals(desk: Desk, work: &Work) {
    show(desk.proposals, work.outcome().proposals.as_ref());
    desk.proposals_are_current.set(true);
}

/// Shows worst case and blame, once.
fn show_blame(desk: Desk, work: &Work) {
    if desk.blame_is_current.get_untracked() {
        return;
    }
    let outcome = work.outcome();
    desk.corners.set(outcome.corners.clone().map(Arc::new));
    desk.blame.set(outcome.blame.clone().map(Arc::new));
    desk.blame_is_current.set(true);
}

/// Says which circuit is better, once all are worked out.
fn show_better(desk: Desk, work: &Work) {
    if !desk.others_are_current.get_untracked() {
        desk.better.set(work.outcome().better.clone());
        desk.others_are_current.set(true);
    }
}

/// Shows another circuit when one more is worked out.
fn show_others(desk: Desk, work: &Work, rows: usize) {
    let shown = desk.others.with_untracked(Vec::len);
    let circuits = |rows: &[Arc<crate::outcome::OtherOutcome>]| -> Vec<String> {
        rows.iter().map(|row| row.circuit.clone()).collect()
    };
    let found: Vec<_> = work.outcome().others[..rows]
        .iter()
        .cloned()
        .map(Arc::new)
        .collect();
    let same_place = desk
        .others
        .with_untracked(|old| rows <= shown && circuits(&old[..rows]) == circuits(&found));
    if !same_place || desk.others.with_untracked(|old| old[..rows] != found[..]) {
        let rest = if same_place {
            desk.others.with_untracked(|old| old[rows..].to_vec())
        } else {
            Vec::new()
        };
        desk.others.set(found.into_iter().chain(rest).collect());
    }
}
