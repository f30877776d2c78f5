//! A smooth curve through points.

/// A cubic spline: its slope and its curvature go on at every point.
///
/// Method: Press et al., "Numerical Recipes", 3.3, with the same curvature throughout the first stretch, and the last one.
pub struct Spline<'a> {
    x: &'a [f64],
    y: &'a [f64],
    /// The second derivative at each point.
    bent: Vec<f64>,
}

impl<'a> Spline<'a> {
    /// Through values at rising places; none where there are fewer than two, or not as many of both.
    pub fn new(x: &'a [f64], y: &'a [f64]) -> Option<Spline<'a>> {
        let rises = x.windows(2).all(|pair| pair[0] < pair[1]);
        (x.len() >= 2 && x.len() == y.len() && rises).then(|| Spline {
            bent: bent(x, y),
            x,
            y,
        })
    }

    /// The value at a share, from 0 to 1, of the stretch behind a point; `stretch` is that point's place and not the last.
    pub fn within(&self, stretch: usize, share: f64) -> f64 {
        let (from, to) = (stretch, stretch + 1);
        let (before, behind) = (1.0 - share, share);
        let bow = |share: f64| share * (share * share - 1.0);
        let length = self.x[to] - self.x[from];
        let bent = bow(before) * self.bent[from] + bow(behind) * self.bent[to];
        before * self.y[from] + behind * self.y[to] + bent * length * length / 6.0
    }
}

/// The second derivatives at the points, by elimination along the three diagonals.
fn bent(x: &[f64], y: &[f64]) -> Vec<f64> {
    let last = x.len() - 1;
    let mut bent = vec![0.0; x.len()];
    if last < 2 {
        return bent;
    }
    let length = |k: usize| x[k + 1] - x[k];
    let slope = |k: usize| (y[k + 1] - y[k]) / length(k);
    // What is above the diagonal once that is 1.
    let mut above = vec![0.0; x.len()];
    for k in 1..last {
        let (before, behind) = (length(k - 1), length(k));
        let mut own = 2.0 * (before + behind);
        // At the ends the neighbour has the same second derivative.
        if k == 1 {
            own += before;
        } else {
            own -= before * above[k - 1];
        }
        if k + 1 == last {
            own += behind;
        } else {
            above[k] = behind / own;
        }
        let passed = if k == 1 { 0.0 } else { before * bent[k - 1] };
        bent[k] = (6.0 * (slope(k) - slope(k - 1)) - passed) / own;
    }
    for k in (1..last - 1).rev() {
        bent[k] -= above[k] * bent[k + 1];
    }
    bent[0] = bent[1];
    bent[last] = bent[last - 1];
    bent
}

#[cfg(test)]
mod tests {
    use super::Spline;

    #[test]
    fn a_parabola_is_met_everywhere_and_a_sine_nearly() {
        let x: Vec<f64> = (0..12).map(|k| 0.1 * f64::from(k * k)).collect();
        let parabola = |x: f64| 3.0 - 2.0 * x + 0.5 * x * x;
        let y: Vec<f64> = x.iter().map(|x| parabola(*x)).collect();
        let curve = Spline::new(&x, &y).expect("a curve");
        for (k, pair) in x.windows(2).enumerate() {
            for share in [0.0, 0.3, 1.0] {
                let known = parabola(pair[0] + share * (pair[1] - pair[0]));
                assert!((curve.within(k, share) - known).abs() < 1e-12);
            }
        }
        let x: Vec<f64> = (0..40).map(|k| 0.2 * f64::from(k)).collect();
        let y: Vec<f64> = x.iter().map(|x| x.sin()).collect();
        let curve = Spline::new(&x, &y).expect("a curve");
        // The error is h⁴/384 inside.
        for (k, x) in x.iter().enumerate().take(30).skip(10) {
            let known = (x + 0.1).sin();
            assert!((curve.within(k, 0.5) - known).abs() < 2.0 * 0.2f64.powi(4) / 384.0);
        }
    }

    #[test]
    fn few_points_are_a_straight_line_or_nothing() {
        let curve = Spline::new(&[1.0, 3.0], &[2.0, 6.0]).expect("a line");
        assert_eq!(curve.within(0, 0.25), 3.0);
        let curve = Spline::new(&[0.0, 1.0, 3.0], &[0.0, 1.0, 9.0]).expect("a parabola");
        assert!((curve.within(1, 0.5) - 4.0).abs() < 1e-12);
        assert!(Spline::new(&[1.0], &[2.0]).is_none());
        assert!(Spline::new(&[1.0, 1.0], &[2.0, 2.0]).is_none());
        assert!(Spline::new(&[1.0, 2.0], &[2.0]).is_none());
    }
}
