//! When enough boards are drawn: the adaptive procedure of JCGM 101:2008, 7.9.
//!
//! Boards come in sequences. Each gives its own estimate of every figure's mean, standard deviation and
//! quantiles; how far these estimates scatter tells how well their average is known. The run may stop when
//! twice that is below the numerical tolerance of every figure (7.9.4), and when the interval on the yield
//! is narrow enough.

use serde::{Deserialize, Serialize};

use super::{clopper_pearson, quantiles};

/// Boards of a sequence: no fewer than 10 000, and than 100/(1 − p) for p = 0.95 (7.9.4 b).
pub const SEQUENCE: u32 = 10_240;

/// What shall be stable, and how well.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct StopRule {
    /// Significant digits of a figure's standard deviation that shall mean something.
    pub digits: u32,
    /// Share of the numerical tolerance that twice the scatter of the estimates may reach: 1, or 0.2 where
    /// another method shall be validated (JCGM 101:2008, 8.2).
    pub share: f64,
    /// The quantiles that shall be stable.
    pub quantiles: [f64; 3],
    /// Half the width that the yield's 95 % interval may have.
    pub yield_within: f64,
}

impl StopRule {
    /// For the quantiles that are told.
    pub fn told(digits: u32, yield_within: f64) -> StopRule {
        StopRule {
            digits,
            share: 1.0,
            quantiles: [0.05, 0.5, 0.95],
            yield_within,
        }
    }
}

/// Mean, standard deviation, and three quantiles.
const ESTIMATES: usize = 5;

/// How stable the figures are so far.
#[derive(Clone, Debug)]
pub struct Stability {
    rule: StopRule,
    figures: Vec<Estimates>,
    passed: u64,
    boards: u64,
    is_reached: bool,
}

/// A figure's estimates over the sequences.
#[derive(Clone, Debug, Default)]
struct Estimates {
    sequences: f64,
    /// Sums and sums of squares, from a first sequence's values on.
    sums: [[f64; 2]; ESTIMATES],
    origin: [f64; ESTIMATES],
    /// Boards on which the figure was read, their mean, and their squared distances from it.
    count: f64,
    mean: f64,
    squares: f64,
}

impl Stability {
    pub fn new(rule: StopRule, figures: usize) -> Stability {
        Stability {
            rule,
            figures: vec![Estimates::default(); figures],
            passed: 0,
            boards: 0,
            is_reached: false,
        }
    }

    /// Takes a whole sequence in: what was read of each figure, and on how many boards all was well.
    pub fn add<'a>(&mut self, figures: impl Iterator<Item = &'a [f64]>, passed: u32, boards: u32) {
        for (estimates, values) in self.figures.iter_mut().zip(figures) {
            estimates.add(values, self.rule.quantiles);
        }
        self.passed += u64::from(passed);
        self.boards += u64::from(boards);
        let (low, high) = clopper_pearson(self.passed, self.boards.max(1), 0.95);
        let narrow = (high - low) / 2.0 <= self.rule.yield_within;
        let stable = |estimates: &Estimates| estimates.is_stable(&self.rule);
        self.is_reached = self.boards > 0 && narrow && self.figures.iter().all(stable);
    }

    /// Whether it may stop after the sequences that were taken in.
    pub fn is_reached(&self) -> bool {
        self.is_reached
    }
}

impl Estimates {
    fn add(&mut self, values: &[f64], shares: [f64; 3]) {
        let read: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
        let n = read.len() as f64;
        if n < 2.0 {
            return;
        }
        let mean = read.iter().sum::<f64>() / n;
        let squares: f64 = read.iter().map(|v| (v - mean).powi(2)).sum();
        let [a, b, c] = quantiles(&read, shares);
        let estimates = [mean, (squares / (n - 1.0)).sqrt(), a, b, c];
        if self.sequences == 0.0 {
            self.origin = estimates;
        }
        self.sequences += 1.0;
        for ((sums, origin), estimate) in self.sums.iter_mut().zip(self.origin).zip(estimates) {
            let off = estimate - origin;
            sums[0] += off;
            sums[1] += off * off;
        }
        // Chan, Golub and LeVeque, "Updating formulae and a pairwise algorithm for computing sample
        // variances", 1979.
        let (all, off) = (self.count + n, mean - self.mean);
        self.squares += squares + off * off * self.count * n / all;
        self.mean += off * n / all;
        self.count = all;
    }

    fn is_stable(&self, rule: &StopRule) -> bool {
        let h = self.sequences;
        if h == 0.0 {
            // Read on no board at all: more boards will not help.
            return true;
        }
        if h < 2.0 {
            return false;
        }
        let uncertainty = (self.squares / (self.count - 1.0)).sqrt();
        let tolerance = rule.share * numerical_tolerance(uncertainty, rule.digits);
        self.sums.iter().all(|[sum, squares]| {
            let variance = (squares - sum * sum / h).max(0.0) / (h * (h - 1.0));
            2.0 * variance.sqrt() <= tolerance
        })
    }
}

/// Half a unit of the last of so many significant digits of a standard uncertainty (JCGM 101, 7.9.2).
///
/// ```
/// use synthesis::spread::numerical_tolerance;
/// // The standard's own examples: 0.000 32 g and 2 K.
/// assert!((numerical_tolerance(0.000_32, 2) - 0.000_005).abs() < 1e-18);
/// assert!((numerical_tolerance(2.0, 1) - 0.5).abs() < 1e-15);
/// ```
pub fn numerical_tolerance(uncertainty: f64, digits: u32) -> f64 {
    if uncertainty <= 0.0 {
        return 0.0;
    }
    let first = uncertainty.log10().floor() as i32;
    // Rounding up to the next power of ten moves the last digit, too.
    let unit = 10f64.powi(first - digits as i32 + 1);
    let carried = (uncertainty / unit).round() >= 10f64.powi(digits as i32);
    0.5 * unit * if carried { 10.0 } else { 1.0 }
}
