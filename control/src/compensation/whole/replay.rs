//! A long search in slices, written as if it were done in one go.
//!
//! Everything that takes time is asked for through [`Run::get`], in the same order every time. When the time
//! is up, the search is left with [`Pending`]; next time it begins anew and is given what is known, until it
//! comes to what is not.

/// The time is up.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pending;

/// What is known, in order.
pub(super) struct Replay<T> {
    known: Vec<T>,
}

/// One run through what is known.
pub(super) struct Run<'a, T> {
    replay: &'a mut Replay<T>,
    at: usize,
    is_up: bool,
    go_on: &'a mut dyn FnMut() -> bool,
}

impl<T> Default for Replay<T> {
    fn default() -> Replay<T> {
        Replay { known: Vec::new() }
    }
}

impl<T> Replay<T> {
    /// Begins anew.
    pub fn run<'a>(&'a mut self, go_on: &'a mut dyn FnMut() -> bool) -> Run<'a, T> {
        Run {
            replay: self,
            at: 0,
            is_up: false,
            go_on,
        }
    }
}

impl<T: Clone> Run<'_, T> {
    /// The next of what the search wants to know.
    ///
    /// # Errors
    /// [`Pending`] when the time is up and it is not known yet. Every run finds out one thing at least.
    pub fn get(&mut self, find: impl FnOnce() -> T) -> Result<T, Pending> {
        if self.at == self.replay.known.len() {
            if self.is_up {
                return Err(Pending);
            }
            self.replay.known.push(find());
            self.is_up = !(self.go_on)();
        }
        self.at += 1;
        Ok(self.replay.known[self.at - 1].clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slices_come_to_the_same() {
        let mut made = 0;
        let mut replay = Replay::default();
        let sum = loop {
            let mut go_on = || false;
            let mut run = replay.run(&mut go_on);
            let mut search = || -> Result<u32, Pending> {
                let mut sum = 0;
                for k in 0..5 {
                    sum += run.get(|| {
                        made += 1;
                        k
                    })?;
                }
                Ok(sum)
            };
            if let Ok(sum) = search() {
                break sum;
            }
        };
        assert_eq!((sum, made), (10, 5));
    }
}
