//! The characteristic function: zero where 1 + L is, and smooth everywhere.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::super::laplace::polynomial;
use crate::feedback::OpenLoop;
use crate::plant::Model;

/// A value and its slope.
#[derive(Clone, Copy)]
pub(super) struct Jet {
    pub value: Complex64,
    pub slope: Complex64,
}

impl Jet {
    pub const ONE: Jet = Jet {
        value: Complex64::ONE,
        slope: Complex64::ZERO,
    };

    pub fn times(self, other: Jet) -> Jet {
        Jet {
            value: self.value * other.value,
            slope: self.value * other.slope + self.slope * other.value,
        }
    }

    pub fn plus(self, other: Jet) -> Jet {
        Jet {
            value: self.value + other.value,
            slope: self.slope + other.slope,
        }
    }

    pub fn over(self, other: Jet) -> Jet {
        let value = self.value / other.value;
        Jet {
            value,
            slope: (self.slope - value * other.slope) / other.value,
        }
    }
}

/// L's denominator, and denominator and numerator together, at s in rad/s.
///
/// With L = N·e^(−sT)/D this is D + N·e^(−sT): unlike 1 + L it has no poles, beside which Newton's method
/// would find the closed loop's poles from next to nowhere.
pub(super) fn characteristic(open: &OpenLoop, model: &Model, s: Complex64) -> (Jet, Jet) {
    let (mut num, mut den) = plant(model, s);
    num.value *= open.sign;
    num.slope *= open.sign;
    for stage in &open.stages {
        let jet = |coefficients: &[f64]| {
            let (value, slope) = polynomial(coefficients, s / stage.omega);
            Jet {
                value,
                slope: slope / stage.omega,
            }
        };
        num = num.times(jet(&stage.num));
        den = den.times(jet(&stage.den));
    }
    (den, den.plus(num))
}

/// The plant's numerator with its delay, and its denominator.
fn plant(model: &Model, s: Complex64) -> (Jet, Jet) {
    let real = |value: f64, slope: f64| Jet {
        value: value.into(),
        slope: slope.into(),
    };
    let line = |corner: f64| Jet {
        value: 1.0 + s / corner,
        slope: (1.0 / corner).into(),
    };
    let mut num = real(0.0, 0.0);
    let mut den = Jet::ONE;
    if let Some(rigid) = model.rigid {
        num = real(rigid.gain, 0.0);
        den = rigid.poles().fold(den, |den, pole| {
            den.times(Jet {
                value: s - pole,
                slope: Complex64::ONE,
            })
        });
    }
    for mode in &model.modes {
        let omega = TAU * mode.frequency;
        let scale = 1.0 / (omega * omega);
        let own = Jet {
            value: (mode.residue + mode.slope * s) * scale,
            slope: (mode.slope * scale).into(),
        };
        let resonance = Jet {
            value: (s * s + 2.0 * mode.damping * omega * s) * scale + 1.0,
            slope: (2.0 * s + 2.0 * mode.damping * omega) * scale,
        };
        num = num.times(resonance).plus(own.times(den));
        den = den.times(resonance);
    }
    if let Some(corner) = model.lag {
        den = den.times(line(TAU * corner));
    }
    if model.delay > 0.0 {
        let value = (-s * model.delay).exp();
        num = num.times(Jet {
            value,
            slope: -model.delay * value,
        });
    }
    (num, den)
}
