//! Linear systems in state space, where a long row of stages keeps its digits and a loop can be closed.

use nalgebra::{DMatrix, DVector, RowDVector};
use num_complex::Complex64;

use super::Transfer;

/// `x' = A·x + B·u`, `y = C·x + D·u`, time in seconds; one input and one output.
#[derive(Clone, Debug, PartialEq)]
pub struct StateSpace {
    pub a: DMatrix<f64>,
    pub b: DVector<f64>,
    pub c: RowDVector<f64>,
    pub d: f64,
}

impl StateSpace {
    /// A system without states.
    pub fn gain(d: f64) -> StateSpace {
        StateSpace {
            a: DMatrix::zeros(0, 0),
            b: DVector::zeros(0),
            c: RowDVector::zeros(0),
            d,
        }
    }

    /// A transfer function in controllable canonical form; none of an improper one (more zeros than
    /// poles), whose answer to a step would hold an impulse.
    pub fn of(transfer: &Transfer) -> Option<StateSpace> {
        let order = transfer.den.iter().rposition(|&c| c != 0.0).unwrap_or(0);
        let degree = transfer.num.iter().rposition(|&c| c != 0.0);
        if degree.is_some_and(|degree| degree > order) {
            return None;
        }
        // Scale time so that the slowest and fastest poles straddle 1 and the companion stays balanced.
        let lead = transfer.den[order];
        let scale = (transfer.den[0] / lead)
            .abs()
            .powf(1.0 / order.max(1) as f64);
        let scale = if scale.is_normal() { scale } else { 1.0 };
        let scaled = |coefficients: &[f64], k: usize| {
            coefficients.get(k).copied().unwrap_or(0.0) / lead * scale.powi(k as i32 - order as i32)
        };
        let rate = transfer.omega * scale;
        let mut system = StateSpace::gain(scaled(&transfer.num, order));
        system.a = DMatrix::zeros(order, order);
        system.b = DVector::zeros(order);
        system.c = RowDVector::zeros(order);
        for k in 0..order {
            let back = scaled(&transfer.den, k);
            system.c[k] = scaled(&transfer.num, k) - system.d * back;
            if k + 1 < order {
                system.a[(k, k + 1)] = rate;
            }
            system.a[(order - 1, k)] -= rate * back;
        }
        if order > 0 {
            system.b[order - 1] = rate;
        }
        Some(system)
    }

    /// How many states it has.
    pub fn order(&self) -> usize {
        self.b.len()
    }

    /// This system followed by another.
    pub fn then(&self, next: &StateSpace) -> StateSpace {
        let (n, m) = (self.order(), next.order());
        let mut both = self.beside(next);
        both.a
            .view_mut((n, 0), (m, n))
            .copy_from(&(&next.b * &self.c));
        both.b.rows_mut(n, m).copy_from(&(&next.b * self.d));
        both.c.columns_mut(0, n).copy_from(&(&self.c * next.d));
        both.d = self.d * next.d;
        both
    }

    /// This system and another fed by the same signal, their outputs added.
    pub fn plus(&self, other: &StateSpace) -> StateSpace {
        let mut both = self.beside(other);
        both.d = self.d + other.d;
        both
    }

    /// The output times a factor.
    pub fn times(mut self, factor: f64) -> StateSpace {
        self.c *= factor;
        self.d *= factor;
        self
    }

    fn beside(&self, other: &StateSpace) -> StateSpace {
        let (n, m) = (self.order(), other.order());
        let mut both = StateSpace::gain(0.0);
        both.a = DMatrix::zeros(n + m, n + m);
        both.a.view_mut((0, 0), (n, n)).copy_from(&self.a);
        both.a.view_mut((n, n), (m, m)).copy_from(&other.a);
        both.b = DVector::from_iterator(n + m, self.b.iter().chain(other.b.iter()).copied());
        both.c = RowDVector::from_iterator(n + m, self.c.iter().chain(other.c.iter()).copied());
        both
    }

    /// The loop closed round it by taking its output away from its input; none where its direct gain
    /// is −1, which leaves the loop no solution.
    pub fn closed(&self) -> Option<StateSpace> {
        let share = 1.0 / (1.0 + self.d);
        share.is_finite().then(|| StateSpace {
            a: &self.a - &self.b * &self.c * share,
            b: &self.b * share,
            c: &self.c * share,
            d: self.d * share,
        })
    }

    /// Poles in rad/s.
    pub fn poles(&self) -> Vec<Complex64> {
        // A matrix of nothing has no Schur form.
        if self.order() == 0 {
            return Vec::new();
        }
        balanced(self.a.clone())
            .complex_eigenvalues()
            .iter()
            .map(|p| Complex64::new(p.re, p.im))
            .collect()
    }
}

/// The same matrix with its states scaled by powers of 2 so that rows and columns are of a size, which
/// keeps eigenvalues of stiff systems exact (Parlett and Reinsch, Numerische Mathematik 13, 1969; Press et
/// al., "Numerical Recipes", 11.6).
fn balanced(mut a: DMatrix<f64>) -> DMatrix<f64> {
    let size = a.nrows();
    for _ in 0..100 {
        let mut done = true;
        for i in 0..size {
            let off = |v: f64, k: usize| if k == i { 0.0 } else { v.abs() };
            let column: f64 = (0..size).map(|k| off(a[(k, i)], k)).sum();
            let row: f64 = (0..size).map(|k| off(a[(i, k)], k)).sum();
            if column == 0.0 || row == 0.0 {
                continue;
            }
            let factor = (row / column).sqrt().log2().round().exp2();
            if factor != 1.0 && column * factor + row / factor < 0.95 * (column + row) {
                a.column_mut(i).scale_mut(factor);
                a.row_mut(i).scale_mut(1.0 / factor);
                done = false;
            }
        }
        if done {
            break;
        }
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lag(corner: f64) -> StateSpace {
        StateSpace::of(&Transfer {
            num: vec![1.0],
            den: vec![1.0, 1.0],
            omega: corner,
        })
        .expect("proper")
    }

    #[test]
    fn a_loop_round_a_lag_is_faster_by_its_gain() {
        let closed = lag(2.0).times(9.0).closed().expect("closable");
        assert!((closed.poles()[0].re + 20.0).abs() < 1e-12);
    }

    #[test]
    fn a_loop_round_a_gain_has_no_poles() {
        let closed = StateSpace::gain(1.0).closed().expect("closable");
        assert!(closed.poles().is_empty());
    }

    #[test]
    fn poles_nine_decades_apart_keep_their_digits() {
        let row = lag(1e-2).then(&lag(3.0)).then(&lag(1e7));
        let mut found: Vec<f64> = row.poles().iter().map(|p| -p.re).collect();
        found.sort_by(f64::total_cmp);
        for (found, corner) in found.iter().zip([1e-2, 3.0, 1e7]) {
            assert!((found / corner - 1.0).abs() < 1e-6, "{found} {corner}");
        }
    }
}
