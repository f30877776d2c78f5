//! One notch among others: the narrowest that keeps its peak below the limit, or the one with the least phase cost.

use super::dip::Dip;
use crate::compensation::advice::{LEAST_Q, MOST_Q};
use crate::numerics::golden::lowest;

/// The shallowest that a notch can be asked for, 6 dB, as a gain at the centre.
pub(super) const SHALLOWEST: f64 = 0.501;
/// A notch's frequency is looked for so far beyond the drift, as a ratio.
const SEARCH_RATIO: f64 = 1.6;
/// Frequencies and depths of the first look.
const FREQUENCIES: usize = 17;
const DEPTHS: [f64; 6] = [0.0, 0.3, 0.5, 0.7, 0.85, 0.95];

/// A peak that one notch shall keep down, everything else in place.
pub(super) struct Over<'a> {
    /// Frequencies (Hz) and what a notch may leave there, relative to what it leaves at the crossover; least first.
    pub may: &'a [(f64, f64)],
    /// Hz.
    pub crossover: f64,
    /// Where the mode drifts, Hz.
    pub drift: (f64, f64),
    /// How far the notch strays.
    pub variations: (f64, f64),
    /// Other peaks: where they are highest (Hz), and degrees that a neper there costs.
    pub others: &'a [(f64, f64)],
}

impl Over<'_> {
    /// What decides at a notch's frequency (Hz): squares of the distance from its centre and of what may be left,
    /// without those that others outdo in both.
    ///
    /// A notch leaves more the larger Q·|f/fn − fn/f| is, so that the worst of its box has the highest Q and
    /// stands at the end of its spread that is farther away.
    fn front(&self, frequency: f64) -> Vec<(f64, f64)> {
        let ends = [-1.0, 1.0].map(|side| frequency * (1.0 + side * self.variations.0));
        let mut front = Vec::with_capacity(32);
        let mut farthest = 0.0;
        for (f, may) in self.may {
            let u = (f / ends[0] - ends[0] / f).abs();
            let u = u.max((f / ends[1] - ends[1] / f).abs());
            if u > farthest {
                farthest = u;
                front.push((u * u, may * may));
            }
        }
        front
    }

    /// The largest pole Q with which a notch of this frequency and depth keeps the peak down, given its front.
    ///
    /// What it takes at the crossover is made up for by the controller and raises the peak again: the larger that
    /// is, the wider the notch, from the narrowest that ignores it on.
    fn narrowest(&self, front: &[(f64, f64)], frequency: f64, d: f64) -> Option<Dip> {
        let mut taken = 1.0;
        let mut dip = Dip {
            frequency,
            q: MOST_Q,
            gain: d,
        };
        for _ in 0..40 {
            let mut least = (MOST_Q * (1.0 + self.variations.1)).powi(2);
            for (u2, may2) in front {
                let may2 = may2 * taken * taken;
                if may2 >= 1.0 {
                    continue;
                }
                let room = may2 - d * d;
                if room <= 0.0 {
                    return None;
                }
                // x² may be room/(1 − may²).
                let scaled = (1.0 - may2) * u2;
                if least * scaled > room {
                    least = room / scaled;
                }
            }
            dip.q = least.sqrt() / (1.0 + self.variations.1);
            if dip.q < LEAST_Q {
                return None;
            }
            let now = dip.size(self.crossover);
            if (now - taken).abs() < 1e-5 {
                break;
            }
            taken = now;
        }
        // From Q·|u| = √d downwards it is an attenuator.
        let x = dip.x(self.crossover);
        (x * x >= d).then_some(dip)
    }

    /// Phase in degrees that a notch costs, what it does for the other peaks taken off.
    fn price(&self, dip: &Dip) -> f64 {
        let taken = dip.size(self.crossover);
        let others = self.others.iter();
        let gained: f64 = others
            .map(|(f, worth)| worth * (dip.size(*f).max(1e-6) / taken).ln())
            .sum();
        dip.cost(self.crossover) + gained
    }

    fn priced(&self, front: &[(f64, f64)], frequency: f64, d: f64) -> (f64, Option<Dip>) {
        let dip = self.narrowest(front, frequency, d);
        (dip.map_or(f64::INFINITY, |dip| self.price(&dip)), dip)
    }

    /// Degrees a neper that this notch costs where its peak is higher by so many nepers.
    pub fn rise(&self, dip: &Dip, nepers: f64) -> f64 {
        let lower: Vec<(f64, f64)> = (self.may.iter())
            .map(|(f, may)| (*f, may * (-nepers).exp()))
            .collect();
        let higher = Over {
            may: &lower,
            others: &[],
            ..*self
        };
        let gain = dip.gain * (-nepers).exp();
        let wider = higher.narrowest(&higher.front(dip.frequency), dip.frequency, gain);
        let more = wider.map_or(0.0, |wider| {
            wider.cost(self.crossover) - dip.cost(self.crossover)
        });
        (more / nepers).max(0.0)
    }

    /// The deepest that may be left anywhere.
    fn shallowest(&self) -> f64 {
        let least = self.may.first().map_or(1.0, |(_, may)| *may);
        least.min(SHALLOWEST)
    }

    /// The best depth at a frequency, near a share of the shallowest or of all.
    fn depth(&self, frequency: f64, near: Option<f64>) -> (f64, f64) {
        let most = self.shallowest();
        let front = self.front(frequency);
        let price = |share: f64| self.priced(&front, frequency, share * most).0;
        let (low, high) = match near {
            Some(share) => ((share - 0.12).max(0.0), (share + 0.12).min(0.999)),
            None => {
                let prices = DEPTHS.map(price);
                let best = (0..DEPTHS.len()).min_by(|a, b| prices[*a].total_cmp(&prices[*b]));
                let best = best.unwrap_or(0);
                if !prices[best].is_finite() {
                    return (f64::INFINITY, 0.0);
                }
                let last = DEPTHS.len() - 1;
                let above = if best == last {
                    0.999
                } else {
                    DEPTHS[best + 1]
                };
                (DEPTHS[best.saturating_sub(1)], above)
            }
        };
        let (found, share) = lowest(price, low, high, 0.006);
        let none = if low == 0.0 {
            price(0.0)
        } else {
            f64::INFINITY
        };
        if none <= found {
            (none, 0.0)
        } else {
            (found, share)
        }
    }

    /// The notch that costs least; from one that is near, where one is.
    pub fn best(&self, near: Option<&Dip>) -> Option<Dip> {
        let low = (self.drift.0 / SEARCH_RATIO).max(self.crossover * 1.001);
        let high = self.drift.1 * SEARCH_RATIO;
        let most = self.shallowest();
        let share = |dip: &Dip| (dip.gain / most).min(0.999);
        let (a, b, share) = match near {
            Some(dip) => {
                let x = dip.frequency.ln();
                (x - 0.02, x + 0.02, Some(share(dip)))
            }
            None => {
                let step = (high / low).ln() / (FREQUENCIES - 1) as f64;
                let at = |k: usize| low.ln() + step * k as f64;
                let prices: Vec<(f64, f64)> = (0..FREQUENCIES)
                    .map(|k| self.depth(at(k).exp(), None))
                    .collect();
                let best = (0..FREQUENCIES).min_by(|a, b| prices[*a].0.total_cmp(&prices[*b].0))?;
                if !prices[best].0.is_finite() {
                    return None;
                }
                (at(best) - step, at(best) + step, None)
            }
        };
        let (a, b) = (a.max(low.ln()), b.min(high.ln()));
        if a >= b {
            return None;
        }
        let (_, x) = lowest(|x| self.depth(x.exp(), share).0, a, b, 1e-3);
        let (_, found) = self.depth(x.exp(), share);
        let priced = |f: f64, d: f64| self.priced(&self.front(f), f, d);
        let refined = priced(x.exp(), found * most);
        let before = near.map(|dip| priced(dip.frequency, share.unwrap_or(0.0) * most));
        match before {
            Some(before) if before.0 < refined.0 => before.1,
            _ => refined.1,
        }
    }
}
