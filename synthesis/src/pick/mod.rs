//! Choosing values off the shelf: the best set for the ask, not a rounding of the exact values.
//!
//! Every combination of the chosen parts (capacitors; the comfortable ones where there are very many,
//! `combinations`) is solved exactly with the real op amp (`exact`); around each solution the shelf's values
//! (`lists`) are listed with what each set promises (`listing`, `shortlist`). The best of them by what their
//! boards will do (`judge`) and by what they cost a buyer and a bench (`comfort`) get their dividers
//! (`divider`) and are put in order (`rank`), with what stands next to the first on the shelf (`touch`); `kept` has those that are shown. Where
//! nothing holds the limits, the whole shelf is searched (`thorough`, `anneal`, `polish`) before that is said,
//! with what would bring it back (`remedy`). A limit on noise steers the level of impedance (`quiet`).

mod anneal;
mod bandwidth;
mod combinations;
mod comfort;
mod descend;
mod divider;
mod exact;
mod judge;
mod kept;
mod knobs;
mod listing;
mod lists;
mod moves;
mod polish;
mod preference;
mod quiet;
mod rank;
mod remedy;
mod search;
mod shortlist;
mod thorough;
mod touch;

pub use bandwidth::least_gain_bandwidth;
pub use comfort::{Bother, USUAL_IMPEDANCE, Weights, strain_of};
pub use exact::{Solution, solve};
pub use judge::Judge;
pub use kept::{KEPT, Pick};
pub use preference::{IN_A_LOOP, Preference};
pub use quiet::{NoiseLimit, QuietSearch};
pub use rank::{Rank, STEP, best_share, rank};
pub use remedy::Remedy;
pub use search::{Choices, Search};
