//! What a search over controllers finds out step by step, and asks for in the same order every time.

use super::replay::{Pending, Run};
use super::trial::Trial;

/// What takes time to find out.
#[derive(Clone)]
pub(super) enum Known {
    Trial(Option<Trial>),
    IsSound(bool),
}

/// A run through what is known.
pub(super) type Trials<'a> = Run<'a, Known>;

impl Trials<'_> {
    pub fn tried(
        &mut self,
        find: impl FnOnce() -> Option<Trial>,
    ) -> Result<Option<Trial>, Pending> {
        match self.get(|| Known::Trial(find()))? {
            Known::Trial(trial) => Ok(trial),
            Known::IsSound(_) => Ok(None),
        }
    }

    pub fn is_sound(&mut self, find: impl FnOnce() -> bool) -> Result<bool, Pending> {
        Ok(matches!(
            self.get(|| Known::IsSound(find()))?,
            Known::IsSound(true)
        ))
    }
}
