//! Modes and antiresonances as they are seen in |P|.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::Model;
use crate::numerics;
use crate::numerics::put_in_order;

/// Places at which a top is looked for, to each side of a mode.
const PLACES: i32 = 30;
/// How far from a mode its top is looked for: in half-widths, and at least this share of its frequency.
const HALF_WIDTHS: f64 = 3.0;
const LEAST_WAY: f64 = 0.003;
/// Damping ratio above which zeros make no dip worth telling.
const MOST_DAMPING: f64 = 0.5;

/// A mode as it is seen in |P|.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Peak {
    /// Where |P| is largest near the mode; the mode's own frequency where |P| has no top there. Hz.
    pub frequency: f64,
    /// Whether |P| has a top there.
    pub top: bool,
    /// The mode's damping ratio.
    pub damping: f64,
    /// |P| there, output per input.
    pub height: f64,
    /// By how many dB |P| lies above the model without this mode, there; `None` where nothing is left.
    pub rise_db: Option<f64>,
}

/// A pair of zeros near the imaginary axis, with its dip in |P|.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Antiresonance {
    /// Distance of the zeros from the origin, Hz.
    pub frequency: f64,
    /// Their damping ratio; below 0 for zeros in the right half-plane.
    pub damping: f64,
}

/// The peak of each mode of a model, in the model's order.
pub fn peaks(model: &Model) -> Vec<Peak> {
    let size = |f: f64| model.at(f).norm();
    let peak = |k: usize| {
        let mode = &model.modes[k];
        let reach = (HALF_WIDTHS * mode.damping).clamp(LEAST_WAY, 0.5);
        let at = |i: i32| mode.frequency * (1.0 + reach * f64::from(i) / f64::from(PLACES));
        let highest = (-PLACES..=PLACES)
            .max_by(|&a, &b| size(at(a)).total_cmp(&size(at(b))))
            .unwrap_or(0);
        let top = highest.abs() < PLACES;
        let frequency = if top {
            numerics::top(size, at(highest - 1), at(highest + 1))
        } else {
            mode.frequency
        };
        let mut without = model.clone();
        without.modes.remove(k);
        let rise = 20.0 * (size(frequency) / without.at(frequency).norm()).log10();
        Peak {
            frequency,
            top,
            damping: mode.damping,
            height: size(frequency),
            rise_db: rise.is_finite().then_some(rise),
        }
    };
    (0..model.modes.len()).map(peak).collect()
}

/// Zeros of a model near the imaginary axis between two frequencies (Hz), found from the dips of |P| by
/// Newton's method on the rational part. Empty when the frequencies are no range.
pub fn antiresonances(model: &Model, from: f64, to: f64) -> Vec<Antiresonance> {
    let mut found: Vec<Antiresonance> = Vec::new();
    if !(from > 0.0 && from < to && to.is_finite()) {
        return found;
    }
    let frequencies = dense(model, from, to);
    let sizes: Vec<f64> = frequencies.iter().map(|&f| model.at(f).norm()).collect();
    for (window, f) in sizes.windows(3).zip(frequencies.windows(3)) {
        if !(window[1] <= window[0] && window[1] < window[2]) {
            continue;
        }
        let Some(zero) = newton(model, Complex64::new(0.0, TAU * f[1])) else {
            continue;
        };
        let antiresonance = Antiresonance {
            frequency: zero.norm() / TAU,
            damping: -zero.re / zero.norm(),
        };
        let near = (antiresonance.frequency / f[1]).ln().abs() < 0.3;
        let new = found.iter().all(|other| {
            (other.frequency / antiresonance.frequency - 1.0).abs() > 1e-9
                || (other.damping - antiresonance.damping).abs() > 1e-9
        });
        if near && new && antiresonance.damping.abs() < MOST_DAMPING {
            found.push(antiresonance);
        }
    }
    put_in_order(&mut found, |a, b| a.frequency.total_cmp(&b.frequency));
    found
}

/// Frequencies dense enough to show every dip: even steps of the logarithm, and denser about each mode, beside
/// which weak ones have their zeros.
fn dense(model: &Model, from: f64, to: f64) -> Vec<f64> {
    let even = (0..=600).map(|i| from * (to / from).powf(f64::from(i) / 600.0));
    let around = model.modes.iter().flat_map(|mode| {
        let step = mode.damping.min(0.1);
        (-40..=40).map(move |i| mode.frequency * (1.0 + 0.2 * step * f64::from(i)))
    });
    let mut all: Vec<f64> = even
        .chain(around.filter(|f| (from..=to).contains(f)))
        .collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// A zero of the rational part from a start nearby.
fn newton(model: &Model, start: Complex64) -> Option<Complex64> {
    let mut s = start;
    for _ in 0..50 {
        let (value, slope) = sum(model, s);
        let step = value / slope;
        if !step.is_finite() {
            return None;
        }
        // Half of the way to the origin at most: a dip's zero is near it.
        let step = step * (0.5 * s.norm() / step.norm().max(f64::MIN_POSITIVE)).min(1.0);
        s -= step;
        if step.norm() < 1e-13 * s.norm() {
            return (s.im > 0.0).then_some(s);
        }
    }
    None
}

/// The sum of rigid part and modes, whose zeros are the plant's, and its derivative.
pub(super) fn sum(model: &Model, s: Complex64) -> (Complex64, Complex64) {
    let rigid = model.rigid.map_or((Complex64::ZERO, Complex64::ZERO), |r| {
        (r.of(s), r.slope(s))
    });
    model.modes.iter().fold(rigid, |(value, slope), mode| {
        let omega = TAU * mode.frequency;
        let q = s * s + 2.0 * mode.damping * omega * s + omega * omega;
        let share = (mode.residue + mode.slope * s) / q;
        let change = (mode.slope - share * (2.0 * s + 2.0 * mode.damping * omega)) / q;
        (value + share, slope + change)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Rigid};

    #[test]
    fn a_mass_with_a_mode_has_its_zero_where_the_shares_cancel() {
        let omega = TAU * 100.0;
        let model = Model {
            rigid: Some(Rigid::new(2, 1.0)),
            modes: vec![Mode {
                frequency: 100.0,
                damping: 0.01,
                residue: 0.5,
                slope: 0.0,
            }],
            lag: None,
            delay: 1e-3,
        };
        // (s² + 2ζωs + ω²) + 0.5·s² = 0
        let found = antiresonances(&model, 10.0, 1000.0);
        assert_eq!(found.len(), 1);
        let at = omega / 1.5f64.sqrt();
        assert!((TAU * found[0].frequency / at - 1.0).abs() < 1e-9);
        assert!((found[0].damping - 0.01 / 1.5f64.sqrt()).abs() < 1e-9);
        let peak = peaks(&model)[0];
        assert!(peak.top && (peak.frequency - 100.0).abs() < 0.1);
        // 0.5/(2ζω²) against 1/ω²
        assert!((peak.rise_db.unwrap() - 20.0 * 25.0f64.log10()).abs() < 0.1);
    }
}
