//! L anywhere in the plane, from its parts.

use std::f64::consts::TAU;

use num_complex::Complex64;

use crate::feedback::OpenLoop;
use crate::plant::Model;
use crate::response::Transfer;

/// L(s) and the slope of its logarithm, L'(s)/L(s), with the delay; s in rad/s and no pole of L.
pub(super) fn at(open: &OpenLoop, model: &Model, s: Complex64) -> (Complex64, Complex64) {
    let (p, slope) = plant(model, s);
    open.stages
        .iter()
        .map(|stage| transfer(stage, s))
        .fold((open.sign * p, slope), |l, stage| {
            (l.0 * stage.0, l.1 + stage.1)
        })
}

fn transfer(transfer: &Transfer, s: Complex64) -> (Complex64, Complex64) {
    let p = s / transfer.omega;
    let (num, dnum) = polynomial(&transfer.num, p);
    let (den, dden) = polynomial(&transfer.den, p);
    (num / den, (dnum / num - dden / den) / transfer.omega)
}

/// The polynomial and its derivative.
pub(super) fn polynomial(coefficients: &[f64], p: Complex64) -> (Complex64, Complex64) {
    let start = (Complex64::ZERO, Complex64::ZERO);
    coefficients.iter().rev().fold(start, |(value, slope), c| {
        (value * p + c, slope * p + value)
    })
}

/// The plant and the slope of its logarithm.
pub(super) fn plant(model: &Model, s: Complex64) -> (Complex64, Complex64) {
    let start = model.rigid.map_or((Complex64::ZERO, Complex64::ZERO), |r| {
        (r.of(s), r.slope(s))
    });
    let (sum, slope) = model.modes.iter().fold(start, |(sum, slope), mode| {
        let omega = TAU * mode.frequency;
        let den = s * s + 2.0 * mode.damping * omega * s + omega * omega;
        let own = (mode.residue + mode.slope * s) / den;
        let own_slope = (mode.slope - own * (2.0 * s + 2.0 * mode.damping * omega)) / den;
        (sum + own, slope + own_slope)
    });
    let mut whole = sum * (-s * model.delay).exp();
    let mut logarithmic = slope / sum - model.delay;
    if let Some(corner) = model.lag {
        let lag = 1.0 + s / (TAU * corner);
        whole /= lag;
        logarithmic -= 1.0 / (TAU * corner) / lag;
    }
    (whole, logarithmic)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Plant, Rigid};

    #[test]
    fn the_slope_is_that_of_the_value() {
        let model = Model {
            rigid: Some(Rigid::new(2, 3.0)),
            modes: vec![Mode {
                frequency: 1.0,
                damping: 0.1,
                residue: 2.0,
                slope: 0.3,
            }],
            lag: Some(4.0),
            delay: 0.1,
        };
        let stage = Transfer {
            num: vec![1.0, 0.5],
            den: vec![1.0, 0.2, 0.1],
            omega: 2.0,
        };
        let open = OpenLoop {
            stages: vec![&stage],
            plant: Plant::Model(&model),
            sign: -2.0,
        };
        let (s, step) = (Complex64::new(-0.4, 5.0), 1e-5);
        let value = |s| at(&open, &model, s).0;
        let slope = (value(s + step) - value(s - step)) / (2.0 * step) / value(s);
        assert!((at(&open, &model, s).1 - slope).norm() < 1e-8);
        let axis = Complex64::new(0.0, TAU * 0.7);
        assert!((value(axis) / open.at(0.7) - 1.0).norm() < 1e-12);
    }
}
