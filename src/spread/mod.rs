//! How far boards stray: drawing them, bands on the curves, figures, yield.

mod band;
mod draw;
mod interval;
mod run;
mod summary;

pub use band::{Band, Boards, Sweep, extremes};
pub use draw::{Draws, Law, Stray};
pub use interval::clopper_pearson;
pub use run::{RunStage, RunView, SpreadRun};
pub use summary::{Histogram, quantiles};
