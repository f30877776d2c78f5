//! The design that is compared with: a copy that stays while the design on the page changes, worked out by a worker of
//! its own.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use crate::page::prelude::*;
use gloo_timers::callback::Timeout;
use serde_json::{Value, json};

use crate::design::Design;
use crate::document::label;
use crate::exchange::{Order, Report};
use crate::json;
use crate::outcome::Outcome;
use crate::page::desk::Desk;
use crate::page::document::kept;
use crate::page::reload::session;
use crate::page::solver::{Heard, Solver};
use crate::page::{fragment, regions};

/// Where a tab remembers the copy over a reload.
const KEY: &str = "polewright-copy";

thread_local! {
    static SOLVER: RefCell<Option<Solver>> = const { RefCell::new(None) };
    /// Counts the copies: what an earlier worker reports late is of an earlier copy.
    static COPIES: Cell<u32> = const { Cell::new(0) };
}

/// A design that is compared with.
#[derive(Clone, Debug, PartialEq)]
pub struct Copy {
    pub label: String,
    pub design: Design,
}

/// The copy, and what is found for it.
#[derive(Clone, Copy)]
pub struct Beside {
    pub copy: Held<Option<Arc<self::Copy>>>,
    pub found: Held<Arc<Outcome>>,
    /// Whether all of it is there.
    pub is_whole: Held<bool>,
    /// Why it never will be.
    pub trouble: Held<Option<String>>,
}

/// Takes up the copy of before a reload.
pub fn watch() -> Beside {
    let beside = Beside {
        copy: Held::new(None),
        found: Held::new(Arc::default()),
        is_whole: Held::new(false),
        trouble: Held::new(None),
    };
    provide_context(beside);
    if let Some(copy) = remembered() {
        beside.show(copy);
    }
    beside
}

fn remembered() -> Option<self::Copy> {
    let text = session()?.get_item(KEY).ok()??;
    let tree: Value = serde_json::from_str(&text).ok()?;
    Some(self::Copy {
        label: tree.get("label")?.as_str()?.to_owned(),
        design: Design::from_json(tree.get("design")?.as_str()?).ok()?,
    })
}

impl Beside {
    /// Takes the design as it is now; the browser keeps it, too.
    pub fn keep(self, desk: Desk) {
        let design = desk.design.get_untracked();
        let label = format!("{}, copy", label(&design));
        kept::keep_copy(desk, label.clone());
        self.take(self::Copy { label, design });
    }

    /// Takes another design, and goes to where both are shown.
    pub fn compare(self, label: String, design: Design) {
        self.take(self::Copy { label, design });
        if let Some(region) = regions::Region::named("comparison") {
            region.go();
        }
    }

    /// Makes the copy the design, and the design the copy.
    pub fn exchange(self, desk: Desk) {
        let Some(copy) = self.copy.get_untracked() else {
            return;
        };
        let design = desk.design.get_untracked();
        let label = label(&design);
        self.take(self::Copy { label, design });
        desk.emptied.set(None);
        // Neither is written over the other.
        kept::part();
        fragment::step(desk, || desk.take(copy.design.clone()));
    }

    /// Ends the comparison.
    pub fn end(self) {
        end_solver();
        self.copy.set(None);
        self.found.set(Arc::default());
        if let Some(session) = session() {
            // Forbidden, there is nothing to forget.
            let _ = session.remove_item(KEY);
        }
    }

    fn take(self, copy: self::Copy) {
        let design = serde_json::to_value(&copy.design).unwrap_or_default();
        let text = json::written(&json!({ "label": copy.label, "design": json::written(&design) }));
        if let Some(session) = session() {
            // Full or forbidden, the copy lasts until the page is left.
            let _ = session.set_item(KEY, &text);
        }
        self.show(copy);
    }

    fn show(self, copy: self::Copy) {
        end_solver();
        // What is not compared need not be worked out.
        let mut design = copy.design.clone();
        design.view.compare = false;
        design.view.propose = false;
        design.view.contributions = false;
        let design = json::written(&serde_json::to_value(&design).unwrap_or_default());
        self.found.set(Arc::default());
        self.is_whole.set(false);
        self.trouble.set(None);
        self.copy.set(Some(Arc::new(copy)));
        let own = COPIES.get().wrapping_add(1);
        COPIES.set(own);
        let hear = move |heard| {
            if COPIES.get() == own {
                self.hear(heard);
            }
        };
        match Solver::start(hear) {
            Ok(solver) => {
                solver.give(&Order::Solve { edit: own, design });
                SOLVER.set(Some(solver));
            }
            Err(words) => self.fail(&words),
        }
    }

    fn hear(self, heard: Heard) {
        match heard {
            Heard::Report(Report::Found { field, told, .. }) => {
                self.found
                    .update(|found| Arc::make_mut(found).take(&field, *told));
            }
            Heard::Report(Report::Refused { errors, .. }) => {
                if let Some(error) = errors.into_iter().next() {
                    self.trouble.set(Some(error.message));
                }
            }
            Heard::Report(Report::Done { .. }) => {
                self.is_whole.set(true);
                // Its memory is free again; not from within its own message.
                Timeout::new(0, end_solver).forget();
            }
            Heard::Report(_) => {}
            Heard::Died { words, .. } => {
                self.fail(&words);
                Timeout::new(0, end_solver).forget();
            }
        }
    }

    fn fail(self, words: &str) {
        self.trouble.set(Some(format!(
            "The copy cannot be worked out: {words} The design itself is not affected."
        )));
    }
}

fn end_solver() {
    SOLVER.take();
}
