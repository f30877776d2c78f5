//! Questions that are asked of a design: what is the same for all of them.
//!
//! A task answers one question. It says what it reads, parts of the design by value and what other tasks found by
//! identity, and is given nothing else: so what it found holds for as long as what it reads is the same. One
//! mechanism ([`super::slot`]) keeps, marks and drops findings by that alone.

use std::any::Any;
use std::ops::Deref;
use std::sync::Arc;

use super::{Piece, Plan};
use crate::design::{Design, InputError};
use crate::outcome::Outcome;
use crate::spread::{Errand, Hand};

/// The work on one question.
pub(super) trait Task: Sized + Send + 'static {
    /// The outcome's field that it tells.
    const FIELD: &'static str;
    /// All that it reads.
    type Reads: PartialEq + Send + Sync + 'static;
    /// What it finds.
    type Finds: Send + Sync + 'static;

    /// What it would read now; none where the question is not asked.
    ///
    /// # Errors
    /// Where something that it hangs on failed.
    fn reads(asked: &Asked) -> Result<Option<Self::Reads>, Blocked>;

    /// Prepares the work; what holds of earlier work on this question may be taken over.
    ///
    /// # Errors
    /// What the user has to change.
    fn begin(reads: &Self::Reads, before: Option<Before<Self>>) -> Result<Self, Vec<InputError>>;

    /// Works until something is found or `go_on` says no; what cannot be cut takes a few milliseconds.
    fn advance(
        &mut self,
        reads: &Self::Reads,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<Self::Finds>;

    /// Whether two findings are the same: then whatever hangs on the first still holds.
    fn is_same(_first: &Self::Finds, _second: &Self::Finds) -> bool {
        false
    }

    /// Puts what was found in its place in an outcome.
    fn tell(_reads: &Self::Reads, _found: &Self::Finds, _outcome: &mut Outcome) {}

    /// How many boards are drawn, and how many of them are good, while more are being drawn.
    fn so_far(&self) -> Option<(u32, u32)> {
        None
    }

    /// All that another worker needs to do some of it; none where nothing can be handed out, or too little is left. The
    /// same one as long as the work is the same.
    fn plan(&mut self, _reads: &Self::Reads) -> Option<Arc<Plan>> {
        None
    }

    /// What another of so many workers, this one among them, shall do.
    fn lend(&mut self, _to: Hand, _workers: u32) -> Option<Errand> {
        None
    }

    /// Takes what came of it; what is no longer wanted is dropped.
    fn give_back(&mut self, _from: Hand, _piece: Piece) {}

    /// Only these of the others are still there: what they were given is done by others.
    fn keep(&mut self, _there: &[Hand]) {}
}

/// How far a task came.
pub(super) enum Turn<F> {
    /// There is more to do; the share that is done.
    More(f64),
    /// All that is left is with other workers; the share that is done.
    Waiting(f64),
    /// There is more to do, and this much can be shown already.
    Partly(F),
    Found(F),
    /// What the user has to change.
    Failed(Vec<InputError>),
}

/// Earlier work on the same question.
pub(super) struct Before<T: Task> {
    pub reads: Arc<T::Reads>,
    /// As far as it came.
    pub work: Option<T>,
    pub found: Option<Finding<T>>,
}

/// What was found last, and from what.
pub(super) type Finding<T> = (Arc<<T as Task>::Reads>, Arc<<T as Task>::Finds>);

/// Something that a question hangs on failed.
#[derive(Debug)]
pub(super) struct Blocked;

/// A design, and what the tasks before one found for it.
pub(super) struct Asked<'a> {
    pub design: &'a Design,
    pub slots: &'a [Box<dyn AnySlot>],
}

/// What another task found: equal to itself alone.
pub(super) struct Seen<F>(pub Arc<F>);

impl<F> PartialEq for Seen<F> {
    fn eq(&self, other: &Seen<F>) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

impl<F> Clone for Seen<F> {
    fn clone(&self) -> Seen<F> {
        Seen(Arc::clone(&self.0))
    }
}

impl<F> Deref for Seen<F> {
    type Target = F;

    fn deref(&self) -> &F {
        &self.0
    }
}

/// What became of a slot when a design was looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Settled {
    /// Nothing to do.
    Kept,
    /// What was found is no longer asked for.
    Dropped,
    /// There is work to do.
    Begun,
    Failed,
}

/// What a stretch of work came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Advanced {
    /// The share that is done.
    More(f64),
    Waiting(f64),
    Partly,
    /// Done; whether what was found differs from what was known.
    Found(bool),
    Failed,
}

/// A slot of any task.
pub(super) trait AnySlot: Send {
    fn field(&self) -> &'static str;
    fn settle(&mut self, asked: &Asked) -> Settled;
    fn advance(&mut self, go_on: &mut dyn FnMut() -> bool) -> Advanced;
    /// Whether what was found belongs to what is asked.
    fn is_current(&self) -> bool;
    fn errors(&self) -> &[InputError];
    fn tell(&self, outcome: &mut Outcome);
    fn so_far(&self) -> Option<(u32, u32)>;
    fn plan(&mut self) -> Option<Arc<Plan>>;
    fn lend(&mut self, to: Hand, workers: u32) -> Option<Errand>;
    fn give_back(&mut self, from: Hand, piece: Piece);
    fn keep(&mut self, there: &[Hand]);
    fn as_any(&self) -> &dyn Any;
}
