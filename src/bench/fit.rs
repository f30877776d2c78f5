//! The most probable values of all parts under one cause.
//!
//! Residuals are of the responses themselves, each over its point's standard deviation: they are straight in the parts
//! where a logarithm has a null. The laws of the parts are a normal law that is made white, so that all unknowns count
//! alike; Levenberg–Marquardt (K. Madsen, H. B. Nielsen, O. Tingleff, "Methods for Non-Linear Least Squares Problems",
//! 2004).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::cause::Idea;
use super::data::Data;
use super::predict::{Curves, Predictor, Unknowns};
use super::setting::Setting;

/// Standard deviation of an unknown that nothing is known of, as a logarithm.
pub(super) const BROAD: f64 = 0.4;
/// The same of what an open or bridged part has left.
pub(super) const REMAINDER: f64 = 3.0;
/// A step of a logarithm is no longer than this, in standard deviations where they are larger than [`BROAD`].
const LONGEST: f64 = 0.7;
/// What improves the cost by less is done.
const DONE: f64 = 1e-3;
/// More than this damping is a dead end.
const STUCK: f64 = 1e8;

/// One cause with its most probable values, as far as they are found.
#[derive(Clone)]
pub(super) struct Fit {
    pub idea: Idea,
    /// Chance beforehand.
    pub chance: f64,
    /// The board as marked, with the mistake made.
    pub base: Vec<f64>,
    /// Which unknown nothing is known of.
    pub broad: Option<usize>,
    /// Which unknown is what an open or bridged part has left.
    remainder: Option<usize>,
    /// What makes the laws white: unknowns are this times white numbers.
    colour: DMatrix<f64>,
    z: DVector<f64>,
    pub x: DVector<f64>,
    pub numbers: Vec<f64>,
    pub curves: Curves,
    /// Sum of squares of the residuals.
    pub square: f64,
    /// Normal matrix of the residuals, of white unknowns.
    normal: DMatrix<f64>,
    gradient: DVector<f64>,
    damping: f64,
    /// Whether the normal matrix is that of where it stands.
    is_fresh: bool,
    pub is_done: bool,
}

impl Fit {
    pub fn new(setting: &Setting, unknowns: &Unknowns, (idea, chance): (Idea, f64)) -> Fit {
        let mut base = setting.nominal();
        idea.put_in(setting, &mut base);
        let broad = match idea {
            Idea::Off(number) => unknowns.of_number(number),
            Idea::MeasuredGain => Some(unknowns.gain()),
            Idea::Behind(k) => Some(unknowns.gain() + 1 + k),
            _ => None,
        };
        let remainder = match idea {
            Idea::Open(number) | Idea::Shorted(number) => unknowns.of_number(number),
            _ => None,
        };
        let count = unknowns.count();
        Fit {
            idea,
            chance,
            base,
            broad,
            remainder,
            colour: colour(
                unknowns,
                broad
                    .map(|k| (k, BROAD))
                    .or(remainder.map(|k| (k, REMAINDER))),
            ),
            z: DVector::zeros(count),
            x: DVector::zeros(count),
            numbers: Vec::new(),
            curves: Curves::default(),
            square: f64::INFINITY,
            normal: DMatrix::zeros(count, count),
            gradient: DVector::zeros(count),
            damping: 1e-3,
            is_fresh: false,
            is_done: false,
        }
    }

    /// The unknown whose own law does not hold.
    pub fn lawless(&self) -> Option<usize> {
        self.broad.or(self.remainder)
    }

    /// What is to be made small: twice the negative logarithm of the likelihood and the laws.
    pub fn cost(&self) -> f64 {
        self.square + self.z.norm_squared()
    }

    /// How improbable the parts are that it takes.
    pub fn strain(&self) -> f64 {
        self.z.norm_squared()
    }

    /// Begins anew where it stands, after the noise was told anew.
    pub fn refresh(
        &mut self,
        setting: &Setting,
        known: (&Unknowns, &Data),
        sharpness: &[f64],
        predictor: &mut Predictor,
    ) {
        let (numbers, curves, square) = self.look(setting, known, sharpness, predictor, &self.x);
        self.numbers = numbers;
        self.curves = curves;
        self.square = square;
        self.is_fresh = false;
        self.is_done = false;
        self.damping = 1e-3;
    }

    fn look(
        &self,
        setting: &Setting,
        known: (&Unknowns, &Data),
        sharpness: &[f64],
        predictor: &mut Predictor,
        x: &DVector<f64>,
    ) -> (Vec<f64>, Curves, f64) {
        let (unknowns, data) = known;
        let mut numbers = Vec::new();
        unknowns.board(&self.base, x.as_slice(), &mut numbers);
        let mut curves = Curves::default();
        let of = (&numbers[..], x.as_slice(), self.idea.sign());
        predictor.curves(setting, known, of, &mut curves);
        let square = square(data, sharpness, &curves);
        (numbers, curves, square)
    }

    /// One step.
    pub fn step(
        &mut self,
        setting: &Setting,
        known: (&Unknowns, &Data),
        sharpness: &[f64],
        predictor: &mut Predictor,
    ) {
        if self.numbers.is_empty() {
            self.refresh(setting, known, sharpness, predictor);
        }
        if !self.cost().is_finite() {
            self.is_done = true;
            return;
        }
        if !self.is_fresh {
            self.linearise(setting, known, sharpness, predictor);
        }
        let before = self.cost();
        let mut damped = self.normal.clone();
        for k in 0..damped.nrows() {
            damped[(k, k)] += 1.0 + self.damping * (1.0 + self.normal[(k, k)]);
        }
        let Some(factors) = Cholesky::new(damped) else {
            self.is_done = true;
            return;
        };
        let mut step = factors.solve(&-(&self.gradient + &self.z));
        let mut coloured = &self.colour * &step;
        if let Some(k) = self.remainder {
            coloured[k] *= BROAD / REMAINDER;
        }
        let longest = coloured.amax();
        if longest > LONGEST {
            step *= LONGEST / longest;
        }
        let z = &self.z + &step;
        let x = &self.colour * &z;
        let (numbers, curves, square) = self.look(setting, known, sharpness, predictor, &x);
        let cost = square + z.norm_squared();
        if cost < before {
            (self.z, self.x, self.numbers) = (z, x, numbers);
            (self.curves, self.square) = (curves, square);
            self.damping = (self.damping * 0.1).max(1e-9);
            self.is_fresh = false;
            self.is_done = before - cost < DONE;
        } else {
            self.damping = (self.damping * 10.0).max(1e-3);
            self.is_done = self.damping > STUCK || step.norm_squared() < 1e-10;
        }
    }

    /// The normal matrix where it stands.
    pub fn linearise(
        &mut self,
        setting: &Setting,
        known: (&Unknowns, &Data),
        sharpness: &[f64],
        predictor: &mut Predictor,
    ) {
        let (unknowns, data) = known;
        let of = (&self.numbers[..], self.x.as_slice(), self.idea.sign());
        let mut columns = Vec::new();
        predictor.derivatives(setting, known, of, &self.curves, &mut columns);
        let residual = residual(data, sharpness, &self.curves);
        let rows: Vec<Vec<f64>> = columns
            .iter()
            .map(|column| weighted(data, sharpness, &self.curves, column))
            .collect();
        let count = unknowns.count();
        let mut normal = DMatrix::zeros(count, count);
        let mut gradient = DVector::zeros(count);
        for i in 0..count {
            gradient[i] = dot(&rows[i], &residual);
            for j in 0..=i {
                let product = dot(&rows[i], &rows[j]);
                normal[(i, j)] = product;
                normal[(j, i)] = product;
            }
        }
        self.normal = self.colour.tr_mul(&normal) * &self.colour;
        self.gradient = self.colour.tr_mul(&gradient);
        self.is_fresh = true;
    }

    /// Factors of the posterior's inverse covariance, of white unknowns.
    pub fn posterior(&self) -> Option<Posterior<'_>> {
        let mut inverse = self.normal.clone();
        for k in 0..inverse.nrows() {
            inverse[(k, k)] += 1.0;
        }
        Some(Posterior {
            fit: self,
            factors: Cholesky::new(inverse)?,
        })
    }

    /// The normal matrix of the residuals, of white unknowns, and what colours them.
    pub fn information(&self) -> (&DMatrix<f64>, &DMatrix<f64>) {
        (&self.normal, &self.colour)
    }
}

/// The normal law about a fit's values.
pub(super) struct Posterior<'a> {
    fit: &'a Fit,
    factors: Cholesky<f64, Dyn>,
}

impl Posterior<'_> {
    /// Half the logarithm of the inverse covariance's determinant, of white unknowns.
    pub fn half_ln_determinant(&self) -> f64 {
        let diagonal = self.factors.l_dirty().diagonal();
        diagonal.iter().map(|d| d.ln()).sum()
    }

    /// Unknowns, from as many independent normal numbers.
    pub fn draw(&self, normals: &[f64]) -> DVector<f64> {
        let white = DVector::from_column_slice(normals);
        let z = self.factors.l().tr_solve_lower_triangular(&white);
        let off = z.unwrap_or(white);
        &self.fit.x + &self.fit.colour * off
    }

    /// Standard deviations of the unknowns.
    pub fn deviations(&self) -> Vec<f64> {
        let covariance = self.factors.inverse();
        let coloured = &self.fit.colour * covariance * self.fit.colour.transpose();
        coloured
            .diagonal()
            .iter()
            .map(|v| v.max(0.0).sqrt())
            .collect()
    }

    /// How many unknowns the data determine.
    pub fn determined(&self) -> f64 {
        let count = self.fit.x.len() as f64;
        count - self.factors.inverse().trace()
    }
}

/// Covariance of the unknowns beforehand, as its Cholesky factor.
fn colour(unknowns: &Unknowns, loose: Option<(usize, f64)>) -> DMatrix<f64> {
    let broad = loose.map(|(k, _)| k);
    let count = unknowns.count();
    let mut covariance = DMatrix::zeros(count, count);
    let shared = |k: usize| unknowns.shared[k].filter(|_| broad != Some(k));
    for i in 0..count {
        for j in 0..count {
            if let (Some((a, with)), Some((b, and))) = (shared(i), shared(j))
                && a == b
            {
                covariance[(i, j)] = with * and;
            }
        }
        let own = match loose {
            Some((k, sd)) if k == i => sd,
            _ => unknowns.own[i],
        };
        // A deviation that is shared in full leaves nothing of its own; a hair keeps the matrix regular.
        covariance[(i, i)] += own * own + 1e-6 * covariance[(i, i)] + 1e-14;
    }
    match Cholesky::new(covariance) {
        Some(factors) => factors.l(),
        None => DMatrix::from_diagonal(&DVector::from_column_slice(&unknowns.own)),
    }
}

/// Residuals, each over its point's standard deviation.
fn residual(data: &Data, sharpness: &[f64], curves: &Curves) -> Vec<f64> {
    let points = curves.total.iter().zip(&data.measured).zip(sharpness);
    if data.has_phase {
        let both = points.map(|((model, measured), sharp)| (model - measured) * *sharp);
        both.flat_map(|off| [off.re, off.im]).collect()
    } else {
        points
            .map(|((model, measured), sharp)| (model.norm() - measured.norm()) * sharp)
            .collect()
    }
}

/// Sum of squares of the residuals.
pub(super) fn square(data: &Data, sharpness: &[f64], curves: &Curves) -> f64 {
    residual(data, sharpness, curves)
        .iter()
        .map(|r| r * r)
        .sum()
}

/// A derivative of the curve as one of the residuals.
fn weighted(
    data: &Data,
    sharpness: &[f64],
    curves: &Curves,
    column: &[num_complex::Complex64],
) -> Vec<f64> {
    if data.has_phase {
        let both = column.iter().zip(sharpness).map(|(d, sharp)| d * *sharp);
        both.flat_map(|d| [d.re, d.im]).collect()
    } else {
        let all = column.iter().zip(&curves.total).zip(sharpness);
        all.map(|((d, total), sharp)| {
            let size = total.norm();
            let along = (d * total.conj()).re;
            if size > 0.0 {
                sharp * along / size
            } else {
                0.0
            }
        })
        .collect()
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
