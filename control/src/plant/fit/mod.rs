//! Fitting a [`Model`](super::Model) to a sweep.
//!
//! From the sweep alone: likely delays from the phase, poles by vector fitting, the low end and the modes
//! worth having by orthogonal least squares, all refined by Levenberg–Marquardt on the complex response, and
//! changed as long as a change is worth it. Residuals are relative to the measured size, so that
//! antiresonances and the high end count as much as peaks. [`FitWork`] does it in small steps.

mod approach;
mod astray;
mod candidates;
mod check;
mod columns;
mod contest;
mod crowd;
mod data;
mod decision;
mod delay;
mod descent;
mod doubting;
mod error;
mod fitted;
mod growth;
mod judge;
mod low_end;
mod merging;
mod noise;
mod outliers;
mod placing;
mod points;
mod poles;
mod prepare;
mod scan;
mod search;
mod select;
mod settings;
mod settling;
mod structure;
mod summary;
mod terms;
mod unseen;
mod work;

pub use decision::{Decision, Rival};
pub use error::FitError;
pub use fitted::Fitted;
pub use low_end::LowEnd;
pub use settings::{Free, FreeMode, Settings, Start, Wish};
pub use unseen::Unseen;
pub use work::FitWork;

use crate::plant::{Model, Sweep};

/// Fits a model to a sweep.
///
/// # Errors
/// What is wrong with the sweep or the settings, or how many points are missing.
pub fn fit(sweep: &Sweep, settings: &Settings) -> Result<Fitted, FitError> {
    Ok(FitWork::begin(sweep, settings)?.into_fitted())
}

/// Refines what is free in a model, over the whole sweep; nothing is looked for.
///
/// # Errors
/// As [`fit`].
pub fn refit(model: &Model, free: &Free, sweep: &Sweep) -> Result<Fitted, FitError> {
    let settings = Settings {
        start: Some(Start {
            model: model.clone(),
            free: free.clone(),
        }),
        ..Settings::default()
    };
    fit(sweep, &settings)
}
