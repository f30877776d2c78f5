//! Least squares by orthogonal columns.

use num_complex::Complex64;

/// What is left of a column, relative to its length, when it counts as a sum of those before it.
const DEPENDENT: f64 = 1e-12;

/// A tall matrix of real numbers, column after column.
#[derive(Clone, Debug)]
pub(super) struct Columns {
    rows: usize,
    values: Vec<f64>,
}

/// An upper triangle, kept as a square, row after row.
#[derive(Clone, Debug)]
pub(super) struct Triangle {
    size: usize,
    values: Vec<f64>,
}

impl Columns {
    pub fn new(rows: usize) -> Columns {
        Columns {
            rows,
            values: Vec::new(),
        }
    }

    pub fn count(&self) -> usize {
        self.values.len().checked_div(self.rows).unwrap_or(0)
    }

    pub fn push(&mut self, column: &[f64]) {
        debug_assert_eq!(column.len(), self.rows);
        self.values.extend_from_slice(column);
    }

    /// A column of complex numbers: a row for each real and one for each imaginary part.
    pub fn push_complex(&mut self, column: impl Iterator<Item = Complex64>) {
        self.values.extend(column.flat_map(|z| [z.re, z.im]));
        self.values
            .resize(self.values.len().next_multiple_of(self.rows.max(1)), 0.0);
    }

    pub fn set(&mut self, row: usize, column: usize, value: f64) {
        self.values[column * self.rows + row] = value;
    }

    pub fn column(&self, index: usize) -> &[f64] {
        &self.values[index * self.rows..(index + 1) * self.rows]
    }

    /// Makes the columns orthonormal in place and returns R with `before = after · R`, by modified
    /// Gram–Schmidt, which is as good as Householder's for least squares when the right side is the
    /// last column (Björck, "Numerical Methods for Least Squares Problems", 2.4; from memory).
    ///
    /// The last `plain` columns are made orthogonal to all before them, and neither scaled nor made
    /// orthogonal to each other. A column that is a sum of others becomes zero.
    pub fn orthogonalise(&mut self, plain: usize) -> Triangle {
        let size = self.count();
        let rows = self.rows;
        let mut r = Triangle::new(size);
        let lengths: Vec<f64> = (0..size).map(|j| norm(self.column(j))).collect();
        for j in 0..size.saturating_sub(plain) {
            let (head, tail) = self.values.split_at_mut((j + 1) * rows);
            let column = &mut head[j * rows..];
            let length = norm(column);
            if length <= DEPENDENT * lengths[j] || !length.is_finite() {
                column.fill(0.0);
                continue;
            }
            column.iter_mut().for_each(|x| *x /= length);
            r.set(j, j, length);
            for (k, other) in tail.chunks_exact_mut(rows).enumerate() {
                let share = dot(column, other);
                add(other, -share, column);
                r.set(j, j + 1 + k, share);
            }
        }
        r
    }
}

impl Triangle {
    fn new(size: usize) -> Triangle {
        Triangle {
            size,
            values: vec![0.0; size * size],
        }
    }

    pub fn at(&self, row: usize, column: usize) -> f64 {
        self.values[row * self.size + column]
    }

    fn set(&mut self, row: usize, column: usize, value: f64) {
        self.values[row * self.size + column] = value;
    }

    /// x of `R·x = right` for the first `right.len()` rows and columns; 0 for a dependent column.
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x = right.to_vec();
        for j in (0..x.len()).rev() {
            let pivot = self.at(j, j);
            x[j] = if pivot == 0.0 { 0.0 } else { x[j] / pivot };
            for i in 0..j {
                x[i] -= self.at(i, j) * x[j];
            }
        }
        x
    }

    /// The solution where column `column` was the right side.
    pub fn solution(&self, column: usize, unknowns: usize) -> Vec<f64> {
        let right: Vec<f64> = (0..unknowns).map(|row| self.at(row, column)).collect();
        self.solve(&right)
    }

    /// Diagonal of (RᵀR)⁻¹ for the first `size` columns: the unknowns' variances for a unit variance of
    /// each row. Infinite for a dependent column.
    pub fn variances(&self, size: usize) -> Vec<f64> {
        let mut sums = vec![0.0; size];
        for k in 0..size {
            let mut unit = vec![0.0; k + 1];
            unit[k] = 1.0;
            // A column of R⁻¹; rows of it, squared and added, are the diagonal.
            for (sum, x) in sums.iter_mut().zip(self.solve(&unit)) {
                *sum += x * x;
            }
        }
        for (k, sum) in sums.iter_mut().enumerate() {
            if self.at(k, k) == 0.0 {
                *sum = f64::INFINITY;
            }
        }
        sums
    }
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    // Four sums side by side: one long chain of additions would wait for each.
    let mut sums = [0.0; 4];
    let (a4, b4) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = a4
        .remainder()
        .iter()
        .zip(b4.remainder())
        .map(|(x, y)| x * y)
        .sum();
    for (x, y) in a4.zip(b4) {
        sums[0] += x[0] * y[0];
        sums[1] += x[1] * y[1];
        sums[2] += x[2] * y[2];
        sums[3] += x[3] * y[3];
    }
    sums[0] + sums[1] + (sums[2] + sums[3]) + rest
}

pub(super) fn norm(a: &[f64]) -> f64 {
    dot(a, a).sqrt()
}

/// `to += factor·from`
fn add(to: &mut [f64], factor: f64, from: &[f64]) {
    to.iter_mut().zip(from).for_each(|(x, y)| *x += factor * y);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_through_points() {
        let mut columns = Columns::new(4);
        columns.push(&[1.0, 1.0, 1.0, 1.0]);
        columns.push(&[0.0, 1.0, 2.0, 3.0]);
        columns.push(&[1.0, 3.0, 5.0, 7.5]);
        let r = columns.orthogonalise(1);
        let x = r.solution(2, 2);
        assert!((x[0] - 0.9).abs() < 1e-12 && (x[1] - 2.15).abs() < 1e-12);
        assert!((r.variances(2)[1] - 0.2).abs() < 1e-12); // 1/Σ(x − mean)²
    }

    #[test]
    fn a_column_twice_counts_once() {
        let mut columns = Columns::new(3);
        columns.push(&[1.0, 2.0, 3.0]);
        columns.push(&[2.0, 4.0, 6.0]);
        columns.push(&[1.0, 2.0, 3.0]);
        let r = columns.orthogonalise(1);
        assert_eq!(r.solution(2, 2), [1.0, 0.0]);
        assert!(r.variances(2)[1].is_infinite());
    }
}
