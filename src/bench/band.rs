//! Where a measured curve lies among those of the boards that might be built.
//!
//! One number tells of a whole curve how far out it is: the largest of its distances from the median, over all
//! frequencies, each in units of the boards' own spread to that side there. Its rank among the boards' numbers is the
//! share of boards whose curves stay further inside everywhere at once: a global envelope (M. Myllymäki and others,
//! "Global envelope tests for spatial processes", J. R. Statist. Soc. B 79, 2017: directional quantiles). Each board is
//! measured with the noise of the measurement.

use std::task::Poll;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

use super::data::Data;
use super::predict::{CALIBRATION, Curves, Predictor, Unknowns};
use super::setting::Setting;
use crate::random::uniform;
use crate::spread::{Draws, quantiles};

/// Boards that are drawn.
const BOARDS: usize = 1000;
/// Boards between two questions whether to go on.
const STRETCH: usize = 25;
/// The spread is taken from the median to the second and the fourth of these shares of boards; the ends are those of all
/// boards.
const SHARES: [f64; 5] = [0.0, 0.025, 0.5, 0.975, 1.0];
/// Further from the median than every board by this factor is beyond all of them, and not just beyond those that were
/// drawn: of so many boards the largest of normal numbers is at 3.2 standard deviations, and one in 40,000 beyond 4.2.
const BEYOND: f64 = 1.3;

/// A stretch of frequencies where a measurement is outside of what all boards do.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Leave {
    /// Hz
    pub from: f64,
    pub to: f64,
    /// Where it is furthest out, Hz, and by how much there: decibels, or degrees.
    pub at: f64,
    pub by: f64,
    /// Whether that is the phase.
    pub is_phase: bool,
}

/// Where a measurement lies among the boards.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BandVerdict {
    /// Share of boards that it lies inside of: the smallest band that holds it at all frequencies holds this share of all
    /// boards at all frequencies.
    pub share: f64,
    /// Whether no board does that.
    pub is_beyond: bool,
    /// Where it leaves all boards.
    pub leaves: Vec<Leave>,
    /// How many boards were drawn.
    pub boards: usize,
}

/// The work on it.
pub(super) struct BandWork {
    draws: Draws,
    /// Of every board: levels in nepers and, where it was measured, phases in radians off the predicted one.
    rows: Vec<Vec<f64>>,
    middle: Vec<Complex64>,
    noise: f64,
    state: u64,
    /// Quantiles of the columns, as far as they are known.
    sides: Vec<[f64; 5]>,
}

impl BandWork {
    /// `middle` is the curve of the board as marked.
    pub fn new(setting: &Setting, middle: Vec<Complex64>, noise: f64) -> BandWork {
        BandWork {
            draws: Draws::new(setting.population.clone(), setting.seed),
            rows: Vec::with_capacity(BOARDS),
            middle,
            noise,
            state: setting.seed,
            sides: Vec::new(),
        }
    }

    pub fn advance(
        &mut self,
        setting: &Setting,
        (unknowns, data): (&Unknowns, &Data),
        predictor: &mut Predictor,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<BandVerdict> {
        let mut numbers = setting.nominal();
        let mut curves = Curves::default();
        let normal = Normal::standard();
        let mut x = vec![0.0; unknowns.count()];
        while self.rows.len() < BOARDS {
            if self.rows.len().is_multiple_of(STRETCH) && !go_on() {
                return Poll::Pending;
            }
            self.draws.board(self.rows.len() as u64, &mut numbers);
            let mut random = || {
                let share = uniform(&mut self.state).clamp(1e-12, 1.0 - 1e-12);
                normal.inverse_cdf(share)
            };
            x[unknowns.gain()] = CALIBRATION * random();
            for (k, own) in unknowns.own.iter().enumerate().skip(unknowns.gain() + 1) {
                x[k] = own * random();
            }
            predictor.curves(setting, (unknowns, data), (&numbers, &x, 1.0), &mut curves);
            for (k, at) in curves.total.iter_mut().enumerate() {
                // Where the measurement is drowned, a board would be.
                let sd = data.deviation(k, self.noise);
                let relative = sd / data.measured[k].norm() * at.norm();
                let sd = relative.max(sd.min(data.deviation(k, 0.0)));
                *at += Complex64::new(random(), random()) * sd;
            }
            self.rows.push(row(data, &self.middle, &curves.total));
        }
        while self.sides.len() < self.rows[0].len() {
            if !go_on() {
                return Poll::Pending;
            }
            let k = self.sides.len();
            let all: Vec<f64> = self.rows.iter().map(|row| row[k]).collect();
            self.sides.push(quantiles(&all, SHARES));
        }
        Poll::Ready(self.verdict(data))
    }

    fn verdict(&self, data: &Data) -> BandVerdict {
        let measured = row(data, &self.middle, &data.measured);
        let sides = &self.sides;
        let out = |k: usize, value: f64| {
            let [_, low, middle, high, _] = sides[k];
            if value > middle {
                (value - middle) / (high - middle).max(1e-12)
            } else {
                (middle - value) / (middle - low).max(1e-12)
            }
        };
        let worst = |row: &[f64]| {
            let all = row.iter().enumerate();
            all.map(|(k, value)| out(k, *value)).fold(0.0, f64::max)
        };
        let own = worst(&measured);
        let boards: Vec<f64> = self.rows.iter().map(|row| worst(row)).collect();
        let inside = boards.iter().filter(|board| **board <= own).count();
        // How far beyond all boards, and by that over how far these reach.
        let beyond = |k: usize| {
            let [lowest, _, middle, _, highest] = sides[k];
            let end = if measured[k] > middle {
                highest
            } else {
                lowest
            };
            let reach = (end - middle).abs().max(1e-12);
            (measured[k] - end, (measured[k] - middle).abs() / reach)
        };
        let leaves = leaves(data, beyond);
        let is_beyond = !leaves.is_empty();
        BandVerdict {
            share: if is_beyond {
                1.0
            } else {
                inside as f64 / boards.len() as f64
            },
            leaves,
            is_beyond,
            boards: boards.len(),
        }
    }
}

/// Levels, and behind them phases where they were measured, against a middle.
fn row(data: &Data, middle: &[Complex64], curve: &[Complex64]) -> Vec<f64> {
    let pairs = || curve.iter().zip(middle);
    let level = |(of, middle): (&Complex64, &Complex64)| (of.norm() / middle.norm()).ln();
    let mut row: Vec<f64> = pairs().map(level).collect();
    if data.has_phase {
        row.extend(pairs().map(|(of, middle)| (of / middle).arg()));
    }
    row
}

/// Stretches of neighbouring points that are outside of all boards, one of them clearly.
fn leaves(data: &Data, beyond: impl Fn(usize) -> (f64, f64)) -> Vec<Leave> {
    let count = data.len();
    let kinds = if data.has_phase { 2 } else { 1 };
    let mut all: Vec<Leave> = Vec::new();
    for kind in 0..kinds {
        let is_phase = kind == 1;
        // The stretch that is open, and how far it is out where it is furthest.
        let mut open: Option<(Leave, f64)> = None;
        for k in 0..=count {
            let (off, far) = match k < count {
                true => beyond(kind * count + k),
                false => (0.0, 0.0),
            };
            if far <= 1.0 {
                let ended = open.take().filter(|(_, far)| *far > BEYOND);
                all.extend(ended.map(|(leave, _)| leave));
                continue;
            }
            let by = match is_phase {
                true => off.to_degrees(),
                false => 20.0 / std::f64::consts::LN_10 * off,
            };
            let at = data.frequencies[k];
            match &mut open {
                Some((leave, furthest)) => {
                    leave.to = at;
                    if far > *furthest {
                        (*furthest, leave.at, leave.by) = (far, at, by);
                    }
                }
                None => {
                    let leave = Leave {
                        from: at,
                        to: at,
                        at,
                        by,
                        is_phase,
                    };
                    open = Some((leave, far));
                }
            }
        }
    }
    all
}
