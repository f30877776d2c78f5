//! What is known of a number of a board before it is measured, as Gauss–Newton wants it, and as it is.

use statrs::distribution::{Continuous, ContinuousCDF, Normal};

use crate::spread::{Distribution, Law, Population, Reach, Variation, VariationKind};

/// How steep the edge of a law is at least, in tolerances: no tolerance is known better.
const EDGE: f64 = 0.02;
/// How much faster than the law a hole is passed.
const STEEP: f64 = 6.0;
/// Steps of the sum over a law.
const STEPS: u32 = 400;

/// The law of one number, in the logarithm of its value over the marked one.
#[derive(Clone, Debug)]
pub(super) struct NumberLaw {
    kind: VariationKind,
    distribution: Distribution,
    /// Standard deviation of what is its own.
    pub own: f64,
    /// Which common deviation it feels, and with what standard deviation.
    pub shared: Option<(usize, f64)>,
    /// Largest deviation as delivered: own, and own and shared.
    own_tolerance: f64,
    tolerance: f64,
    /// Standard deviation of its drift.
    drift: f64,
}

impl NumberLaw {
    pub fn new(variation: &Variation, span: f64) -> NumberLaw {
        let spread = deviation(&variation.distribution);
        let scale = match variation.kind {
            VariationKind::InverseDecibel => std::f64::consts::LN_10 / 20.0,
            _ => 1.0,
        };
        // A drift goes with a number between −1 and 1 times kelvins between both ends.
        let drift = |reach: &Reach| (reach.tempco * span / 3.0).hypot(reach.ageing / 3f64.sqrt());
        let of = |reach: &Reach| scale * (reach.tolerance * spread).hypot(drift(reach));
        let shared = variation.shared.map(|with| (with.common, of(&with.reach)));
        let more = variation.shared.map(|with| with.reach).unwrap_or_default();
        let fixed = variation.kind == VariationKind::Fixed;
        NumberLaw {
            kind: variation.kind,
            distribution: variation.distribution,
            own: if fixed { 0.0 } else { of(&variation.own) },
            shared: shared.filter(|(_, sd)| *sd > 0.0 && !fixed),
            own_tolerance: variation.own.tolerance,
            tolerance: if fixed {
                0.0
            } else {
                variation.own.tolerance + more.tolerance
            },
            drift: drift(&variation.own).hypot(drift(&more)),
        }
    }

    /// Of a number that may be turned: only its standard deviation is known.
    pub fn free(deviation: f64) -> NumberLaw {
        let still = NumberLaw::new(&Variation::fixed(1.0), 0.0);
        NumberLaw {
            own: deviation,
            ..still
        }
    }

    /// Standard deviation in all.
    pub fn deviation(&self) -> f64 {
        self.own.hypot(self.shared.map_or(0.0, |(_, sd)| sd))
    }

    /// Largest deviation as delivered, as the logarithm of a ratio.
    pub fn reach(&self) -> f64 {
        match self.kind {
            VariationKind::InverseDecibel => self.tolerance * std::f64::consts::LN_10 / 20.0,
            _ => self.tolerance.ln_1p(),
        }
    }

    /// The deviation that makes this logarithm of a ratio, counted as the law counts.
    fn counted(&self, ln: f64) -> f64 {
        match self.kind {
            VariationKind::Fixed | VariationKind::Ratio => ln.exp_m1(),
            VariationKind::Inverse => (-ln).exp_m1(),
            VariationKind::InverseDecibel => -20.0 / std::f64::consts::LN_10 * ln,
        }
    }

    /// Whether a value lies beyond all that was delivered and drifts.
    pub fn is_outside(&self, ln: f64) -> bool {
        let drift = match self.kind {
            VariationKind::InverseDecibel => 0.0,
            _ => self.drift,
        };
        self.counted(ln).abs() > self.tolerance + drift
    }

    /// The logarithm of a ratio that a standard normal number stands for, by its own law, and its slope: whatever the law,
    /// the number is normal.
    pub fn own_of(&self, z: f64) -> (f64, f64) {
        if self.own_tolerance == 0.0 || self.kind == VariationKind::Fixed {
            return (self.own * z, self.own);
        }
        let normal = Normal::standard();
        let Distribution { law, sigmas, hole } = self.distribution;
        let side = |z: f64| (2.0 * normal.cdf(z) - 1.0, 2.0 * normal.pdf(z));
        let (share, slope) = match law {
            Law::Uniform => side(z),
            Law::Normal => (z / sigmas, 1.0 / sigmas),
        };
        // A hole is jumped over, steeply.
        let (jump, steep) = side(STEEP * z);
        let share = hole * jump + (1.0 - hole) * share;
        let slope = hole * STEEP * steep + (1.0 - hole) * slope;
        // A normal law has no edge that wants to be soft.
        let soft = if law == Law::Uniform { EDGE } else { 0.0 };
        let edge = (soft * self.own_tolerance).max(match self.kind {
            VariationKind::InverseDecibel => 0.0,
            _ => self.drift,
        });
        let deviation = (self.own_tolerance * share + edge * z).max(-0.99);
        let slope = self.own_tolerance * slope + edge;
        match self.kind {
            VariationKind::Fixed | VariationKind::Ratio => {
                (deviation.ln_1p(), slope / (1.0 + deviation))
            }
            VariationKind::Inverse => (-deviation.ln_1p(), -slope / (1.0 + deviation)),
            VariationKind::InverseDecibel => {
                let neper = std::f64::consts::LN_10 / 20.0;
                let deviation = self.own_tolerance * share + edge * z;
                (-neper * deviation, -neper * slope)
            }
        }
    }
}

/// The laws of all numbers of a population.
pub(super) fn laws(population: &Population) -> Vec<NumberLaw> {
    let all = population.variations.iter();
    all.map(|variation| NumberLaw::new(variation, population.temperature_span))
        .collect()
}

/// Density of the normal law about 0.
pub(super) fn bell(x: f64, sd: f64) -> f64 {
    (-0.5 * (x / sd).powi(2)).exp() / (sd * std::f64::consts::TAU.sqrt())
}

/// Standard deviation of a law, in tolerances.
fn deviation(distribution: &Distribution) -> f64 {
    let deviations = distribution.ready();
    let at = |k: u32| deviations.at((f64::from(k) + 0.5) / f64::from(STEPS));
    let square = (0..STEPS).map(|k| at(k).powi(2)).sum::<f64>() / f64::from(STEPS);
    square.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A uniform law has a standard deviation of its half width over √3.
    #[test]
    fn a_uniform_law() {
        let law = NumberLaw::new(&Variation::within(1e3, 0.01, Distribution::UNIFORM), 0.0);
        assert!((law.deviation() - 0.01 / 3f64.sqrt()).abs() < 1e-6);
        assert!(law.is_outside(0.0101) && !law.is_outside(-0.0099));
    }

    /// Normal numbers make the law: as many below each value as the law's own inverse says, but for its soft edge.
    #[test]
    fn normal_numbers_make_the_law() {
        let normal = Normal::standard();
        for law in [Law::Uniform, Law::Normal] {
            for hole in [0.0, 0.4] {
                let distribution = Distribution {
                    law,
                    sigmas: 3.0,
                    hole,
                };
                let one = NumberLaw::new(&Variation::within(1e3, 0.05, distribution), 0.0);
                let ready = distribution.ready();
                for share in [0.03, 0.2, 0.7, 0.9] {
                    let (ln, slope) = one.own_of(normal.inverse_cdf(share));
                    let known = 0.05 * ready.at(share);
                    let near = if hole > 0.0 { 6e-3 } else { 2e-3 };
                    assert!(
                        (ln.exp_m1() - known).abs() < near,
                        "{law:?} {hole} {share}: {ln} {known}"
                    );
                    assert!(slope > 0.0);
                }
            }
        }
    }

    #[test]
    fn slopes_are_those_of_the_values() {
        for kind in [
            VariationKind::Ratio,
            VariationKind::Inverse,
            VariationKind::InverseDecibel,
        ] {
            let tolerance = if kind == VariationKind::InverseDecibel {
                6.0
            } else {
                0.3
            };
            let variation = Variation {
                kind,
                ..Variation::within(1.0, tolerance, Distribution::UNIFORM)
            };
            let law = NumberLaw::new(&variation, 0.0);
            for z in [-2.0, 0.3, 1.5] {
                let (above, below) = (law.own_of(z + 1e-5).0, law.own_of(z - 1e-5).0);
                let slope = law.own_of(z).1;
                assert!(
                    ((above - below) / 2e-5 / slope - 1.0).abs() < 1e-5,
                    "{kind:?} {z}"
                );
            }
        }
    }
}
