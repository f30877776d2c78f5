//! The loop cut open: path times plant.

use num_complex::Complex64;

use crate::plant::Plant;
use crate::response::Transfer;

/// L(s) = sign · Π stages · plant. Feedback is taken away from the reference at the summing point, so
/// that a loop with a positive `sign` and no inversion in it is closed as negative feedback.
#[derive(Clone)]
pub struct OpenLoop<'a> {
    pub stages: Vec<&'a Transfer>,
    pub plant: Plant<'a>,
    /// −1 where the summing point adds the feedback instead, or takes the inversion of the path back.
    pub sign: f64,
}

impl OpenLoop<'_> {
    /// L(j·2π·frequency), frequency in Hz; outside of a sweep, the sweep's nearest end.
    pub fn at(&self, frequency: f64) -> Complex64 {
        self.stages
            .iter()
            .fold(self.sign * self.plant.at(frequency), |l, stage| {
                l * stage.at(frequency)
            })
    }

    /// Sign of the whole loop towards low frequencies: below 0 the feedback is positive. A sweep's is that
    /// of its first point, which must lie below all that turns its phase.
    pub fn net_sign(&self) -> f64 {
        let plant = match self.plant {
            Plant::Model(model) => model.low_sign(),
            Plant::Sweep(sweep) => sweep.points.first().map_or(1.0, |p| p.response.re.signum()),
        };
        let stages = self.stages.iter().map(|stage| stage.low_sign());
        stages.fold(self.sign.signum() * plant, |sign, stage| sign * stage)
    }

    /// Poles in rad/s, as far as they are known; those of integrators are exactly zero.
    pub fn poles(&self) -> Vec<Complex64> {
        let stages = self.stages.iter().flat_map(|stage| stage.poles());
        stages.chain(self.plant.poles()).collect()
    }

    /// Corner frequencies of all poles and zeros that are known, as roots in rad/s.
    pub fn roots(&self) -> Vec<Complex64> {
        let mut roots = self.poles();
        roots.extend(self.stages.iter().flat_map(|stage| stage.zeros()));
        roots
    }
}
