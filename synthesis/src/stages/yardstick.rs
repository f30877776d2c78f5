//! What a response is held against: the figures read off it, how far it is from the ask, and what
//! makes a board good. Made once from an ask, used for every board.

use crate::numerics::larger;
use crate::quantity::Unit;
use crate::response::Transfer;

/// A figure that is read off a stage's response.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Name for scripts, kebab-case.
    pub name: &'static str,
    /// Name for people.
    pub label: String,
    pub unit: Unit,
    /// One sentence: how it is read off.
    pub meaning: &'static str,
    /// What the ask wants it to be, where it wants something.
    pub wanted: Option<f64>,
    /// A board is good when the figure stands between these two.
    pub lowest: Option<f64>,
    pub highest: Option<f64>,
}

impl Figure {
    /// A figure that nothing is asked of.
    pub fn told(
        name: &'static str,
        label: impl Into<String>,
        unit: Unit,
        meaning: &'static str,
    ) -> Figure {
        Figure {
            name,
            label: label.into(),
            unit,
            meaning,
            wanted: None,
            lowest: None,
            highest: None,
        }
    }

    /// The same, wanted at a value.
    pub fn wanted(self, wanted: f64) -> Figure {
        Figure {
            wanted: Some(wanted),
            ..self
        }
    }

    /// The same, good between two values.
    pub fn within(self, lowest: f64, highest: f64) -> Figure {
        Figure {
            lowest: Some(lowest),
            highest: Some(highest),
            ..self
        }
    }

    /// The same, good from a value on.
    pub fn at_least(self, lowest: f64) -> Figure {
        Figure {
            lowest: Some(lowest),
            ..self
        }
    }

    /// Whether a board is judged by it.
    pub fn is_limited(&self) -> bool {
        self.lowest.is_some() || self.highest.is_some()
    }

    /// Whether a board is good as far as this figure goes: one that nothing limits spoils none.
    pub fn keeps(&self, value: f64) -> bool {
        !self.is_limited() || self.holds(value)
    }

    /// Whether a board with this value is good. What could not be read (NaN) is outside every limit.
    pub fn holds(&self, value: f64) -> bool {
        !value.is_nan()
            && self.lowest.is_none_or(|low| value >= low)
            && self.highest.is_none_or(|high| value <= high)
    }
}

/// Signed, smooth misses in units of their limits; groups of them count by their Euclidean norm.
#[derive(Clone, Debug, PartialEq)]
pub struct Terms {
    /// How many consecutive terms make each group.
    pub groups: Vec<usize>,
}

impl Terms {
    /// How many terms there are.
    pub fn count(&self) -> usize {
        self.groups.iter().sum()
    }

    /// The worst miss relative to its limit: 1 is on the limit. Infinite when a term is not a number.
    pub fn miss(&self, terms: &[f64]) -> f64 {
        self.miss_of(terms.iter().copied())
    }

    /// [`Terms::miss`] of terms that are still being worked out.
    pub fn miss_of(&self, mut terms: impl Iterator<Item = f64>) -> f64 {
        let mut worst = 0.0f64;
        for &size in &self.groups {
            let square: f64 = terms.by_ref().take(size).map(|t| t * t).sum();
            if square.is_nan() {
                return f64::INFINITY;
            }
            worst = larger(worst, square);
        }
        worst.sqrt()
    }
}

/// A stage's responses on one board: from its input to its output, and from each further input.
#[derive(Clone, Copy, Debug)]
pub struct Seen<'a> {
    pub main: &'a Transfer,
    pub others: &'a [Transfer],
    /// The numbers that the stage's programs took; empty where nothing reads them.
    pub numbers: &'a [f64],
}

impl<'a> From<&'a Transfer> for Seen<'a> {
    fn from(main: &'a Transfer) -> Seen<'a> {
        Seen {
            main,
            others: &[],
            numbers: &[],
        }
    }
}

/// How responses are judged against one ask.
pub trait Yardstick: Send + Sync {
    /// The figures that a response is judged by.
    fn figures(&self) -> &[Figure];
    /// Reads them off a response, NaN where a figure does not exist; `hint` are figures of a similar
    /// board, which makes the search shorter.
    fn read(&self, seen: Seen, hint: Option<&[f64]>, figures: &mut [f64]);
    /// Whether a board with these figures is good: every limit holds.
    fn keeps_all(&self, figures: &[f64]) -> bool {
        let mut judged = self.figures().iter().zip(figures);
        judged.all(|(figure, value)| figure.keeps(*value))
    }
    /// The shape of [`Yardstick::terms`].
    fn term_shape(&self) -> &Terms;
    /// How far a response is from the ask; `hint` are figures of a similar board.
    fn terms(&self, seen: Seen, hint: Option<&[f64]>, terms: &mut [f64]);
    /// [`Yardstick::terms`] where the worst miss is at most `most`; false where it is more, and the terms may not be
    /// filled in then: most of what a search looks at is told by the terms that cost least.
    fn terms_within(&self, seen: Seen, most: f64, terms: &mut [f64]) -> bool {
        // A part of a miss is beyond its bound when it is by more than rounding makes.
        if self.least_miss(seen) > most * (1.0 + 1e-12) {
            return false;
        }
        self.terms(seen, None, terms);
        self.term_shape().miss(terms) <= most
    }
    /// A bound below the worst miss, from what costs little to read; 0 where nothing does.
    fn least_miss(&self, _seen: Seen) -> f64 {
        0.0
    }
    /// [`Yardstick::terms`], and of the figures those that make good hints for similar boards; the others may be NaN.
    fn terms_and_hints(
        &self,
        seen: Seen,
        hint: Option<&[f64]>,
        terms: &mut [f64],
        hints: &mut [f64],
    ) {
        self.read(seen, hint, hints);
        self.terms(seen, Some(hints), terms);
    }
    /// Whether it looks at the numbers that the stage's programs took, and not at responses alone.
    fn reads_numbers(&self) -> bool {
        false
    }
    /// The asked response itself, where the ask says it all; `sign` is the circuit's.
    fn goal(&self, sign: f64) -> Option<Transfer>;
}
