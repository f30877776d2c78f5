//! Two designs side by side: where their entries differ, where their parts do, and what comes of it.

mod align;
mod entries;
mod figures;
mod parts;
mod side;

pub use align::{Pair, pairs};
pub use entries::{EntryDifference, entries};
pub use figures::{Compared, Scale, figures};
pub use parts::{PartDifference, PartDifferences, parts};
pub use side::Side;
