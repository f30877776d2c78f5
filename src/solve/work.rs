//! All questions of a design, one after the other, in slices.

use std::sync::Arc;

use super::slot::Slot;
use super::spread::Spread;
use super::stages::{Line, Stages};
use super::task::{Advanced, AnySlot, Asked, Settled, Task};
use super::{Piece, Plan, TASKS, board};
use crate::design::{Design, InputError, check_after};
use crate::outcome::{BoardOutcome, Outcome};
use crate::response::Transfer;
use crate::spread::{Errand, Hand};

/// Solving, in slices: [`Work::advance`] until all is done. The design may be changed at any time; what still holds
/// of what was found is kept.
pub struct Work {
    design: Design,
    /// Each reads only what stands before it.
    slots: Vec<Box<dyn AnySlot>>,
    at: usize,
    /// Whether the slot there was asked what it has to do.
    is_settled: bool,
}

/// What a stretch of work came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// A field of the outcome is being worked on.
    Working {
        field: &'static str,
        /// The share that is done.
        share: f64,
    },
    /// All that is left of a field is with other workers ([`Work::lend`]).
    Waiting {
        field: &'static str,
        /// The share that is done.
        share: f64,
    },
    /// A field of the outcome is new, in part where it is not current yet.
    Found(&'static str),
    /// It was asked for and is there already.
    Kept(&'static str),
    /// It is no longer asked for, and gone.
    Dropped(&'static str),
    /// It cannot be had: see [`Work::errors`].
    Failed(&'static str),
    /// All is there.
    Done,
}

impl Work {
    /// Checks a design and prepares to solve it.
    ///
    /// # Errors
    /// All that is wrong with it.
    pub fn begin(design: &Design) -> Result<Work, Vec<InputError>> {
        check_after(design, None)?;
        Ok(Work {
            design: design.clone(),
            slots: TASKS.iter().map(|slot| slot()).collect(),
            at: 0,
            is_settled: false,
        })
    }

    /// Goes on with another design.
    ///
    /// # Errors
    /// All that is wrong with it; then everything stays as it was.
    pub fn change(&mut self, design: &Design) -> Result<(), Vec<InputError>> {
        check_after(design, Some(&self.design))?;
        self.design = design.clone();
        (self.at, self.is_settled) = (0, false);
        Ok(())
    }

    /// Works until a field of the outcome is found or `go_on` says no; what cannot be cut takes a few milliseconds.
    pub fn advance(&mut self, go_on: &mut dyn FnMut() -> bool) -> Step {
        let (before, rest) = self.slots.split_at_mut(self.at);
        let Some(slot) = rest.first_mut() else {
            return Step::Done;
        };
        let field = slot.field();
        if !self.is_settled {
            let asked = Asked {
                design: &self.design,
                slots: before,
            };
            let settled = slot.settle(&asked);
            if settled == Settled::Begun {
                self.is_settled = true;
                return Step::Working { field, share: 0.0 };
            }
            self.at += 1;
            return match settled {
                Settled::Dropped => Step::Dropped(field),
                Settled::Failed => Step::Failed(field),
                _ => Step::Kept(field),
            };
        }
        let advanced = slot.advance(go_on);
        match advanced {
            Advanced::More(share) => return Step::Working { field, share },
            Advanced::Waiting(share) => return Step::Waiting { field, share },
            Advanced::Partly => return Step::Found(field),
            _ => {}
        }
        (self.at, self.is_settled) = (self.at + 1, false);
        match advanced {
            Advanced::Failed => Step::Failed(field),
            Advanced::Found(false) => Step::Kept(field),
            _ => Step::Found(field),
        }
    }

    /// All that another worker needs for what is at work; none where nothing can be handed out, or too little is left to
    /// be worth it.
    pub fn plan(&mut self) -> Option<Arc<Plan>> {
        self.at_work()?.plan()
    }

    /// What another of so many workers, this one among them, shall do; it was given [`Work::plan`].
    pub fn lend(&mut self, to: Hand, workers: u32) -> Option<Errand> {
        self.at_work()?.lend(to, workers)
    }

    /// Takes what came of it; what belongs to other work is dropped.
    pub fn give_back(&mut self, from: Hand, piece: Piece) {
        if let Some(slot) = self.at_work() {
            slot.give_back(from, piece);
        }
    }

    /// Only these of the others are still there: what any other was given is done again.
    pub fn keep(&mut self, there: &[Hand]) {
        if let Some(slot) = self.at_work() {
            slot.keep(there);
        }
    }

    fn at_work(&mut self) -> Option<&mut dyn AnySlot> {
        let slot = self.slots.get_mut(self.at).filter(|_| self.is_settled)?;
        Some(slot.as_mut())
    }

    /// The design that is worked on.
    pub fn design(&self) -> &Design {
        &self.design
    }

    /// What the user has to change, of all that could not be had.
    pub fn errors(&self) -> Vec<InputError> {
        let errors = self.slots.iter().flat_map(|slot| slot.errors());
        errors.cloned().collect()
    }

    /// All that was found so far: fields that are worked on anew are those of an earlier design, and named
    /// ([`Outcome::stale`]).
    pub fn outcome(&self) -> Outcome {
        let mut outcome = self.told(|_| true);
        outcome.stale = self.stale().map(str::to_owned).collect();
        outcome.stale.dedup();
        outcome
    }

    /// All that was found for this very design, and nothing else.
    pub fn current_outcome(&self) -> Outcome {
        let stale: Vec<&str> = self.stale().collect();
        self.told(|slot| !stale.contains(&slot.field())).whole()
    }

    /// Whether a field belongs to an earlier design, or is not all there.
    pub fn is_stale(&self, field: &str) -> bool {
        self.stale().any(|stale| stale == field)
    }

    /// Fields of all slots that were not come to yet, or are not done.
    fn stale(&self) -> impl Iterator<Item = &'static str> {
        let slots = self.slots.iter().enumerate();
        let stale = slots.filter(|(index, slot)| *index >= self.at || !slot.is_current());
        stale.map(|(_, slot)| slot.field())
    }

    /// One field of [`Work::outcome`], all others empty.
    pub fn field(&self, field: &str) -> Outcome {
        self.told(|slot| slot.field() == field)
    }

    fn told(&self, is_wanted: impl Fn(&dyn AnySlot) -> bool) -> Outcome {
        let mut outcome = Outcome {
            shown: self.design.view.stage,
            ..Outcome::default()
        };
        for slot in self.slots.iter().filter(|slot| is_wanted(slot.as_ref())) {
            slot.tell(&mut outcome);
        }
        outcome
    }

    /// How many boards are drawn, and on how many of them the shown stage holds its limits, while more are
    /// being drawn.
    pub fn so_far(&self) -> Option<(u32, u32)> {
        self.slots.get(self.at)?.so_far()
    }

    /// One board of the spread, built again; none while there is no spread, or no such stage.
    pub fn board(&self, number: u32) -> Option<BoardOutcome> {
        let (reads, spread) = self.current::<Spread>()?;
        if number >= spread.boards {
            return None;
        }
        board::build(&reads.of.design, &reads.of.lines, spread, number)
    }

    /// The responses of the path's stages with the parts in use, once they are picked for the design as it is.
    pub fn path(&self) -> Option<Vec<Transfer>> {
        let lines = self.lines()?.iter();
        Some(lines.map(|line| line.found.transfers[2].clone()).collect())
    }

    /// The path's stages, once they are described.
    pub(super) fn lines(&self) -> Option<&[Line]> {
        let (_, lines) = self.current::<Stages>()?;
        Some(lines)
    }

    fn current<T: Task>(&self) -> Option<(&T::Reads, &T::Finds)> {
        let mut slots = self.slots.iter();
        slots.find_map(|slot| slot.as_any().downcast_ref::<Slot<T>>()?.current())
    }
}
