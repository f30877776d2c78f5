//! Loops round a delay, from a small part of a turn at the crossover to thousands: Nyquist's count and the crossings of
//! the negative real axis, against a formula where there is one, and against many more points where there is none.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;
use polewright::feedback::{
    Margins, OpenLoop, OpenPoles, PhaseCrossing, trace_whole, unstable_poles,
};
use polewright::plant::{Mode, Model, Plant, Rigid};
use polewright::response::Transfer;
use proptest::prelude::*;

/// Crossings with a larger margin are not looked for.
const FARTHEST: f64 = 1000.0;

fn lag(corner: f64) -> Transfer {
    Transfer {
        num: vec![1.0],
        den: vec![1.0, 1.0],
        omega: TAU * corner,
    }
}

fn closed_round<'a>(stage: &'a Transfer, plant: &'a Model) -> OpenLoop<'a> {
    OpenLoop {
        stages: vec![stage],
        plant: Plant::Model(plant),
        sign: 1.0,
    }
}

/// All of them, those that are listed and those that are not.
fn count(crossings: &[PhaseCrossing]) -> usize {
    crossings.iter().map(|c| 1 + c.skipped).sum()
}

/// The angle that 1 + L turns through, and where L crosses the negative real axis, by the smallest steps alone: none in
/// which the delay turns by more than a fiftieth of a turn, and none in which 1 + L turns by more than 0.2 rad.
fn walk(open: &OpenLoop, delay: f64, from: f64, to: f64) -> (f64, Vec<(f64, f64)>) {
    let (mut turned, mut crossings) = (0.0, Vec::new());
    let (mut at, mut l) = (from, open.at(from));
    let mut step = 0.003 * from;
    while at < to {
        let next = at
            + step
                .min(0.003 * at)
                .min(0.02 / delay)
                .min(to * (1.0 + 1e-9) - at);
        let m = open.at(next);
        let turn = ((1.0 + m) / (1.0 + l)).arg();
        let size = ((1.0 + m) / (1.0 + l)).norm();
        if (turn.abs() > 0.2 || !(0.7..1.4).contains(&size)) && next - at > 1e-12 * at {
            step = 0.3 * (next - at);
            continue;
        }
        turned += turn;
        if (l.im > 0.0) != (m.im > 0.0) {
            let part = l.im / (l.im - m.im);
            let crossing = at + part * (next - at);
            let there = open.at(crossing);
            if there.re < 0.0 {
                crossings.push((crossing, 1.0 / there.norm()));
            }
        }
        (at, l) = (next, m);
        step = 1.5 * step.max(1e-12 * at);
    }
    (turned, crossings)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 120, failure_persistence: None, ..ProptestConfig::default() })]

    /// K·e^(−sτ)/(1 + s/ω): |L| and arg L only fall, so that all is known by formula. Each passage of L through the axis
    /// left of −1 brings one pair of poles over.
    #[test]
    fn of_one_lag_the_poles_and_crossings_are_known(
        gain in 0.05f64..5000.0, corner in -2.0f64..7.0, turns in -3.0f64..4.5
    ) {
        let corner = 10f64.powf(corner);
        let crossover = (gain * gain - 1.0).max(0.01).sqrt() * corner;
        let delay = 10f64.powf(turns) / crossover;
        let plant = Model { rigid: Some(Rigid::new(0, gain)), delay, ..Model::default() };
        let stage = lag(corner);
        let open = closed_round(&stage, &plant);
        let traced = trace_whole(&open);
        let back = |f: f64| TAU * f * delay + (f / corner).atan();
        let passages = |f: f64| ((back(f) + PI) / TAU).floor();
        let unstable = if gain > 1.0 { 2.0 * passages(crossover) } else { 0.0 };
        prop_assert_eq!(unstable_poles(&traced, delay, OpenPoles::default()), Some(unstable as usize));
        let found = Margins::read(&open, &traced);
        for one in &found.phase_crossings {
            let size = gain / (one.frequency / corner).hypot(1.0);
            prop_assert!((one.gain_margin * size - 1.0).abs() < 1e-6);
            let off = back(one.frequency) + PI;
            // The delay's own rounding grows with its turns.
            prop_assert!((off / TAU - (off / TAU).round()).abs() < 1e-9 * (1.0 + off), "{:?}", one);
        }
        // Down to −60 dB none is left out but at the end of the curve.
        let last = traced.last().expect("a curve").frequency;
        let least = (corner * (gain * 1e3).powi(2).max(1.0).mul_add(1.0, -1.0).max(0.0).sqrt()).min(last);
        let (all, known) = (count(&found.phase_crossings) as f64, passages(least));
        prop_assert!((all - known).abs() <= 1.0, "{} {}", all, known);
        // And the worst are there, where the curve does not end before: where |L| is 0.1.
        let sizes = found.phase_crossings.iter().map(|c| c.gain_margin.ln().abs());
        let nearest = sizes.fold(f64::INFINITY, f64::min);
        let of_passage = |k: f64| {
            let (mut low, mut high) = (0.0, k / delay);
            for _ in 0..200 {
                let middle = 0.5 * (low + high);
                if back(middle) > (2.0 * k - 1.0) * PI { high = middle } else { low = middle }
            }
            (gain / (low / corner).hypot(1.0)).ln().abs()
        };
        let around = passages(crossover).max(1.0);
        let known = [around, around + 1.0].map(of_passage).into_iter().fold(f64::INFINITY, f64::min);
        if known < 2.2 && gain > 1.0 {
            prop_assert!((nearest - known).abs() < 1e-6 * (1.0 + known), "{} {}", nearest, known);
        }
        // The peak is no lower than what stands at the nearest crossing, on whichever side of 1 that is; a sharp one is
        // found to some millionths.
        if gain > 1.0 && (0.003..2.2).contains(&known) {
            let (peak, _) = found.sensitivity_peak.expect("a peak");
            prop_assert!(peak >= (1.0 - 1e-4) / known.exp_m1(), "{} {}", peak, known);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    /// A flat plant or one with a mode, its lag and that of an op amp, against [`walk`].
    #[test]
    fn of_a_mode_they_are_those_of_many_more_points(
        gain in 0.02f64..30.0,
        mode in proptest::option::of((0.003f64..3.0, -2.5f64..-0.2, -1.0f64..1.0)),
        lags in [0.5f64..30.0, 0.5f64..30.0],
        turns in -2.0f64..2.7,
        is_inverting: bool,
    ) {
        let unit = 1000.0;
        let modes = mode.map(|(at, damping, part)| {
            let omega = TAU * unit * at;
            Mode {
                frequency: unit * at,
                damping: 10f64.powf(damping),
                residue: part * gain * omega * omega,
                slope: 0.0,
            }
        });
        let delay = 10f64.powf(turns) / unit;
        let plant = Model {
            rigid: Some(Rigid::new(0, gain)),
            modes: modes.into_iter().collect(),
            lag: Some(unit * lags[0]),
            delay,
        };
        let stage = lag(unit * lags[1]);
        let open = OpenLoop {
            sign: if is_inverting { -1.0 } else { 1.0 },
            ..closed_round(&stage, &plant)
        };
        let traced = trace_whole(&open);
        let (from, high) = (traced[0].frequency, traced[traced.len() - 1].frequency);
        let is_large = |t: &&polewright::feedback::Traced| t.open.norm() > 1.0 / FARTHEST;
        let to = traced.iter().rev().find(is_large).map_or(high, |t| (1.2 * t.frequency).min(high));
        let (turned, crossings) = walk(&open, delay, from, to);
        // Beyond, 1 + L comes to 1 without a turn.
        let end = 1.0 + open.at(to);
        let rest = 1.0 + open.sign * plant.rational(Complex64::ZERO);
        let whole = -(turned - end.arg() + ((1.0 + open.at(from)) / rest).arg()) / PI;
        let own = unstable_poles(&traced, delay, OpenPoles::default());
        prop_assert_eq!(own, Some(whole.round() as usize), "{}", whole);
        let found = Margins::read(&open, &traced);
        let theirs: Vec<_> = crossings.iter().filter(|c| c.1 < FARTHEST).collect();
        let own = &found.phase_crossings;
        // The last may lie on either side of where they end.
        prop_assert!(count(own).abs_diff(theirs.len()) <= 1, "{} {}", count(own), theirs.len());
        let skipped: usize = own.iter().map(|c| c.skipped).sum();
        if skipped == 0 {
            for (own, theirs) in own.iter().zip(&theirs) {
                prop_assert!((own.frequency / theirs.0 - 1.0).abs() < 1e-2, "{:?} {:?}", own, theirs);
            }
        }
        // No gain crossing twice, none left out.
        let sizes: Vec<bool> = found.gain_crossings.iter().map(|c| c.falls).collect();
        prop_assert!(sizes.windows(2).all(|pair| pair[0] != pair[1]), "{:?}", found.gain_crossings);
        prop_assert_eq!(sizes.len() % 2, usize::from((Complex64::norm(open.at(from)) > 1.0) != (open.at(high).norm() > 1.0)));
    }
}
