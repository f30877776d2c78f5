//! How far boards stray: drawing them, bands on the curves, figures, yield.

mod band;
mod contributions;
mod corners;
mod draw;
mod figures;
mod interval;
mod law;
mod pace;
mod phase;
mod reader;
mod run;
mod sampler;
mod schedule;
mod side_by_side;
mod stop;
mod summary;
mod team;
mod trial;
mod trim;
mod variation;
mod width;

pub use band::{BLOCK, Band, Boards, Counts, Rows, Sweep, bands, extremes};
pub use contributions::{
    Contribution, ContributionsRun, ContributionsSetting, ENOUGH, Estimate, FactorShares, Indices,
    Tally,
};
pub use corners::{Axis, Bend, Corners, CornersSetting, Extreme, Extremes};
pub use draw::{Draws, Factor, Population};
pub use figures::{Figures, Formula, StageFigures};
pub use interval::clopper_pearson;
pub use law::{Distribution, Law};
pub use phase::PhaseAt;
pub use reader::Reader;
pub use run::{RunStage, RunView, Sampling, SpreadRun};
pub use sampler::{BAND_BOARDS, Batch, Misses, Sampler};
pub use schedule::{Errand, Hand};
pub use side_by_side::MOST_WORKERS;
pub use stop::{SEQUENCE, Stability, StopRule, numerical_tolerance};
pub use summary::{Histogram, Quantiles, quantiles};
pub use team::{Draw, Team};
pub use trial::{Trial, Verdict};
pub use trim::{TrimRun, TrimWish, Trimmed};
pub use variation::{Reach, Shared, Variation, VariationKind};
pub use width::{WidthCurve, Widths};
