//! Choosing values off the shelf: the best set for the ask, not a rounding of the exact values.
//!
//! Every combination of the chosen parts (capacitors; the comfortable ones where there are very many,
//! [`combinations`]) is solved exactly with the real op amp ([`exact`]); around each solution the shelf's values
//! ([`lists`]) are listed with the least miss that each set can have ([`listing`]) and tried in that order
//! ([`queue`]), each with its dividers solved anew ([`search`], [`divider`]); what is kept is ranked by [`rank`].

mod combinations;
mod divider;
mod exact;
mod listing;
mod lists;
mod queue;
mod rank;
mod search;

pub use exact::{Solution, solve};
pub use rank::{Rank, STEP, discomfort_of, rank};
pub use search::{Choices, KEPT, Pick, Search};
