//! The linear share: how much of a figure's variance each factor explains by a straight line.

use crate::numerics::put_in_order;

/// One factor's variance contribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contribution {
    /// Its place among all factors.
    pub number: usize,
    /// Squared correlation with the figure: its share of the variance as far as that is linear, because
    /// the numbers are drawn independently (Saltelli et al., "Global Sensitivity Analysis", 1.2).
    pub share: f64,
}

/// Running sums of factors' deviations against one figure.
#[derive(Clone, Debug)]
pub struct Tally {
    /// Figures are counted from here, so that small differences of large numbers keep their digits.
    origin: f64,
    count: f64,
    y: f64,
    yy: f64,
    /// Σx, Σx², Σxy for each factor.
    sums: Vec<[f64; 3]>,
}

impl Tally {
    /// For so many factors; `origin` is some value of the figure.
    pub fn new(factors: usize, origin: f64) -> Tally {
        Tally {
            origin,
            count: 0.0,
            y: 0.0,
            yy: 0.0,
            sums: vec![[0.0; 3]; factors],
        }
    }

    /// One board's deviations and its figure; a figure that is none is left out.
    pub fn add(&mut self, deviations: &[f64], figure: f64) {
        if !figure.is_finite() {
            return;
        }
        let y = figure - self.origin;
        self.count += 1.0;
        self.y += y;
        self.yy += y * y;
        for (sums, x) in self.sums.iter_mut().zip(deviations.iter().copied()) {
            sums[0] += x;
            sums[1] += x * x;
            sums[2] += x * y;
        }
    }

    /// Takes another tally's boards in; both count from the same origin.
    pub fn join(&mut self, other: &Tally) {
        self.weigh(other, 1.0);
    }

    /// This tally without the boards of another that is part of it.
    pub fn without(&self, part: &Tally) -> Tally {
        let mut rest = self.clone();
        rest.weigh(part, -1.0);
        rest
    }

    fn weigh(&mut self, other: &Tally, weight: f64) {
        self.count += weight * other.count;
        self.y += weight * other.y;
        self.yy += weight * other.yy;
        let pairs = self.sums.iter_mut().zip(&other.sums);
        for (sum, more) in pairs.flat_map(|(sums, more)| sums.iter_mut().zip(more)) {
            *sum += weight * more;
        }
    }

    /// Boards on which the figure was read.
    pub fn count(&self) -> f64 {
        self.count
    }

    /// The figure's mean and standard deviation.
    pub fn moments(&self) -> (f64, f64) {
        let mean = self.y / self.count;
        let variance = (self.yy / self.count - mean * mean).max(0.0);
        (self.origin + mean, variance.sqrt())
    }

    /// Each factor's share.
    pub fn shares(&self) -> Vec<f64> {
        let n = self.count;
        let spread = self.yy - self.y * self.y / n;
        let share = |[x, xx, xy]: &[f64; 3]| {
            let (own, both) = (xx - x * x / n, xy - x * self.y / n);
            if own > 0.0 && spread > 0.0 {
                both * both / (own * spread)
            } else {
                0.0
            }
        };
        self.sums.iter().map(share).collect()
    }

    /// Shares in falling order.
    pub fn ranked(&self) -> Vec<Contribution> {
        let shares = self.shares().into_iter().enumerate();
        let mut ranked: Vec<Contribution> = shares
            .map(|(number, share)| Contribution { number, share })
            .collect();
        put_in_order(&mut ranked, |a, b| b.share.total_cmp(&a.share));
        ranked
    }
}

#[cfg(test)]
mod tests {
    use super::Tally;

    #[test]
    fn shares_by_hand() {
        // y = 2a + b over a 2² plan: 4 parts of 5 are a's.
        let mut tally = Tally::new(2, 100.0);
        let mut part = Tally::new(2, 100.0);
        for (a, b) in [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)] {
            tally.add(&[a, b], 100.0 + 2.0 * a + b);
        }
        tally.add(&[1.0, 1.0], f64::NAN);
        assert_eq!(tally.shares(), [0.8, 0.2]);
        assert_eq!(tally.ranked()[1].number, 1);
        assert_eq!(tally.moments(), (100.0, 5f64.sqrt()));
        part.add(&[3.0, 1.0], 104.0);
        let mut joined = tally.clone();
        joined.join(&part);
        assert_eq!(joined.count(), 5.0);
        assert_eq!(joined.without(&part).shares(), tally.shares());
    }
}
