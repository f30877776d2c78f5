//! The measured points as the fit takes them.

use num_complex::Complex64;

use super::measurement::Measurement;

/// Points that are looked at, at most: more are averaged where the curve is straight.
const MOST: usize = 160;
/// No network analyser is better than this, relative to what it reads.
pub(super) const FLOOR: f64 = 2e-3;
/// What a null is drowned in, relative to what stands above it on both sides within an octave.
const DROWNED: f64 = 1e-3;
/// The same where no phase tells on which side of a null a board is.
const FOLDED: f64 = 0.02;
/// Points so far below their surroundings say nothing of the noise that goes with the magnitude.
const DEEP: f64 = 0.05;

/// Measured points.
#[derive(Clone, Debug)]
pub(super) struct Data {
    /// Hz
    pub frequencies: Vec<f64>,
    pub measured: Vec<Complex64>,
    pub has_phase: bool,
    weights: Vec<f64>,
    /// How far the curve rises on both sides of each point within an octave.
    near: Vec<f64>,
    /// Points that do not belong to a curve.
    left_out: Vec<bool>,
}

impl Data {
    /// Of a measurement that was checked.
    pub fn new(measurement: &Measurement) -> Data {
        let sweep = measurement.sweep.thinned(MOST);
        let frequencies: Vec<f64> = sweep.points.iter().map(|p| p.frequency).collect();
        let measured: Vec<Complex64> = sweep.points.iter().map(|p| p.response).collect();
        // A null has more on both sides; a slope has not.
        let near = frequencies.iter().zip(&measured).map(|(f, own)| {
            let most = |from: f64, to: f64| {
                let beside = frequencies.iter().zip(&measured);
                let beside = beside.filter(|(other, _)| (from..=to).contains(*other));
                beside.map(|(_, m)| m.norm()).fold(0.0, f64::max)
            };
            let least = most(0.5 * f, *f).min(most(*f, 2.0 * f));
            (least * least - own.norm_sqr()).max(0.0).sqrt()
        });
        Data {
            near: near.collect(),
            weights: sweep.points.iter().map(|p| p.weight).collect(),
            left_out: vec![false; frequencies.len()],
            has_phase: measurement.has_phase,
            measured,
            frequencies,
        }
    }

    pub fn len(&self) -> usize {
        self.frequencies.len()
    }

    /// How many numbers were measured.
    pub fn count(&self) -> f64 {
        let kept = self.left_out.iter().filter(|out| !**out).count();
        kept as f64 * if self.has_phase { 2.0 } else { 1.0 }
    }

    /// One over the standard deviation of each point, absolute, where the noise is this; 0 for what is left out.
    pub fn sharpness(&self, noise: f64) -> Vec<f64> {
        (0..self.len())
            .map(|k| match self.left_out[k] {
                true => 0.0,
                false => 1.0 / self.deviation(k, noise),
            })
            .collect()
    }

    /// Standard deviation of a point, absolute.
    pub fn deviation(&self, k: usize, noise: f64) -> f64 {
        let relative = (noise / self.weights[k].sqrt()).max(FLOOR);
        let drowned = if self.has_phase { DROWNED } else { FOLDED };
        (relative * self.measured[k].norm()).hypot(drowned * self.near[k])
    }

    /// How far a model is off at each point that tells of the noise, relative to the magnitude and as at weight 1; the
    /// second part is 0 where no phase was measured.
    pub fn errors(&self, model: &[Complex64]) -> Vec<(usize, Complex64)> {
        (0..self.len())
            .filter(|&k| self.measured[k].norm() > DEEP * self.near[k])
            .map(|k| {
                let of = self.measured[k];
                let off = match self.has_phase {
                    true => (model[k] - of) / of,
                    false => Complex64::new(model[k].norm() / of.norm() - 1.0, 0.0),
                };
                (k, off * self.weights[k].sqrt())
            })
            .collect()
    }

    /// Leaves a point out.
    pub fn leave_out(&mut self, k: usize) {
        self.left_out[k] = true;
    }
}
