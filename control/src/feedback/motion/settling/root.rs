//! Zeros of the characteristic function, one or two at a time.

use num_complex::Complex64;

use super::characteristic::Jet;
use crate::numerics::put_in_order;
use crate::response::Factor;

/// A step smaller than this, relative to the root, is the last but one.
const CLOSE: f64 = 1e-5;
/// Steps at most.
const STEPS: usize = 16;
/// Real zeros that are apart by less than this ratio may become conjugates on another board.
const NEAR: f64 = 4.0;

/// A real zero, or two that are real or conjugates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Root {
    One(f64),
    Two(Factor),
}

impl Root {
    /// The zeros, rad/s; of conjugates the one above the axis.
    pub fn places(self) -> (Complex64, Option<Complex64>) {
        match self {
            Root::One(at) => (at.into(), None),
            Root::Two(factor) => {
                let (a, b) = ends(factor);
                (a, (a.im == 0.0).then_some(b))
            }
        }
    }

    /// The polynomial with these zeros, of a size near 1 among its neighbours.
    fn jet(self, s: Complex64) -> Jet {
        match self {
            Root::One(at) => Jet {
                value: (s - at) / at.abs(),
                slope: (1.0 / at.abs()).into(),
            },
            Root::Two(Factor { u, v }) => {
                let size = 1.0 / v.abs();
                Jet {
                    value: (s * s + u * s + v) * size,
                    slope: (2.0 * s + u) * size,
                }
            }
        }
    }

    /// The zeros near these, those that are known left out; none where the steps lead nowhere.
    ///
    /// Newton's method, on a quadratic factor where there are two (as Bairstow's, with divided differences in place
    /// of a polynomial's division): smooth where a pair of conjugates becomes one of real zeros. Known zeros are
    /// divided out (Wilkinson, "Rounding Errors in Algebraic Processes", 2.7, from memory), so that no zero is found
    /// twice.
    pub fn polished(self, f: &impl Fn(Complex64) -> Jet, known: &[Root]) -> Option<Root> {
        let left = |s: Complex64| {
            let all = known.iter().map(|root| root.jet(s));
            f(s).over(all.fold(Jet::ONE, Jet::times))
        };
        let mut root = self;
        for _ in 0..STEPS {
            let is_last = match &mut root {
                Root::One(at) => {
                    let there = left((*at).into());
                    let step = (there.value / there.slope).re;
                    *at -= step;
                    step.abs() <= CLOSE * at.abs()
                }
                Root::Two(factor) => step(factor, &left),
            };
            if is_last {
                return root.is_finite().then_some(root);
            }
            if !root.is_finite() {
                return None;
            }
        }
        None
    }

    fn is_finite(self) -> bool {
        match self {
            Root::One(at) => at.is_finite() && at != 0.0,
            Root::Two(Factor { u, v }) => u.is_finite() && v.is_finite() && v != 0.0,
        }
    }
}

/// One step of a factor; whether it was a small one.
fn step(factor: &mut Factor, f: &impl Fn(Complex64) -> Jet) -> bool {
    let (a, b) = ends(*factor);
    let apart = a - b;
    let there = f(a);
    let other = if a.im == 0.0 {
        f(b)
    } else {
        Jet {
            value: there.value.conj(),
            slope: there.slope.conj(),
        }
    };
    // f = (s² + u·s + v)·q + r, r a line through f's values at both ends.
    let rise = (there.value - other.value) / apart;
    let at_a = there.value * apart / (there.slope - rise);
    let at_b = -other.value * apart / (other.slope - rise);
    let du = ((at_a - at_b) / apart).re;
    factor.u += du;
    factor.v += (at_a - du * a).re;
    let small = |step: Complex64, end: Complex64| step.norm() <= CLOSE * end.norm() * apart.norm();
    small(at_a, a) && small(at_b, b)
}

/// Both zeros; of conjugates the one above the axis first.
fn ends(Factor { u, v }: Factor) -> (Complex64, Complex64) {
    let half = -0.5 * u;
    let square = half * half - v;
    // Zeros that fall together have no difference to divide by.
    let least = 1e-14 * half * half;
    if square <= 0.0 {
        let im = (-square).max(least).sqrt();
        (Complex64::new(half, im), Complex64::new(half, -im))
    } else {
        let large = half + square.max(least).sqrt().copysign(half);
        ((v / large).into(), large.into())
    }
}

/// Zeros one by one taken together: conjugates, and real ones with a near neighbour.
pub(super) fn grouped(zeros: &[Complex64]) -> Vec<Root> {
    let above = zeros.iter().filter(|z| z.im > 0.0);
    let mut roots: Vec<Root> = above
        .map(|z| {
            Root::Two(Factor {
                u: -2.0 * z.re,
                v: z.norm_sqr(),
            })
        })
        .collect();
    let mut real: Vec<f64> = zeros.iter().filter(|z| z.im == 0.0).map(|z| z.re).collect();
    put_in_order(&mut real, |a, b| a.abs().total_cmp(&b.abs()));
    let mut left = real.as_slice();
    while let [a, rest @ ..] = left {
        let near = rest.first().filter(|b| *b / a > 0.0 && *b / a < NEAR);
        roots.push(near.map_or(Root::One(*a), |b| {
            Root::Two(Factor {
                u: -(a + b),
                v: a * b,
            })
        }));
        left = &rest[usize::from(near.is_some())..];
    }
    roots
}

#[cfg(test)]
mod tests {
    use super::*;

    /// (s² + 2·s + 1 − d)·(s + 5): a pair that is conjugate at first.
    #[test]
    fn a_pair_becomes_real_and_none_is_found_twice() {
        let cubic = |d: f64| {
            move |s: Complex64| {
                let (pair, line) = (s * s + 2.0 * s + 1.0 - d, s + 5.0);
                Jet {
                    value: pair * line,
                    slope: (2.0 * s + 2.0) * line + pair,
                }
            }
        };
        let start = Root::Two(Factor { u: 2.2, v: 1.9 });
        let found = start.polished(&cubic(0.25), &[]).expect("a pair");
        let (a, b) = found.places();
        assert!((a + 0.5).norm() < 1e-9 && (b.expect("real") + 1.5).norm() < 1e-9);
        let third = Root::One(-0.6).polished(&cubic(0.25), &[found]);
        assert!((third.expect("a zero").places().0 + 5.0).norm() < 1e-9);
        let complex = start.polished(&cubic(-0.25), &[]).expect("a pair");
        assert!((complex.places().0 - Complex64::new(-1.0, 0.5)).norm() < 1e-9);
    }
}
