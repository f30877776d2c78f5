//! Questions that are answered in one go.

use super::task::{Asked, Before, Blocked, Task, Turn};
use crate::design::InputError;
use crate::outcome::Outcome;

/// A question whose answer takes a few milliseconds and is not cut: a [`Task`] of one step that cannot fail. What `self`
/// holds is kept from answer to answer, as what would be worked out anew.
pub(super) trait AtOnce: Default + Send + 'static {
    /// As those of [`Task`].
    const FIELD: &'static str;
    type Reads: PartialEq + Send + Sync + 'static;
    type Finds: Send + Sync + 'static;

    /// As [`Task::reads`].
    ///
    /// # Errors
    /// Where something that it hangs on failed.
    fn reads(asked: &Asked) -> Result<Option<Self::Reads>, Blocked>;

    /// The answer.
    fn find(&mut self, reads: &Self::Reads) -> Self::Finds;

    /// As [`Task::is_same`].
    fn is_same(_first: &Self::Finds, _second: &Self::Finds) -> bool {
        false
    }

    /// As [`Task::tell`].
    fn tell(_reads: &Self::Reads, _found: &Self::Finds, _outcome: &mut Outcome) {}
}

impl<T: AtOnce> Task for T {
    const FIELD: &'static str = T::FIELD;
    type Reads = T::Reads;
    type Finds = T::Finds;

    fn reads(asked: &Asked) -> Result<Option<T::Reads>, Blocked> {
        T::reads(asked)
    }

    fn begin(_: &T::Reads, before: Option<Before<T>>) -> Result<T, Vec<InputError>> {
        Ok(before.and_then(|before| before.work).unwrap_or_default())
    }

    fn advance(&mut self, reads: &T::Reads, _: &mut dyn FnMut() -> bool) -> Turn<T::Finds> {
        Turn::Found(self.find(reads))
    }

    fn is_same(first: &T::Finds, second: &T::Finds) -> bool {
        T::is_same(first, second)
    }

    fn tell(reads: &T::Reads, found: &T::Finds, outcome: &mut Outcome) {
        T::tell(reads, found, outcome);
    }
}
