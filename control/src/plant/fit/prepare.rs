//! From a sweep to what is fitted: checked, and weighted by the noise of its points.

use std::f64::consts::TAU;

use super::data::{Data, Scale, sizes};
use super::error::FitError;
use super::noise::Noise;
use super::settings::Settings;
use crate::plant::sweep::FREQUENCIES;
use crate::plant::{Point, Sweep};

/// Largest magnitude of a response.
const LARGEST: f64 = 1e60;

/// Fewest points that anything is looked for in: with fewer a bare mass of the wrong sign may pass for a mode.
pub(super) const LEAST_POINTS: usize = 6;
/// The least that is looked for: a mode, and gain and delay beside it.
pub(super) const LEAST_UNKNOWNS: usize = 5;

/// Checks a sweep and brings it, within the settings' range, into units of its own.
///
/// # Errors
/// What is wrong with the sweep or the range.
pub(super) fn prepare(sweep: &Sweep, settings: &Settings) -> Result<(Scale, Data), FitError> {
    let from = settings.from.unwrap_or(0.0);
    let to = settings.to.unwrap_or(f64::INFINITY);
    if from.is_nan() || to.is_nan() || from >= to {
        return Err(FitError::Range { from, to });
    }
    let mut before = 0.0;
    for (index, point) in sweep.points.iter().enumerate() {
        let frequency = point.frequency;
        if !(FREQUENCIES.0..=FREQUENCIES.1).contains(&frequency) || frequency <= before {
            return Err(FitError::Frequency {
                number: index + 1,
                frequency,
            });
        }
        let size = point.response.norm();
        if size.is_nan() || size >= LARGEST {
            return Err(FitError::Response(frequency));
        }
        before = frequency;
    }
    let inside = |p: &&Point| (from..=to).contains(&p.frequency);
    let points: Vec<Point> = sweep.points.iter().filter(inside).copied().collect();
    let Some((first, last)) = points.first().zip(points.last()) else {
        return Err(FitError::Points {
            points: 0,
            needed: LEAST_POINTS,
            parameters: LEAST_UNKNOWNS,
        });
    };
    let magnitudes: Vec<f64> = points.iter().map(|p| p.response.norm()).collect();
    let sizes = sizes(&magnitudes);
    let mut sorted = sizes.clone();
    sorted.sort_by(f64::total_cmp);
    let scale = Scale {
        omega: TAU * (first.frequency * last.frequency).sqrt(),
        size: sorted[sorted.len() / 2],
    };
    if scale.size < 1.0 / LARGEST {
        return Err(FitError::Silent);
    }
    let mut data = Data::of(&points, scale);
    let sizes = data.sizes();
    if let Some(noise) = Noise::of_points(&data, &sizes) {
        data.weigh(&noise.sizes(&data, &sizes));
    }
    Ok((scale, data))
}
