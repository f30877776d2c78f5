//! Memoisation: a result is kept as long as its inputs are the same.

/// A piece of work for a key, its answer when there is one.
pub(super) struct Kept<K, W, T, E> {
    key: Option<K>,
    work: Option<Box<W>>,
    answer: Option<Result<T, E>>,
}

impl<K, W, T, E> Default for Kept<K, W, T, E> {
    fn default() -> Self {
        Kept {
            key: None,
            work: None,
            answer: None,
        }
    }
}

impl<K: PartialEq, W, T, E> Kept<K, W, T, E> {
    /// Goes on with the work for this key, or begins it; until it is done or `go_on` says no. Returns whether
    /// it is done. A beginning that fails gives the answer at once.
    pub fn advance(
        &mut self,
        key: K,
        begin: impl FnOnce(&K) -> Result<W, E>,
        step: impl Fn(&mut W, &mut dyn FnMut() -> bool) -> Option<Result<T, E>>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> bool {
        if self.key.as_ref() != Some(&key) {
            (self.work, self.answer) = match begin(&key) {
                Ok(work) => (Some(Box::new(work)), None),
                Err(error) => (None, Some(Err(error))),
            };
            self.key = Some(key);
            if !go_on() {
                return self.answer.is_some();
            }
        }
        while let Some(work) = &mut self.work {
            if let Some(answer) = step(work, go_on) {
                (self.work, self.answer) = (None, Some(answer));
                break;
            }
            if !go_on() {
                return false;
            }
        }
        self.answer.is_some()
    }

    /// What the work is or was done for.
    pub fn key(&self) -> Option<&K> {
        self.key.as_ref()
    }

    /// The last answer.
    pub fn answer(&self) -> Option<&Result<T, E>> {
        self.answer.as_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::Kept;

    #[test]
    fn the_same_key_is_worked_on_once() {
        let mut kept: Kept<u32, u32, u32, ()> = Kept::default();
        let begun = std::cell::Cell::new(0);
        let mut run = |key: u32, mut steps: u32| {
            let begin = |key: &u32| {
                begun.set(begun.get() + 1);
                Ok(*key)
            };
            let step = |left: &mut u32, _: &mut dyn FnMut() -> bool| {
                *left -= 1;
                (*left == 0).then_some(Ok(7))
            };
            kept.advance(key, begin, step, &mut || {
                steps = steps.saturating_sub(1);
                steps > 0
            })
        };
        assert!(!run(5, 2));
        assert!(run(5, 100));
        assert!(run(5, 1));
        assert!(run(6, 100));
        assert_eq!(begun.get(), 2);
        assert_eq!(kept.answer(), Some(&Ok(7)));
    }
}
