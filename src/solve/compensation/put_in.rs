//! Whether stages that are proposed could be put in the path, and work that is not done twice.

use std::task::Poll;

use crate::design::{Design, ServoDesign, check};

/// What of a design decides whether stages could be put in its path: all but the sweep, which was looked at, and what
/// does not hang on the path.
pub(super) fn path_design(design: &Design) -> Design {
    Design {
        servo: ServoDesign {
            sweep: String::new(),
            ..design.servo.clone()
        },
        stages: design.stages.clone(),
        shelf: design.shelf.clone(),
        op_amp: design.op_amp.clone(),
        ..Design::blank()
    }
}

/// Why a path with these stages in it could not be worked on.
pub(super) fn refused(design: &Design, put_in: impl FnOnce(&mut Design)) -> Option<String> {
    let mut tried = design.clone();
    put_in(&mut tried);
    let errors = check(&tried).err()?;
    let first = errors.into_iter().next()?;
    Some(format!("These stages cannot be put in the path: {first}"))
}

/// A piece of work, or its answer.
pub(super) enum Search<W, T, E> {
    Working(Box<W>),
    Done(Result<T, E>),
}

impl<W, T, E> Search<W, T, E> {
    /// A beginning that fails is the answer.
    pub fn begin(begun: Result<W, E>) -> Search<W, T, E> {
        match begun {
            Ok(work) => Search::Working(Box::new(work)),
            Err(error) => Search::Done(Err(error)),
        }
    }

    /// Takes steps until there is an answer or `go_on` says no.
    pub fn advance(
        &mut self,
        step: impl Fn(&mut W, &mut dyn FnMut() -> bool) -> Poll<Result<T, E>>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<&Result<T, E>> {
        while let Search::Working(work) = self {
            if let Poll::Ready(answer) = step(work, go_on) {
                *self = Search::Done(answer);
            } else if !go_on() {
                return Poll::Pending;
            }
        }
        match self {
            Search::Done(answer) => Poll::Ready(answer),
            Search::Working(_) => Poll::Pending,
        }
    }
}
