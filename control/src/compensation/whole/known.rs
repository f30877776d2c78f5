//! Cache of a controller search: results in the order in which the search asks for them, which is the same every time.

use super::replay::{Pending, Run};
use super::setting::Setting;
use super::stroll::Stroll;
use super::trial::Trial;

/// An expensive evaluation, and its result.
#[derive(Clone)]
pub(super) enum Known {
    Trial(Option<Trial>),
    IsSound(bool),
    Stroll(Option<Stroll>),
}

/// A pass over the cached results.
pub(super) type Trials<'a> = Run<'a, Known>;

impl Trials<'_> {
    pub fn tried(
        &mut self,
        find: impl FnOnce() -> Option<Trial>,
    ) -> Result<Option<Trial>, Pending> {
        match self.get(|| Known::Trial(find()))? {
            Known::Trial(trial) => Ok(trial),
            Known::IsSound(_) | Known::Stroll(_) => Ok(None),
        }
    }

    pub fn is_sound(&mut self, find: impl FnOnce() -> bool) -> Result<bool, Pending> {
        Ok(matches!(
            self.get(|| Known::IsSound(find()))?,
            Known::IsSound(true)
        ))
    }

    /// Result of a local search from a trial; none where the peak limits cannot be satisfied from there.
    pub fn strolled(&mut self, setting: &Setting, from: &Trial) -> Result<Option<Trial>, Pending> {
        let mut known = self.get(|| Known::Stroll(Stroll::begin(setting, from)))?;
        while let Known::Stroll(Some(stroll)) = &known {
            if stroll.is_done() {
                return Ok(Some(stroll.at.clone()));
            }
            let mut next = stroll.clone();
            known = self.get(|| {
                next.go_on(setting);
                Known::Stroll(Some(next))
            })?;
        }
        Ok(None)
    }
}
