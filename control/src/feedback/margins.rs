//! What is read off a loop's curve: crossings, margins, the distance to −1.
//!
//! Franklin, Powell and Emami-Naeini, "Feedback Control of Dynamic Systems", ch. 6 (margins,
//! bandwidth); Åström and Murray, "Feedback Systems", ch. 10 and 12 (stability margin, M_s).

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::OpenLoop;
use super::trace::{SMALL, SPUN, Traced, spin};
use crate::numerics::golden::lowest;
use crate::numerics::{modulus, put_in_order, zero};

/// What a loop's curve tells. Figures that do not exist are absent.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Margins {
    /// Where |L| crosses 1, in rising frequency.
    pub gain_crossings: Vec<GainCrossing>,
    /// Where L crosses the negative real axis above −60 dB, in rising frequency; where a delay turns it round more often
    /// than its curve is followed, some stand for all ([`PhaseCrossing::skipped`]).
    pub phase_crossings: Vec<PhaseCrossing>,
    /// Largest |1/(1 + L)|, M_s: the reciprocal of the smallest distance to −1, and where, Hz.
    pub sensitivity_peak: Option<(f64, f64)>,
    /// Largest |L/(1 + L)|, M_t, and where, Hz.
    pub complementary_peak: Option<(f64, f64)>,
    /// Where |L/(1 + L)| first falls 3 dB below its value at the curve's low end, Hz.
    pub bandwidth: Option<f64>,
    /// Where |1/(1 + L)| first comes up to 1: disturbances below are quieted, Hz.
    pub rejection_band: Option<f64>,
}

/// |L| = 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GainCrossing {
    /// Hz.
    pub frequency: f64,
    /// Phase margin in degrees, 180° + arg L, from −180° to 180°.
    pub phase_margin: f64,
    /// Whether |L| falls there.
    pub falls: bool,
}

/// arg L = ±180°.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PhaseCrossing {
    /// Hz.
    pub frequency: f64,
    /// Gain margin 1/|L| as a ratio: above 1 the gain may rise by so much, below 1 it may fall by so
    /// much, before L passes through −1.
    pub gain_margin: f64,
    /// So many more lie between this one and the next, with margins between the two.
    pub skipped: usize,
}

impl Margins {
    /// Reads a traced loop.
    pub fn read(open: &OpenLoop, traced: &[Traced]) -> Margins {
        let at = |x: f64| open.at(x.exp());
        let delay = open.plant.delay();
        let mut found = Margins::default();
        traced
            .windows(2)
            .for_each(|pair| found.cross(open, &at, pair[0], pair[1]));
        traced
            .windows(3)
            .map(|w| [w[0], w[1], w[2]])
            .filter(may_touch)
            .for_each(|three| found.touch(&at, three));
        found.sort();
        found.sensitivity_peak = peak(traced, &at, |l| 1.0 / (1.0 + l));
        found.complementary_peak = peak(traced, &at, |l| l / (1.0 + l));
        let unfollowed = traced.windows(2).find(|pair| {
            spin(delay, pair[0].frequency, pair[1].frequency) > SPUN
                && modulus(pair[0].open) > SMALL
        });
        if let Some([first, _]) = unfollowed {
            let from = first.frequency;
            let sensitivity = found.peak_beyond(from, delay, &at, |l| 1.0 / (1.0 + l));
            found.sensitivity_peak = higher(found.sensitivity_peak, sensitivity);
            let complementary = found.peak_beyond(from, delay, &at, |l| l / (1.0 + l));
            found.complementary_peak = higher(found.complementary_peak, complementary);
        }
        if let Some(first) = traced.first() {
            let closed = |l: Complex64| modulus(l / (1.0 + l));
            let level = closed(first.open) * 0.5f64.sqrt();
            found.bandwidth = first_crossing(traced, &at, |l| (closed(l) / level).ln(), false);
            found.rejection_band = first_crossing(traced, &at, |l| -modulus(1.0 + l).ln(), true);
        }
        found
    }

    fn sort(&mut self) {
        put_in_order(&mut self.gain_crossings, |a, b| {
            a.frequency.total_cmp(&b.frequency)
        });
    }

    /// Reads pieces of a loop: crossings between two neighbours or where three touch 1, and the sensitivity from
    /// the neighbourhoods of points that may be nearest to −1.
    pub(super) fn read_pieces(
        open: &OpenLoop,
        crossing: &[[Traced; 2]],
        touching: &[[Traced; 3]],
        near: &[[Traced; 3]],
    ) -> Margins {
        let at = |x: f64| open.at(x.exp());
        let mut found = Margins::default();
        crossing
            .iter()
            .for_each(|[a, b]| found.cross(open, &at, *a, *b));
        touching.iter().for_each(|three| found.touch(&at, *three));
        found.sort();
        let peaks = near
            .iter()
            .filter_map(|three| peak(three, &at, |l| 1.0 / (1.0 + l)));
        found.sensitivity_peak = peaks.max_by(|a, b| a.0.total_cmp(&b.0));
        found
    }

    /// What is crossed between two neighbours.
    fn cross(&mut self, open: &OpenLoop, at: &impl Fn(f64) -> Complex64, a: Traced, b: Traced) {
        self.cross_gain(at, a, b);
        if spin(open.plant.delay(), a.frequency, b.frequency) <= SPUN {
            self.cross_phase(at, a, b);
        } else if modulus(a.open).max(modulus(b.open)) > SMALL {
            self.cross_spun(open, a, b);
        }
    }

    /// The two crossings of a top that stands just through 1, or of a dip, between three neighbours that are
    /// all on one side.
    fn touch(&mut self, at: &impl Fn(f64) -> Complex64, [a, middle, b]: [Traced; 3]) {
        let up = if modulus(middle.open) > 1.0 {
            -1.0
        } else {
            1.0
        };
        let (x, y) = (a.frequency.ln(), b.frequency.ln());
        let x = highest(|x| up * modulus(at(x)), x, y);
        let top = Traced {
            frequency: x.exp(),
            open: at(x),
        };
        self.cross_gain(at, a, top);
        self.cross_gain(at, top, b);
    }

    fn cross_gain(&mut self, at: &impl Fn(f64) -> Complex64, a: Traced, b: Traced) {
        let (x, y) = (a.frequency.ln(), b.frequency.ln());
        if (modulus(a.open) > 1.0) != (modulus(b.open) > 1.0)
            && let Some(x) = zero(|x| modulus(at(x)).ln(), x, y)
        {
            self.gain_crossings.push(GainCrossing {
                frequency: x.exp(),
                phase_margin: (-at(x)).arg().to_degrees(),
                falls: modulus(a.open) > 1.0,
            });
        }
    }

    fn cross_phase(&mut self, at: &impl Fn(f64) -> Complex64, a: Traced, b: Traced) {
        let (x, y) = (a.frequency.ln(), b.frequency.ln());
        if (a.open.im > 0.0) != (b.open.im > 0.0)
            && a.open.re.min(b.open.re) < 0.0
            && let Some(x) = zero(|x| at(x).im, x, y)
        {
            let there = at(x);
            // Through the positive axis nothing crosses.
            if there.re < -SMALL {
                self.phase_crossings.push(PhaseCrossing {
                    frequency: x.exp(),
                    gain_margin: 1.0 / modulus(there),
                    skipped: 0,
                });
            }
        }
    }

    /// The first and the last of the negative real axis's crossings between two neighbours between which a delay may
    /// turn L round many times.
    fn cross_spun(&mut self, open: &OpenLoop, a: Traced, b: Traced) {
        let delay = open.plant.delay();
        // Angle of −L, followed from where it starts: what is left of L without its delay turns little, so that its
        // principal value is the whole of it.
        let start = (-a.open).arg();
        let angle = |frequency: f64, l: Complex64| {
            let spin = spin(delay, a.frequency, frequency);
            start + (l / a.open * Complex64::cis(spin)).arg() - spin
        };
        let turns = |angle: f64| (angle / TAU).floor();
        let (first, last) = (turns(start), turns(angle(b.frequency, b.open)) + 1.0);
        let crossing = |turn: f64| {
            let off = |f: f64| angle(f, open.at(f)) - TAU * turn;
            let frequency = zero(off, a.frequency, b.frequency)?;
            let size = modulus(open.at(frequency));
            (size > SMALL).then(|| PhaseCrossing {
                frequency,
                gain_margin: 1.0 / size,
                skipped: 0,
            })
        };
        let ends = [first, last].map(|turn| (first >= last).then(|| crossing(turn)).flatten());
        if let [Some(one), other] = ends {
            self.phase_crossings.push(one);
            if let Some(other) = other.filter(|_| first > last) {
                if let Some(one) = self.phase_crossings.last_mut() {
                    one.skipped = (first - last) as usize - 1;
                }
                self.phase_crossings.push(other);
            }
        }
    }

    /// The largest |of(L)| beyond a frequency (Hz) from which on a delay's turns are not followed, and where: next to a
    /// crossing of the negative real axis.
    fn peak_beyond(
        &self,
        from: f64,
        delay: f64,
        at: &impl Fn(f64) -> Complex64,
        of: impl Fn(Complex64) -> Complex64,
    ) -> Option<(f64, f64)> {
        let height = |c: &PhaseCrossing| modulus(of(Complex64::from(-1.0 / c.gain_margin)));
        let beyond = self.phase_crossings.iter().filter(|c| c.frequency >= from);
        let place = beyond
            .max_by(|a, b| height(a).total_cmp(&height(b)))?
            .frequency;
        // A quarter of a turn to both sides; counted in turns, as these are a small part of the frequency.
        let frequency = |turns: f64| place + turns / delay;
        let size = |turns: f64| modulus(of(at(frequency(turns).ln())));
        let turns = highest(size, -0.25, 0.25);
        let turns = if size(turns) > size(0.0) { turns } else { 0.0 };
        Some((size(turns), frequency(turns)))
    }

    /// The crossover: where |L| falls through 1 for the last time.
    ///
    /// A resonance that stands up through 1 counts, and its margin is the one to look at.
    pub fn crossover(&self) -> Option<GainCrossing> {
        self.gain_crossings.iter().rev().find(|c| c.falls).copied()
    }

    /// The smallest phase margin of all gain crossings, by size: the one nearest to −1.
    pub fn phase_margin(&self) -> Option<GainCrossing> {
        let size = |c: &&GainCrossing| c.phase_margin.abs();
        let least = self.gain_crossings.iter();
        least.min_by(|a, b| size(a).total_cmp(&size(b))).copied()
    }

    /// The smallest gain margin upwards: by how much the gain may rise.
    pub fn gain_margin(&self) -> Option<PhaseCrossing> {
        let above = self.phase_crossings.iter().filter(|c| c.gain_margin > 1.0);
        above
            .min_by(|a, b| a.gain_margin.total_cmp(&b.gain_margin))
            .copied()
    }

    /// The smallest gain margin downwards: by how much the gain may fall, as a ratio below 1.
    pub fn gain_reduction_margin(&self) -> Option<PhaseCrossing> {
        let below = self.phase_crossings.iter().filter(|c| c.gain_margin < 1.0);
        below
            .max_by(|a, b| a.gain_margin.total_cmp(&b.gain_margin))
            .copied()
    }
}

/// Whether a top between three neighbours may stand above `most`: a parabola through them rises above the
/// middle by an eighth of what it falls to a neighbour, so that twice that fall leaves room.
pub(super) fn may_exceed(own: f64, below: f64, above: f64, most: f64) -> bool {
    own + 2.0 * (own - below.min(above)) >= most
}

/// Whether |L| may reach through 1 between three neighbours that are all on one side of it.
pub(super) fn may_touch([a, middle, b]: &[Traced; 3]) -> bool {
    let (a, m, b) = (a.open.norm_sqr(), middle.open.norm_sqr(), b.open.norm_sqr());
    let is_top = m <= 1.0 && m >= a && m >= b;
    let is_dip = m > 1.0 && a > 1.0 && b > 1.0 && m <= a && m <= b;
    (is_top || is_dip) && m.max(1.0 / m) < HIDDEN * HIDDEN
}

/// Between two points of a traced curve a peak may rise by so much; [`super::trace`] sees to that.
const HIDDEN: f64 = 1.6;

/// The largest |of(L)| and its frequency (Hz): every top that may be the highest is closed in on by golden
/// section between its neighbours.
fn peak(
    traced: &[Traced],
    at: &impl Fn(f64) -> Complex64,
    of: impl Fn(Complex64) -> Complex64,
) -> Option<(f64, f64)> {
    let sizes: Vec<f64> = traced.iter().map(|t| modulus(of(t.open))).collect();
    let most = sizes.iter().copied().fold(0.0, f64::max);
    let size = |k: usize| sizes.get(k).copied().unwrap_or(0.0);
    let is_top = |k: &usize| {
        let own = size(*k);
        let below = if *k == 0 { own } else { size(k - 1) };
        let above = if k + 1 == sizes.len() {
            own
        } else {
            size(k + 1)
        };
        own > below.min(above) && own >= below.max(above) && may_exceed(own, below, above, most)
    };
    let tops = (0..traced.len()).filter(is_top).map(|top| {
        let from = traced[top.saturating_sub(1)].frequency.ln();
        let to = traced[(top + 1).min(traced.len() - 1)].frequency.ln();
        let x = highest(|x| modulus(of(at(x))), from, to);
        let refined = modulus(of(at(x)));
        if refined >= sizes[top] {
            (refined, x.exp())
        } else {
            (sizes[top], traced[top].frequency)
        }
    });
    // A curve that only rises or falls is highest at an end.
    let ends = [traced.first()?, traced.last()?].map(|t| (modulus(of(t.open)), t.frequency));
    tops.chain(ends).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// The higher of two peaks.
fn higher(a: Option<(f64, f64)>, b: Option<(f64, f64)>) -> Option<(f64, f64)> {
    a.into_iter().chain(b).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Where between two places (ln Hz) `f` is highest. At a top the value is exact long before the place is.
pub(super) fn highest(f: impl Fn(f64) -> f64, a: f64, b: f64) -> f64 {
    lowest(|x| -f(x), a, b, 1e-7).1
}

/// The first frequency (Hz) where `f` of L goes through zero, upwards or downwards.
fn first_crossing(
    traced: &[Traced],
    at: &impl Fn(f64) -> Complex64,
    f: impl Fn(Complex64) -> f64,
    upwards: bool,
) -> Option<f64> {
    let pair = traced.windows(2).find(|pair| {
        let (a, b) = (f(pair[0].open), f(pair[1].open));
        if upwards {
            a < 0.0 && b >= 0.0
        } else {
            a > 0.0 && b <= 0.0
        }
    })?;
    let (x, y) = (pair[0].frequency.ln(), pair[1].frequency.ln());
    zero(|x| f(at(x)), x, y).map(f64::exp)
}
