//! Keeps the results true to the design, in slices that leave the frame free.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use gloo_timers::callback::Timeout;
use leptos::prelude::*;

use super::desk::Desk;
use crate::design::Design;
use crate::solve::{Progress, Work};

/// Longest stretch of work without giving the page its turn, ms; what is begun is finished on top.
const SLICE: f64 = 7.0;

thread_local! {
    static WORK: RefCell<Option<Work>> = const { RefCell::new(None) };
    static NEXT: Cell<Option<Timeout>> = const { Cell::new(None) };
}

/// Solves the design now and whenever it changes, and keeps `body[data-state]`.
pub fn run(desk: Desk) {
    Effect::new(move || start(desk, &desk.design.get()));
    Effect::new(move || {
        let state = if desk.in_error() {
            "error"
        } else if desk.spread_is_current.get() {
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

/// Drops whatever was being worked on and begins anew.
fn start(desk: Desk, design: &Design) {
    desk.spread_is_current.set(false);
    NEXT.set(None);
    match Work::begin(design) {
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
    let had_stage = !work.outcome().stages.is_empty();
    loop {
        let progress = match work.advance(&mut || now() < begin + SLICE) {
            Ok(progress) => progress,
            Err(errors) => {
                desk.refused.set(errors);
                super::fragment::write(desk);
                return;
            }
        };
        let found = !had_stage && !work.outcome().stages.is_empty();
        if found {
            show_stage(desk, &work);
        }
        if progress == Progress::Done {
            return show_spread(desk, &work);
        }
        if let Progress::Spreading(share) = progress {
            desk.progress.set(share);
        }
        // Short steps share a slice.
        if found || now() > begin + SLICE / 3.0 {
            break;
        }
    }
    WORK.set(Some(work));
    NEXT.set(Some(Timeout::new(0, move || slice(desk))));
}

fn show_stage(desk: Desk, work: &Work) {
    desk.stage
        .set(work.outcome().stages.first().cloned().map(Arc::new));
    if desk.refused.with_untracked(|refused| !refused.is_empty()) {
        desk.refused.set(Vec::new());
    }
}

/// Shows the spread; the bands on the curves are drawn in a task of their own.
fn show_spread(desk: Desk, work: &Work) {
    desk.spread.set(work.outcome().spread.clone().map(Arc::new));
    desk.progress.set(1.0);
    NEXT.set(Some(Timeout::new(0, move || {
        super::fragment::write(desk);
        desk.spread_is_current.set(true);
    })));
}
