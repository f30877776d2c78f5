//! Exponential (galloping) search, then bisection, for the smallest step number that satisfies a monotonic condition.

/// Step numbers 2, 4, 8, … are tested until one satisfies the condition; then the interval between the last failure and
/// the first success is bisected (Bentley and Yao, Information Processing Letters 5, 1976, from memory).
#[derive(Clone, Copy, Debug)]
pub struct Gallop {
    /// The largest step number known to fail; 0 is the start.
    fails: u32,
    /// The smallest step number known to succeed.
    does: Option<u32>,
    most: u32,
}

impl Gallop {
    pub fn new(most: u32) -> Gallop {
        Gallop {
            fails: 0,
            does: None,
            most,
        }
    }

    /// The step number to test next; none when the smallest success is known, or all fail.
    pub fn next(&self) -> Option<u32> {
        match self.does {
            Some(does) => (does - self.fails > 1).then(|| self.fails.midpoint(does)),
            None => {
                let next = (2 * self.fails).max(2).min(self.most);
                (next > self.fails).then_some(next)
            }
        }
    }

    /// Records the result of a test.
    pub fn learn(&mut self, step: u32, does: bool) {
        if does {
            self.does = Some(step);
        } else {
            self.fails = step;
        }
    }

    /// The smallest step number known to succeed.
    pub fn found(&self) -> Option<u32> {
        self.does
    }
}

#[cfg(test)]
mod tests {
    use super::Gallop;

    #[test]
    fn the_first_that_does_is_found() {
        for first in 1..=20 {
            let mut gallop = Gallop::new(16);
            while let Some(step) = gallop.next() {
                gallop.learn(step, step >= first);
            }
            assert_eq!(gallop.found(), (first <= 16).then_some(first));
        }
    }
}
