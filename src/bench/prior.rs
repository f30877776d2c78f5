//! What is known of a number of a board before it is measured, as Gauss–Newton wants it, and as it is.

use statrs::distribution::{ContinuousCDF, Normal};

use crate::spread::{Distribution, Law, Population, Reach, Variation, VariationKind};

/// How steep the edge of a law is at least, in tolerances: no tolerance is known better.
const EDGE: f64 = 0.02;
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

    /// The logarithm of the law's density over that of the normal law of the same standard deviation which Gauss–Newton
    /// took for it.
    pub fn correction(&self, ln: f64) -> f64 {
        if self.tolerance == 0.0 || self.kind == VariationKind::Fixed {
            return 0.0;
        }
        let counted = self.counted(ln);
        let edge = (EDGE * self.tolerance).max(match self.kind {
            VariationKind::InverseDecibel => 0.0,
            _ => self.drift,
        });
        let normal = Normal::standard();
        let within = |limit: f64| {
            normal.cdf((counted + limit) / edge) - normal.cdf((counted - limit) / edge)
        };
        if self.shared.is_some() || self.own_tolerance != self.tolerance {
            // A sum of laws has no edge inside; beyond all of them there is nothing.
            return within(self.tolerance).max(1e-30).ln();
        }
        let Distribution { law, sigmas, hole } = self.distribution;
        let held = within(self.tolerance) - within(hole * self.tolerance) * f64::from(hole > 0.0);
        let density = match law {
            Law::Uniform => held / (2.0 * self.tolerance * (1.0 - hole)),
            Law::Normal => {
                let sd = self.tolerance / sigmas;
                let mass = normal.cdf(sigmas) - normal.cdf(sigmas * hole);
                held * bell(counted, sd) / (2.0 * mass)
            }
        };
        // From the law's own count to the logarithm.
        let slope = match self.kind {
            VariationKind::InverseDecibel => 20.0 / std::f64::consts::LN_10,
            _ => 1.0 + counted,
        };
        (density.max(1e-30) * slope.max(1e-3)).ln() - bell(ln, self.deviation()).max(1e-300).ln()
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

    /// A uniform law has a standard deviation of its half width over √3, and a density of one over its width.
    #[test]
    fn a_uniform_law() {
        let law = NumberLaw::new(&Variation::within(1e3, 0.01, Distribution::UNIFORM), 0.0);
        assert!((law.deviation() - 0.01 / 3f64.sqrt()).abs() < 1e-6);
        let ratio = (50.0f64 / bell(0.0, law.deviation())).ln();
        assert!((law.correction(0.0) - ratio).abs() < 1e-9);
        assert!(law.correction(0.012) < -10.0);
        assert!(law.is_outside(0.0101) && !law.is_outside(-0.0099));
    }

    /// The laws' densities integrate to 1, holes and cuts and all.
    #[test]
    fn densities_integrate_to_one() {
        for law in [Law::Uniform, Law::Normal] {
            for hole in [0.0, 0.4] {
                let distribution = Distribution {
                    law,
                    sigmas: 2.0,
                    hole,
                };
                for tolerance in [0.01, 0.05] {
                    let one = NumberLaw::new(&Variation::within(1e3, tolerance, distribution), 0.0);
                    let step = tolerance / 500.0;
                    let total: f64 = (-1000..1000)
                        .map(|k| {
                            let ln = (f64::from(k) + 0.5) * step;
                            one.correction(ln).exp() * bell(ln, one.deviation()) * step
                        })
                        .sum();
                    assert!(
                        (total - 1.0).abs() < 5e-3,
                        "{law:?} {hole} {tolerance}: {total}"
                    );
                }
            }
        }
    }
}
