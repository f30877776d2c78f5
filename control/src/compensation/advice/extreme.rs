//! The largest and the smallest |c + b/z| over the places to which a resonance drifts.

use num_complex::Complex64;

/// Frequency and damping of a resonance, drifting: z = t² − 1 + 2j·ζ·t for every t and ζ in the box, where
/// t is the resonance's frequency over the one that is looked at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Drifting {
    /// From the lowest to the highest, above 0.
    pub t: (f64, f64),
    /// From the lowest to the highest, above 0.
    pub damping: (f64, f64),
}

impl Drifting {
    /// The largest |c + b/z|.
    pub fn largest(&self, c: Complex64, b: Complex64) -> f64 {
        self.edge(c, b, &mut |best: f64, h| best.max(h), 0.0)
    }

    /// The smallest |c + b/z|.
    pub fn smallest(&self, c: Complex64, b: Complex64) -> f64 {
        if self.holds(-b / c) {
            return 0.0;
        }
        self.edge(c, b, &mut |best: f64, h| best.min(h), f64::INFINITY)
    }

    /// Folds over the values on the box's edge that may be extremes. By the maximum principle, extremes of
    /// |c + b/z| lie there, as z has no zero inside.
    fn edge(
        &self,
        c: Complex64,
        b: Complex64,
        fold: &mut impl FnMut(f64, f64) -> f64,
        start: f64,
    ) -> f64 {
        let mut best = start;
        let mut see = |t: f64, damping: f64| best = fold(best, (c + b / place(t, damping)).norm());
        let (t, z) = (self.t, self.damping);
        for damping in [z.0, z.1] {
            see(t.0, damping);
            see(t.1, damping);
            for branch in 0..2 {
                // The way over t is a parabola: the extreme on its tangent, and again from there.
                let mut at = 1.0;
                for _ in 0..6 {
                    let tangent = (place(at, damping), 2.0 * Complex64::new(at, damping));
                    match stationary(c, b, tangent)[branch] {
                        step if step.is_finite() => at = (at + step).clamp(t.0, t.1),
                        _ => break,
                    }
                }
                see(at.clamp(t.0, t.1), damping);
            }
        }
        for at in [t.0, t.1] {
            let line = (place(at, 0.0), Complex64::new(0.0, 2.0 * at));
            for damping in stationary(c, b, line) {
                if damping.is_finite() {
                    see(at, damping.clamp(z.0, z.1));
                }
            }
        }
        best
    }

    /// Whether the box holds this z.
    fn holds(&self, z: Complex64) -> bool {
        let t = (1.0 + z.re).max(0.0).sqrt();
        let damping = z.im / (2.0 * t);
        (self.t.0..=self.t.1).contains(&t) && (self.damping.0..=self.damping.1).contains(&damping)
    }
}

fn place(t: f64, damping: f64) -> Complex64 {
    Complex64::new(t * t - 1.0, 2.0 * damping * t)
}

/// Both x at which |c + b/z| stands still on the line z = p + q·x: where a ratio of two quadratics does.
fn stationary(c: Complex64, b: Complex64, (p, q): (Complex64, Complex64)) -> [f64; 2] {
    let (n, m) = (c * p + b, c * q);
    let quadratic = |a: Complex64, b: Complex64| {
        [
            a.norm_sqr(),
            2.0 * (a.re * b.re + a.im * b.im),
            b.norm_sqr(),
        ]
    };
    let (n, d) = (quadratic(n, m), quadratic(p, q));
    let (k2, k1, k0) = (
        n[2] * d[1] - n[1] * d[2],
        2.0 * (n[2] * d[0] - n[0] * d[2]),
        n[1] * d[0] - n[0] * d[1],
    );
    let root = (k1 * k1 - 4.0 * k2 * k0).max(0.0).sqrt();
    // Without cancellation (Press et al., "Numerical Recipes", 5.6), both in a fixed order.
    let half = -0.5 * (k1 + root.copysign(k1));
    let (far, near) = (half / k2, k0 / half);
    if k1 >= 0.0 { [far, near] } else { [near, far] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extremes_are_those_of_a_dense_grid() {
        for k in 0..200 {
            let x = f64::from(k);
            let c = Complex64::from_polar(0.2 + (x * 0.37).sin().abs(), 1.7 * x);
            let b = Complex64::from_polar(0.02 * (1.0 + x % 7.0), 0.9 * x);
            let t = 0.9 + 0.2 * (x * 0.61).sin().abs();
            let drifting = Drifting {
                t: (t * 0.96, t * 1.04),
                damping: (0.01 + 0.001 * (x % 5.0), 0.03),
            };
            let (mut low, mut high) = (f64::INFINITY, 0.0f64);
            for i in 0..=400 {
                for j in 0..=40 {
                    let share = |(a, b): (f64, f64), k: i32, n: f64| a + (b - a) * f64::from(k) / n;
                    let z = place(
                        share(drifting.t, i, 400.0),
                        share(drifting.damping, j, 40.0),
                    );
                    let h = (c + b / z).norm();
                    (low, high) = (low.min(h), high.max(h));
                }
            }
            let (smallest, largest) = (drifting.smallest(c, b), drifting.largest(c, b));
            assert!(
                smallest <= low + 1e-12 && low - smallest < 0.02 * (1.0 + low),
                "{k}: {low} {smallest}"
            );
            assert!(
                largest >= high - 1e-12 && largest < high * 1.001,
                "{k}: {high} {largest}"
            );
        }
    }
}
