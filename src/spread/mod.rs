//! How far boards stray: drawing them, bands on the curves, figures, yield.

mod band;
mod blame;
mod corners;
mod draw;
mod figures;
mod interval;
mod law;
mod reader;
mod run;
mod stop;
mod stray;
mod summary;
mod trial;
mod trim;
mod width;

pub use band::{Band, Boards, Rows, Sweep, bands, extremes};
pub use blame::{Blame, BlameRun, BlameSetting, ENOUGH, Estimate, FactorShares, Indices, Tally};
pub use corners::{Axis, Bend, Corners, CornersSetting, Extreme, Extremes};
pub use draw::{Draws, Factor, Population};
pub use figures::{Figures, Formula, StageFigures};
pub use interval::clopper_pearson;
pub use law::{Distribution, Law};
pub use reader::Reader;
pub use run::{BAND_BOARDS, Misses, RunStage, RunView, Sampling, SpreadRun};
pub use stop::{SEQUENCE, Stability, StopRule, numerical_tolerance};
pub use stray::{Reach, Shared, Stray, StrayKind};
pub use summary::{Histogram, Quantiles, quantiles};
pub use trial::{Trial, Verdict};
pub use trim::{TrimRun, TrimWish, Trimmed};
pub use width::{WidthCurve, Widths};
