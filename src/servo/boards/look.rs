//! What one loop does along the grid: where it crosses what, how near it comes to −1, how often it goes
//! round.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::servo::OpenLoop;
use crate::servo::trace::{SMALL, Traced};

/// One loop seen at rising frequencies.
#[derive(Default)]
pub(super) struct Look {
    first: Option<Complex64>,
    last: Option<Traced>,
    /// Net passages of 1 + L through the negative real axis, counter-clockwise.
    turns: i32,
    /// Intervals in which something is to be read, each with its ends.
    pieces: Vec<[Traced; 2]>,
    /// Where |1 + L| was least, with its neighbours' frequencies.
    nearest: Option<(f64, f64, f64, f64)>,
    /// Whether the grid was too coarse to follow.
    pub is_coarse: bool,
}

impl Look {
    pub fn add(&mut self, frequency: f64, open: Complex64) {
        let now = Traced { frequency, open };
        let apart = (1.0 + open).norm_sqr();
        if let Some(last) = self.last {
            self.compare(last, now);
            match &mut self.nearest {
                // The upper neighbour of the nearest so far.
                Some((_, place, _, above)) if *place == last.frequency => *above = frequency,
                _ => {}
            }
        }
        if self.nearest.is_none_or(|(least, ..)| apart < least) {
            let below = self.last.map_or(frequency, |last| last.frequency);
            self.nearest = Some((apart, frequency, below, frequency));
        }
        self.first.get_or_insert(open);
        self.last = Some(now);
    }

    fn compare(&mut self, a: Traced, b: Traced) {
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
        self.is_coarse |= turned_back(v, w) || (large > 0.01 && turned_back(l, m));
        let is_gain = (l.norm_sqr() > 1.0) != (m.norm_sqr() > 1.0);
        let is_phase = (l.im > 0.0) != (m.im > 0.0) && l.re.min(m.re) < -SMALL;
        if is_gain || is_phase {
            self.pieces.push([a, b]);
        }
    }

    /// Unstable closed poles, as [`crate::servo::unstable_poles`] counts them.
    pub fn unstable_poles(&self, unstable: usize, at_origin: usize) -> Option<usize> {
        let (first, last) = (1.0 + self.first?, 1.0 + self.last?.open);
        let turned = last.arg() - first.arg() + 2.0 * PI * f64::from(self.turns);
        let count = unstable as f64 + at_origin as f64 / 2.0 - turned / PI;
        let whole = count.round();
        ((count - whole).abs() < 0.2 && whole >= 0.0).then_some(whole as usize)
    }

    /// The pieces of the curve worth reading: what crosses something, and the neighbourhood of the point
    /// nearest to −1.
    pub fn near(&self, open: &OpenLoop) -> Vec<[Traced; 2]> {
        let mut pieces = self.pieces.clone();
        if let Some((_, place, below, above)) = self.nearest {
            let at = |frequency| Traced {
                frequency,
                open: open.at(frequency),
            };
            pieces.push([at(below), at(place)]);
            pieces.push([at(place), at(above)]);
        }
        pieces
    }
}
