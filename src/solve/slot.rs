//! Where a question's answer is kept: the one mechanism that decides what still holds.

use std::any::Any;
use std::sync::Arc;

use super::task::{Advanced, AnySlot, Asked, Before, Blocked, Finding, Seen, Settled, Task, Turn};
use super::{Piece, Plan};
use crate::design::InputError;
use crate::outcome::Outcome;
use crate::spread::{Errand, Hand};

/// A task's slot.
pub(super) struct Slot<T: Task> {
    /// What the present work reads.
    reads: Option<Arc<T::Reads>>,
    work: Option<T>,
    /// What was found last, and from what: shown until there is something newer.
    found: Option<Finding<T>>,
    state: State,
}

enum State {
    /// Its question is not asked.
    Idle,
    Working,
    Current,
    /// Something that it hangs on failed.
    Blocked,
    Failed(Vec<InputError>),
}

/// An empty slot.
pub(super) fn slot<T: Task>() -> Box<dyn AnySlot> {
    Box::new(Slot::<T> {
        reads: None,
        work: None,
        found: None,
        state: State::Idle,
    })
}

impl Asked<'_> {
    /// What another task found; none where its question is not asked.
    ///
    /// # Errors
    /// Where it failed.
    pub fn found<T: Task>(&self) -> Result<Option<Seen<T::Finds>>, Blocked> {
        let mut slots = self.slots.iter();
        let slot = slots.find_map(|slot| slot.as_any().downcast_ref::<Slot<T>>());
        slot.ok_or(Blocked)?.settled()
    }
}

impl<T: Task> Slot<T> {
    /// See [`Asked::found`].
    pub fn settled(&self) -> Result<Option<Seen<T::Finds>>, Blocked> {
        match &self.state {
            State::Idle => Ok(None),
            State::Current => Ok(self
                .found
                .as_ref()
                .map(|(_, found)| Seen(Arc::clone(found)))),
            State::Working | State::Blocked | State::Failed(_) => Err(Blocked),
        }
    }

    /// What was found, where it belongs to what is asked, and from what.
    pub fn current(&self) -> Option<(&T::Reads, &T::Finds)> {
        let (reads, found) = self.found.as_ref()?;
        matches!(self.state, State::Current).then_some((reads, found))
    }

    /// Where what is read has not changed; none when the work has to begin anew.
    fn go_on(&mut self) -> Option<Settled> {
        if matches!(self.state, State::Blocked) {
            let of = self.found.as_ref().map(|(of, _)| of);
            let is_known = of
                .zip(self.reads.as_ref())
                .is_some_and(|(of, now)| Arc::ptr_eq(of, now));
            self.state = match is_known {
                true => State::Current,
                false => State::Working,
            };
        }
        match &self.state {
            State::Working => self.work.as_ref().map(|_| Settled::Begun),
            State::Failed(_) => Some(Settled::Failed),
            _ => Some(Settled::Kept),
        }
    }
}

impl<T: Task> AnySlot for Slot<T> {
    fn field(&self) -> &'static str {
        T::FIELD
    }

    fn settle(&mut self, asked: &Asked) -> Settled {
        let reads = match T::reads(asked) {
            Ok(Some(reads)) => reads,
            Ok(None) => {
                let had = self.found.take().is_some();
                (self.reads, self.work, self.state) = (None, None, State::Idle);
                return if had { Settled::Dropped } else { Settled::Kept };
            }
            Err(Blocked) => {
                self.state = State::Blocked;
                return Settled::Kept;
            }
        };
        if self.reads.as_deref() == Some(&reads)
            && let Some(settled) = self.go_on()
        {
            return settled;
        }
        let reads = Arc::new(reads);
        let before = self.reads.take().map(|reads| Before {
            reads,
            work: self.work.take(),
            found: self.found.clone(),
        });
        self.reads = Some(Arc::clone(&reads));
        match T::begin(&reads, before) {
            Ok(work) => {
                (self.work, self.state) = (Some(work), State::Working);
                Settled::Begun
            }
            Err(errors) => {
                self.state = State::Failed(errors);
                Settled::Failed
            }
        }
    }

    fn advance(&mut self, go_on: &mut dyn FnMut() -> bool) -> Advanced {
        let (Some(work), Some(reads)) = (&mut self.work, &self.reads) else {
            return Advanced::Found(false);
        };
        let found = match work.advance(reads, go_on) {
            Turn::More(share) => return Advanced::More(share),
            Turn::Waiting(share) => return Advanced::Waiting(share),
            Turn::Partly(found) => {
                self.found = Some((Arc::clone(reads), Arc::new(found)));
                return Advanced::Partly;
            }
            Turn::Failed(errors) => {
                self.state = State::Failed(errors);
                return Advanced::Failed;
            }
            Turn::Found(found) => found,
        };
        self.state = State::Current;
        let known = self.found.take();
        let same = known.filter(|(_, known)| T::is_same(known, &found));
        let is_new = same.is_none();
        let found = same.map_or_else(|| Arc::new(found), |(_, known)| known);
        self.found = Some((Arc::clone(reads), found));
        Advanced::Found(is_new)
    }

    fn is_current(&self) -> bool {
        matches!(self.state, State::Current | State::Idle)
    }

    fn errors(&self) -> &[InputError] {
        match &self.state {
            State::Failed(errors) => errors,
            _ => &[],
        }
    }

    fn tell(&self, outcome: &mut Outcome) {
        if let Some((reads, found)) = &self.found {
            T::tell(reads, found, outcome);
        }
    }

    fn so_far(&self) -> Option<(u32, u32)> {
        self.work.as_ref()?.so_far()
    }

    fn plan(&mut self) -> Option<Arc<Plan>> {
        self.work.as_mut()?.plan(self.reads.as_ref()?)
    }

    fn lend(&mut self, to: Hand, workers: u32) -> Option<Errand> {
        self.work.as_mut()?.lend(to, workers)
    }

    fn give_back(&mut self, from: Hand, piece: Piece) {
        if let Some(work) = &mut self.work {
            work.give_back(from, piece);
        }
    }

    fn keep(&mut self, there: &[Hand]) {
        if let Some(work) = &mut self.work {
            work.keep(there);
        }
    }

    fn as_any(&self) -> &dyn Any {
        self
    }
}
