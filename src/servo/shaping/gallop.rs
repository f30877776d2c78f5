//! The first of many steps that does, where every step after one that does, does too.

/// Steps are tried two, four, eight, … on, and then halfway between the last that did not and the first
/// that did.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gallop {
    /// The last step that is known not to do; 0 is where one stands.
    fails: u32,
    /// The first that is known to do.
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

    /// The step to try next; none when the first that does is known, or none does.
    pub fn next(&self) -> Option<u32> {
        match self.does {
            Some(does) => (does - self.fails > 1).then(|| self.fails.midpoint(does)),
            None => {
                let next = (2 * self.fails).max(2).min(self.most);
                (next > self.fails).then_some(next)
            }
        }
    }

    /// What came of a step that was tried.
    pub fn learn(&mut self, step: u32, does: bool) {
        if does {
            self.does = Some(step);
        } else {
            self.fails = step;
        }
    }

    /// The first step that is known to do.
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
