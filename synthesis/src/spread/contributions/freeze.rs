//! Sobol's indices by pick-freeze: boards that differ in one factor only.
//!
//! From two independent streams of boards A and B come boards AB, all of A with one factor of B. First order
//! as in Saltelli et al., "Variance based sensitivity analysis of model output", Computer Physics
//! Communications 181, 2010, table 2 (b): mean of f(B)·(f(AB) − f(A)) over the variance. Total order as in
//! Jansen, "Analysis of variance designs for model output", Computer Physics Communications 117, 1999 (table 2
//! (f) there): half the mean of (f(A) − f(AB))² over the variance. (Both from memory.)

use super::Estimate;

/// What factors do to one figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Indices {
    /// Share of the variance that goes when the factor alone is known.
    pub first: Vec<Estimate>,
    /// Share of the variance that stays when all but the factor are known.
    pub total: Vec<Estimate>,
}

/// Sums over samples in blocks.
pub(super) struct Freeze {
    /// Figures are counted from here, one each: this takes most of the noise out of the first order.
    origins: Vec<f64>,
    factors: usize,
    blocks: Vec<Block>,
}

#[derive(Clone)]
struct Block {
    /// `[figure]`
    variance: Vec<Moments>,
    /// `[figure · factors + factor]`
    sums: Vec<Sums>,
}

/// Σ1, Σy, Σy² over boards of A and B.
#[derive(Clone, Copy, Default)]
struct Moments([f64; 3]);

/// Σ1, Σf(B)·(f(AB) − f(A)), Σ(f(A) − f(AB))².
#[derive(Clone, Copy, Default)]
struct Sums([f64; 3]);

impl Moments {
    fn variance(self) -> f64 {
        let [n, y, yy] = self.0;
        (yy / n - (y / n).powi(2)).max(0.0)
    }
}

fn difference(whole: [f64; 3], part: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|k| whole[k] - part[k])
}

impl Freeze {
    pub fn new(origins: Vec<f64>, factors: usize, blocks: usize) -> Freeze {
        let block = Block {
            variance: vec![Moments::default(); origins.len()],
            sums: vec![Sums::default(); origins.len() * factors],
        };
        Freeze {
            factors,
            blocks: vec![block; blocks],
            origins,
        }
    }

    /// Takes a sample in: figures of A and of B.
    pub fn add(&mut self, block: usize, a: &[f64], b: &[f64]) {
        let variance = &mut self.blocks[block].variance;
        for ((moments, origin), pair) in variance.iter_mut().zip(&self.origins).zip(a.iter().zip(b))
        {
            for y in [pair.0, pair.1].into_iter().filter(|y| y.is_finite()) {
                let y = y - origin;
                moments.0[0] += 1.0;
                moments.0[1] += y;
                moments.0[2] += y * y;
            }
        }
    }

    /// The same sample's AB with one factor of B. What is no number on one of the three is left out.
    pub fn add_mixed(&mut self, block: usize, factor: usize, a: &[f64], b: &[f64], ab: &[f64]) {
        let sums = &mut self.blocks[block].sums;
        for (figure, origin) in self.origins.iter().enumerate() {
            let (a, b, ab) = (a[figure], b[figure], ab[figure]);
            if a.is_finite() && b.is_finite() && ab.is_finite() {
                let sums = &mut sums[figure * self.factors + factor].0;
                sums[0] += 1.0;
                sums[1] += (b - origin) * (ab - a);
                sums[2] += (a - ab).powi(2);
            }
        }
    }

    /// The indices of a figure.
    pub fn indices(&self, figure: usize) -> Indices {
        let moments: Vec<Moments> = self.blocks.iter().map(|b| b.variance[figure]).collect();
        let all = |parts: &mut dyn Iterator<Item = [f64; 3]>| {
            parts.fold([0.0; 3], |sum, part| {
                std::array::from_fn(|k| sum[k] + part[k])
            })
        };
        let whole = Moments(all(&mut moments.iter().map(|m| m.0)));
        let of = |factor: usize, at: usize, weight: f64| {
            let sums: Vec<Sums> = self
                .blocks
                .iter()
                .map(|block| block.sums[figure * self.factors + factor])
                .collect();
            let sum = all(&mut sums.iter().map(|s| s.0));
            let index = |sums: [f64; 3], moments: Moments| {
                let variance = moments.variance();
                if sums[0] > 0.0 && variance > 0.0 {
                    weight * sums[at] / sums[0] / variance
                } else {
                    0.0
                }
            };
            let without: Vec<f64> = sums
                .iter()
                .zip(&moments)
                .map(|(part, of)| {
                    let rest = Moments(difference(whole.0, of.0));
                    index(difference(sum, part.0), rest)
                })
                .collect();
            Estimate::jackknife(index(sum, whole), &without)
        };
        Indices {
            first: (0..self.factors).map(|f| of(f, 1, 1.0)).collect(),
            total: (0..self.factors).map(|f| of(f, 2, 0.5)).collect(),
        }
    }
}
