//! Who is to blame: how much of a figure's variance each drawn number explains.

/// One drawn number's share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blame {
    /// Its place among all drawn numbers.
    pub number: usize,
    /// Squared correlation with the figure: its share of the variance as far as that is linear, because
    /// the numbers are drawn independently (Saltelli et al., "Global Sensitivity Analysis", 1.2).
    pub share: f64,
}

/// Running sums of numbers against one figure.
pub(super) struct Tally {
    count: f64,
    y: f64,
    yy: f64,
    /// Σx, Σx², Σxy for each number.
    sums: Vec<[f64; 3]>,
}

impl Tally {
    pub fn new(numbers: usize) -> Tally {
        Tally {
            count: 0.0,
            y: 0.0,
            yy: 0.0,
            sums: vec![[0.0; 3]; numbers],
        }
    }

    /// One board's deviations and its figure; a figure that is none is left out.
    pub fn add(&mut self, deviations: &[f64], figure: f64) {
        if !figure.is_finite() {
            return;
        }
        self.count += 1.0;
        self.y += figure;
        self.yy += figure * figure;
        for (sums, x) in self.sums.iter_mut().zip(deviations.iter().copied()) {
            sums[0] += x;
            sums[1] += x * x;
            sums[2] += x * figure;
        }
    }

    /// Shares in falling order.
    pub fn shares(&self) -> Vec<Blame> {
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
        let mut shares: Vec<Blame> = self
            .sums
            .iter()
            .enumerate()
            .map(|(number, sums)| Blame {
                number,
                share: share(sums),
            })
            .collect();
        shares.sort_by(|a, b| b.share.total_cmp(&a.share));
        shares
    }
}
