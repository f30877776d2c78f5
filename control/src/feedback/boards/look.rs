//! Scan of one loop over the frequency grid: crossings, distance to −1, encirclements.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::feedback::OpenPoles;
use crate::feedback::margins::{may_exceed, may_touch};
use crate::feedback::trace::{SMALL, Traced};
use crate::numerics::modulus;

/// |L|² below which nothing that is missed matters: it cannot reach −1, and moves |1/(1 + L)| by a tenth at most.
pub(super) const HARMLESS: f64 = 0.01;

/// One loop seen at rising frequencies.
#[derive(Default)]
pub(super) struct Look {
    first: Option<Complex64>,
    last: Option<Traced>,
    /// Net passages of 1 + L through the negative real axis, counter-clockwise.
    turns: i32,
    /// Intervals in which something is to be read, each with its ends.
    pieces: Vec<[Traced; 2]>,
    /// Where |L| may reach through 1 unseen.
    touching: Vec<[Traced; 3]>,
    /// Points where |1 + L| is less than at both neighbours, between these.
    minima: Vec<[Traced; 3]>,
    least: f64,
    /// The point before the last.
    before: Option<Traced>,
    /// Whether the grid was too coarse to follow.
    pub is_coarse: bool,
}

impl Look {
    /// A further frequency; whether a delay turns the loop by more than [`crate::feedback::trace::SPUN`] from the one
    /// before.
    pub fn add(&mut self, frequency: f64, open: Complex64, is_spun: bool) {
        let now = Traced { frequency, open };
        let apart = |t: &Traced| (1.0 + t.open).norm_sqr();
        if let Some(last) = self.last {
            self.compare(last, now, is_spun);
            let before = self.before.unwrap_or(last);
            let own = apart(&last);
            if own <= apart(&before) && own < apart(&now) {
                self.minima.push([before, last, now]);
            }
            if may_touch(&[before, last, now]) {
                self.touching.push([before, last, now]);
            }
            self.least = self.least.min(own);
        } else {
            self.least = f64::INFINITY;
        }
        self.first.get_or_insert(open);
        self.before = self.last;
        self.last = Some(now);
    }

    fn compare(&mut self, a: Traced, b: Traced, is_spun: bool) {
        let (l, m) = (a.open, b.open);
        let (v, w) = (1.0 + l, 1.0 + m);
        if (v.im > 0.0) != (w.im > 0.0) {
            let crossed = v.re - v.im * (w.re - v.re) / (w.im - v.im);
            if crossed < 0.0 {
                self.turns += if v.im > 0.0 { 1 } else { -1 };
            }
        }
        let turned_back = |a: Complex64, b: Complex64| a.re * b.re + a.im * b.im < 0.0;
        let large = l.norm_sqr().max(m.norm_sqr());
        self.is_coarse |= !m.is_finite()
            || turned_back(v, w)
            || (large > HARMLESS && (is_spun || turned_back(l, m)));
        let is_gain = (l.norm_sqr() > 1.0) != (m.norm_sqr() > 1.0);
        // Where L may have gone round once, both ends may lie on one side of the axis.
        let is_phase = if is_spun {
            large > SMALL * SMALL
        } else {
            (l.im > 0.0) != (m.im > 0.0) && l.re.min(m.re) < -SMALL
        };
        if is_gain || is_phase {
            self.pieces.push([a, b]);
        }
    }

    /// Unstable closed poles, as [`crate::feedback::unstable_poles`] counts them.
    pub fn unstable_poles(&self, open: OpenPoles) -> Option<usize> {
        let (first, last) = (1.0 + self.first?, 1.0 + self.last?.open);
        let turned = last.arg() - first.arg() + 2.0 * PI * f64::from(self.turns);
        open.closed_unstable(turned)
    }

    /// Neighbours between which something is crossed.
    pub fn crossings(&self) -> &[[Traced; 2]] {
        &self.pieces
    }

    /// Where |L| may reach through 1 unseen.
    pub fn touching(&self) -> &[[Traced; 3]] {
        &self.touching
    }

    /// Largest |1/(1 + L)| of all points of the grid.
    pub fn sensitivity(&self) -> f64 {
        1.0 / self.least.sqrt()
    }

    /// Neighbourhoods of the points that may be nearest to −1.
    pub fn near(&self) -> Vec<[Traced; 3]> {
        let sensitivity = |t: &Traced| 1.0 / modulus(1.0 + t.open);
        let most = self.sensitivity();
        let may = |[a, middle, b]: &&[Traced; 3]| {
            may_exceed(sensitivity(middle), sensitivity(a), sensitivity(b), most)
        };
        self.minima.iter().filter(may).copied().collect()
    }
}
