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
        let body = document().body();
        if let Some(body) = body {
            // Attributes only fail on names that are not well formed.
            let _ = body.set_attribute("data-state", state);
            let _ = body.set_attribute(
                "data-stale",
                if state == "error" { "true" } else { "false" },
            );
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
    let end = now() + SLICE;
    let Some(mut work) = WORK.take() else { return };
    let had_stage = !work.outcome().stages.is_empty();
    match work.advance(&mut || now() < end) {
        Ok(progress) => {
            let stage = work.outcome().stages.first();
            if let (false, Some(stage)) = (had_stage, stage) {
                desk.stage.set(Some(Arc::new(stage.clone())));
                if desk.refused.with_untracked(|refused| !refused.is_empty()) {
                    desk.refused.set(Vec::new());
                }
            }
            match progress {
                Progress::Done => {
                    desk.spread.set(work.outcome().spread.clone().map(Arc::new));
                    desk.progress.set(1.0);
                    // The bands on the curves are drawn in a task of their own.
                    NEXT.set(Some(Timeout::new(0, move || {
                        super::fragment::write(desk);
                        desk.spread_is_current.set(true);
                    })));
                    return;
                }
                Progress::Spreading(share) => desk.progress.set(share),
                Progress::Picking(_) => {}
            }
            WORK.set(Some(work));
            NEXT.set(Some(Timeout::new(0, move || slice(desk))));
        }
        Err(errors) => {
            desk.refused.set(errors);
            super::fragment::write(desk);
        }
    }
}
