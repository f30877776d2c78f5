//! A search for a part of what a task reads, which is not made twice for the same part.

use std::task::Poll;

/// A piece of work, or its answer, for all that it reads.
pub(super) struct Search<K, W, T, E> {
    key: K,
    state: State<W, T, E>,
}

enum State<W, T, E> {
    Working(Box<W>),
    Done(Result<T, E>),
}

impl<K: Clone + PartialEq, W, T, E> Search<K, W, T, E> {
    /// The earlier search where it is for the same; else a new one. A beginning that fails is the answer.
    pub fn of(
        key: &K,
        earlier: Option<Search<K, W, T, E>>,
        begin: impl FnOnce(&K) -> Result<W, E>,
    ) -> Search<K, W, T, E> {
        earlier
            .filter(|earlier| earlier.key == *key)
            .unwrap_or_else(|| Search {
                key: key.clone(),
                state: match begin(key) {
                    Ok(work) => State::Working(Box::new(work)),
                    Err(error) => State::Done(Err(error)),
                },
            })
    }

    /// Takes steps until there is an answer or `go_on` says no.
    pub fn advance(
        &mut self,
        step: impl Fn(&mut W, &mut dyn FnMut() -> bool) -> Poll<Result<T, E>>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<&Result<T, E>> {
        while let State::Working(work) = &mut self.state {
            if let Poll::Ready(answer) = step(work, go_on) {
                self.state = State::Done(answer);
            } else if !go_on() {
                return Poll::Pending;
            }
        }
        match &self.state {
            State::Done(answer) => Poll::Ready(answer),
            State::Working(_) => Poll::Pending,
        }
    }
}
