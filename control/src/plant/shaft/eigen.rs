//! Free vibrations of a system of masses and springs.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use crate::numerics::put_in_order;

/// `M·q″ + K·q = 0`, and how a shape is read off the coordinates q.
pub(super) struct System {
    springs: Vec<Spring>,
    pub mass: DMatrix<f64>,
    /// Coordinates that are held.
    pub held: Vec<usize>,
    /// Motions without a spring in them, orthogonal by the mass.
    pub rigid: Vec<DVector<f64>>,
    /// Square of a frequency below the first elastic one, (rad/s)², as well as it can be told.
    pub shift: f64,
    pub points: Vec<Place>,
}

/// A spring between coordinates: its energy is half of `stiffness` times the square of their sum.
struct Spring {
    stiffness: f64,
    /// Coordinate and weight; a rigid motion gives 0.
    sum: Vec<(usize, f64)>,
}

/// A place whose motion is a sum of coordinates.
pub(super) struct Place {
    pub position: f64,
    /// Coordinate and weight.
    pub sum: Vec<(usize, f64)>,
}

/// λ = ω² in (rad/s)² and the coordinates' motion, normalised by the mass: `qᵀ·M·q = 1`.
pub(super) type Eigen = (f64, DVector<f64>);

impl System {
    /// A system of so many coordinates without mass and springs.
    pub fn new(size: usize) -> System {
        System {
            springs: Vec::new(),
            mass: DMatrix::zeros(size, size),
            held: Vec::new(),
            rigid: Vec::new(),
            shift: 0.0,
            points: Vec::new(),
        }
    }

    /// Adds an element's masses at its coordinates.
    pub fn add_mass<const N: usize>(&mut self, at: [usize; N], mass: [[f64; N]; N]) {
        for (row, &i) in at.iter().enumerate() {
            for (column, &j) in at.iter().enumerate() {
                self.mass[(i, j)] += mass[row][column];
            }
        }
    }

    /// Adds a spring that feels the weighted sum of some coordinates.
    pub fn add_spring<const N: usize>(&mut self, stiffness: f64, sum: [(usize, f64); N]) {
        self.springs.push(Spring {
            stiffness,
            sum: sum.to_vec(),
        });
    }

    /// λ of a motion that is normalised by the mass, as Rayleigh's quotient.
    ///
    /// Summed spring by spring, so that a stiff spring that is hardly felt costs the others no digits.
    fn quotient(&self, q: &DVector<f64>) -> f64 {
        let energy = |spring: &Spring| spring.stiffness * along(&spring.sum, q).powi(2);
        self.springs.iter().map(energy).sum()
    }

    /// The rigid motions with λ = 0, and up to `count` elastic ones in ascending order; none where rounding
    /// has the better of it.
    ///
    /// Solved is `M·q = θ·(K + σ·M)·q` with θ = 1/(λ + σ): the lowest λ are the largest θ, which rounding leaves
    /// alone, while by the factor of M they would be the smallest of a wide spectrum. The factor R of
    /// `K + σ·M = Rᵀ·R` comes by QR from the roots of springs and masses, one below the other (Golub and Van
    /// Loan, "Matrix Computations", 5.3 and 8.7; from memory): where a thick part follows a thin one, half of
    /// all digits would be lost in the sum.
    pub fn solve(&self, count: usize) -> Option<Vec<Eigen>> {
        let mut found: Vec<Eigen> = self
            .rigid
            .iter()
            .map(|q| (0.0, self.normalised(q)))
            .collect();
        let moving: Vec<usize> = (0..self.mass.nrows())
            .filter(|c| !self.held.contains(c))
            .collect();
        if moving.len() <= self.rigid.len() {
            return Some(found);
        }
        let mut shift = self.shift;
        let mut elastic = self.above(&moving, shift, count)?;
        // A heavy part that hardly moves: the guess was far below the first λ.
        for _ in 0..3 {
            let first = elastic.first().map_or(shift, |eigen| eigen.0);
            if first < 1e4 * shift {
                break;
            }
            shift = first;
            elastic = self.above(&moving, shift, count)?;
        }
        found.extend(elastic);
        let sound = found
            .iter()
            .all(|(lambda, q)| *lambda >= 0.0 && q.iter().all(|x| x.is_finite()));
        sound.then_some(found)
    }

    /// The elastic motions, by one shift σ.
    fn above(&self, moving: &[usize], shift: f64, count: usize) -> Option<Vec<Eigen>> {
        let size = moving.len();
        let mass = self.mass.select_rows(moving).select_columns(moving);
        let root = mass.cholesky()?.l();
        let mut roots = DMatrix::zeros(self.springs.len() + size, size);
        for (row, spring) in self.springs.iter().enumerate() {
            for (coordinate, weight) in &spring.sum {
                if let Ok(column) = moving.binary_search(coordinate) {
                    roots[(row, column)] += spring.stiffness.sqrt() * weight;
                }
            }
        }
        roots
            .rows_mut(self.springs.len(), size)
            .copy_from(&(root.transpose() * shift.sqrt()));
        let factor = roots.qr().r();
        let half = factor.tr_solve_upper_triangular(&root)?;
        let reduced = &half * half.transpose();
        if !reduced.iter().all(|x| x.is_finite()) {
            return None;
        }
        let eigen = SymmetricEigen::try_new(reduced, f64::EPSILON, 100_000)?;
        let mut order: Vec<usize> = (0..size).collect();
        put_in_order(&mut order, |&a, &b| {
            eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a])
        });
        let motions = order
            .iter()
            .skip(self.rigid.len())
            .take(count)
            .map(|&index| {
                let inner = factor.solve_upper_triangular(&eigen.eigenvectors.column(index))?;
                let mut q = DVector::zeros(self.mass.nrows());
                for (&coordinate, value) in moving.iter().zip(inner.iter()) {
                    q[coordinate] = *value;
                }
                let q = self.normalised(&q);
                Some((self.quotient(&q), q))
            });
        let mut motions: Vec<Eigen> = motions.collect::<Option<_>>()?;
        put_in_order(&mut motions, |a, b| a.0.total_cmp(&b.0));
        Some(motions)
    }

    fn normalised(&self, q: &DVector<f64>) -> DVector<f64> {
        q / (&self.mass * q).dot(q).sqrt()
    }

    /// Position and amplitude along the system.
    pub fn shape(&self, q: &DVector<f64>) -> Vec<(f64, f64)> {
        let points = self.points.iter();
        points
            .map(|place| (place.position, along(&place.sum, q)))
            .collect()
    }
}

fn along(sum: &[(usize, f64)], q: &DVector<f64>) -> f64 {
    sum.iter().map(|&(at, weight)| weight * q[at]).sum()
}
