//! How a deviation lies within its tolerance.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// The law's shape.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Law {
    /// Every value within the tolerance is as likely (JCGM 101:2008, 6.4.2).
    Uniform,
    /// Normal, cut at the tolerance (after JCGM 101:2008, 6.4.7).
    Normal,
}

/// A law with its numbers; deviations are counted in tolerances, so that they lie from −1 to 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Distribution {
    pub law: Law,
    /// How many standard deviations of the uncut normal the tolerance is, above 0.
    pub sigmas: f64,
    /// No part lies within this share of the tolerance, because better ones were sorted out: from 0
    /// (nothing sorted out) to below 1.
    pub hole: f64,
}

impl Distribution {
    pub const UNIFORM: Distribution = Distribution {
        law: Law::Uniform,
        sigmas: 3.0,
        hole: 0.0,
    };

    /// The deviations of this law, ready to be read off.
    pub fn ready(self) -> Deviations {
        let normal = Normal::standard();
        let inside = |share: f64| normal.cdf(self.sigmas * share) - 0.5;
        Deviations {
            of: self,
            nearest: inside(self.hole),
            farthest: inside(1.0),
            normal,
        }
    }
}

/// A distribution's inverse, with what does not change from draw to draw worked out.
#[derive(Clone, Debug)]
pub struct Deviations {
    of: Distribution,
    /// Probabilities of the uncut normal from its middle to the hole's edge and to the tolerance.
    nearest: f64,
    farthest: f64,
    normal: Normal,
}

impl Deviations {
    /// The deviation below which this share of all parts lies; `share` within (0, 1).
    ///
    /// Rises with the share, so that extremes of the share are extremes of the deviation.
    pub fn at(&self, share: f64) -> f64 {
        let side = 2.0 * share - 1.0;
        match self.of.law {
            Law::Uniform if self.of.hole == 0.0 => side,
            Law::Uniform => (self.of.hole + (1.0 - self.of.hole) * side.abs()).copysign(side),
            Law::Normal => {
                let beyond = self.nearest + (self.farthest - self.nearest) * side.abs();
                let size = self.normal.inverse_cdf(0.5 + beyond) / self.of.sigmas;
                size.min(1.0).copysign(side)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Printed tables of the normal distribution: 68.27 % lie within one sigma, 99.73 % within three.
    #[test]
    fn normal_within_its_cut() {
        let deviations = Distribution {
            law: Law::Normal,
            ..Distribution::UNIFORM
        }
        .ready();
        let share = 0.5 + 0.5 * 0.682_689_492 / 0.997_300_204;
        assert!((deviations.at(share) - 1.0 / 3.0).abs() < 1e-7);
        assert!((deviations.at(1.0 - share) + 1.0 / 3.0).abs() < 1e-7);
        assert!(deviations.at(1.0 - 1e-12) <= 1.0);
    }

    #[test]
    fn nothing_in_the_hole() {
        for law in [Law::Uniform, Law::Normal] {
            let deviations = Distribution {
                law,
                sigmas: 2.0,
                hole: 0.5,
            }
            .ready();
            for k in 0..1000 {
                let deviation = deviations.at((f64::from(k) + 0.5) / 1000.0);
                assert!((0.5..=1.0).contains(&deviation.abs()), "{deviation}");
            }
        }
    }
}
