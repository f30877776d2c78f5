//! The notch that costs least phase.

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use super::peak::PeakBox;
use super::{LEAST_Q, MOST_Q, NotchWish};
use crate::compensation::for_ask;
use crate::numerics::golden::lowest;
use crate::response::{Transfer, log_grid};
use crate::stages::{Depth, NotchAsk};

/// A notch for one resonance: `(s² + (ω·d/Q)·s + ω²)/(s² + (ω/Q)·s + ω²)`, d the gain at its centre.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NotchAdvice {
    /// Hz.
    pub frequency: f64,
    /// Of its poles. The notch's −3 dB edges say less where it is not complete; see [`NotchAdvice::ask`].
    pub q: f64,
    /// Attenuation at the centre, dB; none where it is complete.
    pub depth_db: Option<f64>,
    /// Phase that the notch as marked takes at the crossover, degrees; below 0 where it gives some, as it
    /// does when it lies below the crossover.
    pub cost_deg: f64,
    /// What the notch as marked changes |L| by at the crossover, dB, 0 or less.
    pub loss_db: f64,
    /// The largest |L| over the peak that is left, of all plants with all notches, dB.
    pub worst_db: f64,
}

/// Depths that are tried, as gains at the centre: 60 dB to 6 dB, the shallowest a notch can be asked for.
const DEPTHS: (f64, f64) = (0.001, 0.501_187_233_627_272_2);
/// The least attenuation that can be asked for, dB.
const LEAST_DEPTH: f64 = 3.5;
/// The notch's frequency is looked for so far beyond the drift, as a ratio.
const SEARCH_RATIO: f64 = 1.3;

impl NotchAdvice {
    /// The notch as a transfer function.
    pub fn transfer(&self) -> Transfer {
        transfer(self.frequency, self.q, self.gain())
    }

    /// |H| at the centre.
    fn gain(&self) -> f64 {
        self.depth_db.map_or(0.0, |db| 10f64.powf(-db / 20.0))
    }

    /// The same as an ask, which counts Q by the −3 dB edges. Its limits are the spread that the advice
    /// allowed for.
    pub fn ask(&self, wish: &NotchWish) -> NotchAsk {
        let d = self.gain();
        let (low, high) = (1.0 - wish.notch_frequency, 1.0 + wish.notch_frequency);
        let left = |centre: f64| {
            let off = transfer(self.frequency * centre, self.q * (1.0 + wish.notch_q), d);
            off.at(self.frequency).norm()
        };
        let left = left(low).max(left(high)).max(1e-6);
        let least = for_ask(-20.0 * left.log10());
        let depth_db = self.depth_db.map(for_ask);
        NotchAsk {
            frequency: for_ask(self.frequency),
            q: for_ask(self.q / (1.0 - 2.0 * d * d).max(1e-3).sqrt()),
            depth: depth_db.map_or(Depth::FullNull(()), Depth::Decibel),
            frequency_limit: wish.notch_frequency,
            q_limit: wish.notch_q,
            // Below the depth, or no board could stray.
            least_depth: depth_db
                .map_or(least, |db| least.min(db - 0.1))
                .max(LEAST_DEPTH),
        }
    }
}

/// The notch of a frequency (Hz), Q and gain at its centre.
pub(in crate::compensation) fn transfer(frequency: f64, q: f64, gain: f64) -> Transfer {
    Transfer {
        num: vec![1.0, gain / q, 1.0],
        den: vec![1.0, 1.0 / q, 1.0],
        omega: TAU * frequency,
    }
}

/// The search for one resonance.
pub(super) struct Search<'a> {
    pub peak: &'a PeakBox,
    pub wish: &'a NotchWish,
    /// Hz.
    pub crossover: f64,
}

/// How far the search has come.
pub(super) enum Searching {
    /// The least turn at the first of the grid's frequencies.
    Placing(Vec<f64>),
    /// Frequency (Hz) and gain at the centre of the best notch on the grid.
    Settling(f64, f64),
    Found(Option<NotchAdvice>),
}

/// Frequencies of the grid.
const FREQUENCIES: usize = 49;
/// So many of them are looked at in a step.
const AT_ONCE: usize = 8;

impl Search<'_> {
    /// One step of the search for the notch that keeps the level in every case and turns the phase at the
    /// crossover least; with `full` for a complete one. Ends with none where none of a Q from [`LEAST_Q`]
    /// does.
    pub fn step(&self, full: bool, searching: Searching) -> Searching {
        match searching {
            Searching::Placing(mut turns) if turns.len() < FREQUENCIES => {
                let frequencies = self.frequencies();
                let more = frequencies[turns.len()..].iter().take(AT_ONCE);
                turns.extend(more.map(|f| self.least(*f, full).0));
                Searching::Placing(turns)
            }
            Searching::Placing(turns) => match self.place(full, &turns) {
                Some((f, d)) => Searching::Settling(f, d),
                None => Searching::Found(None),
            },
            Searching::Settling(f, d) => Searching::Found(self.settle(f, d)),
            found => found,
        }
    }

    /// On the mode's side of the crossover, Hz.
    fn frequencies(&self) -> Vec<f64> {
        let (low, high) = self.peak.drift();
        let (mut low, mut high) = (low / SEARCH_RATIO, high * SEARCH_RATIO);
        if self.crossover < self.peak.range.0 {
            low = low.max(self.crossover * 1.001);
        } else {
            high = high.min(self.crossover / 1.001);
        }
        log_grid(low, high, FREQUENCIES)
    }

    /// The best frequency (Hz), given the turns on the grid, and the gain at the centre.
    fn place(&self, full: bool, turns: &[f64]) -> Option<(f64, f64)> {
        let frequencies = self.frequencies();
        let (k, least) = (turns.iter().enumerate()).min_by(|a, b| a.1.total_cmp(b.1))?;
        let (refined, mut f) = lowest(
            |f| self.least(f, full).0,
            frequencies[k.saturating_sub(1)],
            frequencies[(k + 1).min(frequencies.len() - 1)],
            1e-5 * frequencies[k.saturating_sub(1)],
        );
        if refined > *least || refined.is_nan() {
            f = frequencies[k];
        }
        let (turn, d) = self.least(f, full);
        turn.is_finite().then_some((f, d))
    }

    /// The least turn at one frequency, degrees, and the gain at the centre.
    fn least(&self, f: f64, full: bool) -> (f64, f64) {
        if full {
            (self.turn(f, 0.0), 0.0)
        } else {
            self.depth(f)
        }
    }

    /// The least turn over all depths at one frequency, degrees, and the gain at the centre.
    fn depth(&self, f: f64) -> (f64, f64) {
        let gains = log_grid(DEPTHS.0, DEPTHS.1, 25);
        let turns = gains.iter().map(|d| self.turn(f, *d));
        let mut best = (self.turn(f, 0.0), 0.0);
        let mut top = None;
        for (k, turn) in turns.enumerate() {
            if turn < best.0 {
                (best, top) = ((turn, gains[k]), Some(k));
            }
        }
        let Some(k) = top else { return best };
        let (a, b) = (gains[k.saturating_sub(1)], gains[(k + 1).min(24)]);
        let (turn, d) = lowest(|d| self.turn(f, d), a, b, 1e-3 * a);
        if turn < best.0 { (turn, d) } else { best }
    }

    /// Degrees by which the narrowest notch that keeps the level turns the phase at the crossover;
    /// infinite where none does.
    fn turn(&self, f: f64, d: f64) -> f64 {
        let q = self.narrowest(f, d, self.wish.level);
        if self.is_notch(f, q, d) {
            transfer(f, q, d).phase_deg(self.crossover).abs()
        } else {
            f64::INFINITY
        }
    }

    /// Whether this is still a notch at the crossover: from Q·|u| = √d downwards, u = f/fc − fc/f, a notch
    /// turns the phase less the wider it is, because it has become an attenuator.
    fn is_notch(&self, f: f64, q: f64, d: f64) -> bool {
        let u = f / self.crossover - self.crossover / f;
        q >= LEAST_Q && (q * u).powi(2) >= d
    }

    /// The largest Q at which the level is kept on the grid, [`MOST_Q`] at most; 0 where there is none.
    ///
    /// With u = f/fn − fn/f and x = Q·|u| a notch leaves √((x² + d²)/(x² + 1)): more the larger x is. So the
    /// worst notch of the box has the highest Q, and stands at the end of its frequency's spread that is
    /// farther away; and as plants and notches stray apart from each other, the worst product is that of
    /// both worst.
    fn narrowest(&self, notch: f64, d: f64, level: f64) -> f64 {
        let spread = self.wish.notch_frequency;
        let ends = [notch * (1.0 - spread), notch * (1.0 + spread)];
        let mut least = (MOST_Q * (1.0 + self.wish.notch_q)).powi(2);
        for (f, largest) in self.peak.grid.iter().zip(&self.peak.largest) {
            let may = (level / largest).powi(2);
            if may >= 1.0 {
                continue;
            }
            let u = (f / ends[0] - ends[0] / f).abs();
            let u = u.max((f / ends[1] - ends[1] / f).abs());
            let room = may - d * d;
            if room <= 0.0 {
                return 0.0;
            }
            // x² may be room/(1 − may).
            let scaled = (1.0 - may) * u * u;
            if least * scaled > room {
                least = room / scaled;
            }
        }
        least.sqrt() / (1.0 + self.wish.notch_q)
    }

    /// |L| of the worst plant with the worst notch at a frequency in Hz.
    fn worst_at(&self, notch: f64, q: f64, d: f64, f: f64) -> f64 {
        let spread = self.wish.notch_frequency;
        let left = [1.0 - spread, 1.0 + spread].map(|off| {
            let variation = transfer(notch * off, q * (1.0 + self.wish.notch_q), d);
            variation.at(f).norm()
        });
        self.peak.largest_at(f) * left[0].max(left[1])
    }

    /// Narrow enough for what lies between the grid's points, too.
    fn settle(&self, frequency: f64, d: f64) -> Option<NotchAdvice> {
        let mut level = self.wish.level;
        let mut q = self.narrowest(frequency, d, level);
        let mut worst = self.peak.top(|f| self.worst_at(frequency, q, d, f)).0;
        for _ in 0..8 {
            if worst <= self.wish.level * (1.0 + 1e-12) {
                break;
            }
            level *= self.wish.level / worst * (1.0 - 1e-9);
            q = self.narrowest(frequency, d, level);
            worst = self.peak.top(|f| self.worst_at(frequency, q, d, f)).0;
        }
        if !self.is_notch(frequency, q, d) || worst > self.wish.level * (1.0 + 1e-9) {
            return None;
        }
        let there = transfer(frequency, q, d).at(self.crossover);
        Some(NotchAdvice {
            frequency,
            q,
            depth_db: (d > 0.0).then(|| -20.0 * d.log10()),
            cost_deg: -there.arg().to_degrees(),
            loss_db: 20.0 * there.norm().log10(),
            worst_db: 20.0 * worst.log10(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ask_counts_q_by_the_edges() {
        let advice = NotchAdvice {
            frequency: 1000.0,
            q: 2.0,
            depth_db: Some(10.0),
            cost_deg: 0.0,
            loss_db: 0.0,
            worst_db: 0.0,
        };
        let ask = advice.ask(&super::super::tests::wish());
        assert!((ask.pole_q() - 2.0).abs() < 1e-4);
        let off = transfer(990.0, 2.0 * 1.05, 10f64.powf(-0.5));
        assert!(ask.least_depth <= -off.magnitude_db(1000.0) && ask.least_depth < 10.0);
    }
}
