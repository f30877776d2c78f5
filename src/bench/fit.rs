//! The most probable values of all parts under one cause.
//!
//! Residuals are of the responses themselves, each over its point's standard deviation: they are straight in the parts
//! where a logarithm has a null. Each part is told by a normal number from which its own law makes its value, so that all
//! unknowns count alike and no value is beyond its law; Levenberg–Marquardt (K. Madsen, H. B. Nielsen, O. Tingleff,
//! "Methods for Non-Linear Least Squares Problems", 2004; from memory).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::cause::Idea;
use super::data::Data;
use super::predict::{CALIBRATION, Curves, Predictor, Unknowns};
use super::prior::NumberLaw;
use super::setting::Setting;
use crate::numerics::{dot, products};

/// Standard deviation of an unknown that nothing is known of, as a logarithm.
pub(super) const BROAD: f64 = 0.4;
/// The same of what an open or bridged part has left.
const REMAINDER: f64 = 3.0;
/// Standard deviation of the measurement's gain where it was not calibrated.
const UNCALIBRATED: f64 = 0.15;
/// A step of a logarithm is no longer than this, in standard deviations where they are larger than [`BROAD`].
const LONGEST: f64 = 0.7;
/// A step of a normal number is no longer than this.
const FARTHEST: f64 = 2.0;
/// What improves the cost by less is done.
const DONE: f64 = 1e-3;
/// More than this damping is a dead end.
const STUCK: f64 = 1e8;

/// The unknowns, the laws of a board's numbers, and what was measured.
pub(super) type Known<'a> = (&'a Unknowns, &'a [NumberLaw], &'a Data);

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
    /// Whether the measurement's gain is not calibrated.
    pub is_loose: bool,
    /// Normal numbers: one an unknown, then one for each common deviation.
    pub z: DVector<f64>,
    /// The unknowns that they make.
    pub x: DVector<f64>,
    pub numbers: Vec<f64>,
    pub curves: Curves,
    /// Sum of squares of the residuals.
    pub square: f64,
    /// Normal matrix and gradient of the residuals, of the unknowns.
    pub normal: DMatrix<f64>,
    pub gradient: DVector<f64>,
    /// How the unknowns change with the normal numbers.
    slopes: DMatrix<f64>,
    damping: f64,
    /// Whether the normal matrix is that of where it stands.
    is_fresh: bool,
    pub is_done: bool,
}

impl Fit {
    pub fn new(
        setting: &Setting,
        unknowns: &Unknowns,
        (idea, chance): (Idea, f64),
        is_loose: bool,
    ) -> Fit {
        let mut base = setting.nominal();
        idea.put_in(setting, &mut base);
        let broad = match idea {
            Idea::Off(number) => unknowns.of_number(number),
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
            is_loose,
            z: DVector::zeros(count + unknowns.commons),
            x: DVector::zeros(count),
            numbers: Vec::new(),
            curves: Curves::default(),
            square: f64::INFINITY,
            normal: DMatrix::zeros(count, count),
            gradient: DVector::zeros(count),
            slopes: DMatrix::zeros(0, 0),
            damping: 1e-3,
            is_fresh: false,
            is_done: false,
        }
    }

    /// The unknown whose own law does not hold.
    pub fn lawless(&self) -> Option<usize> {
        self.broad.or(self.remainder)
    }

    /// The unknowns that normal numbers make.
    pub fn unknowns_of(&self, unknowns: &Unknowns, laws: &[NumberLaw], z: &[f64]) -> DVector<f64> {
        let count = unknowns.count();
        let mut x = DVector::zeros(count);
        for k in 0..count {
            x[k] = self.own_of(unknowns, laws, k, z[k]).0;
            if let Some((common, sd)) = self.shared(unknowns, k) {
                x[k] += sd * z[count + common];
            }
        }
        x
    }

    fn shared(&self, unknowns: &Unknowns, k: usize) -> Option<(usize, f64)> {
        unknowns.shared[k].filter(|_| self.lawless() != Some(k))
    }

    fn own_of(&self, unknowns: &Unknowns, laws: &[NumberLaw], k: usize, z: f64) -> (f64, f64) {
        let straight = |sd: f64| (sd * z, sd);
        if self.broad == Some(k) {
            return straight(BROAD);
        }
        if self.remainder == Some(k) {
            return straight(REMAINDER);
        }
        match unknowns.numbers.get(k) {
            Some(&number) if laws[number].deviation() > 0.0 => laws[number].own_of(z),
            None if k == unknowns.gain() => straight(match self.is_loose {
                true => UNCALIBRATED,
                false => CALIBRATION,
            }),
            _ => straight(unknowns.own[k]),
        }
    }

    fn slopes_at(&self, unknowns: &Unknowns, laws: &[NumberLaw]) -> DMatrix<f64> {
        let count = unknowns.count();
        let mut slopes = DMatrix::zeros(count, count + unknowns.commons);
        for k in 0..count {
            slopes[(k, k)] = self.own_of(unknowns, laws, k, self.z[k]).1;
            if let Some((common, sd)) = self.shared(unknowns, k) {
                slopes[(k, count + common)] = sd;
            }
        }
        slopes
    }

    /// What is to be made small: twice the negative logarithm of the likelihood and the laws.
    pub fn cost(&self) -> f64 {
        self.square + self.z.norm_squared()
    }

    /// Begins anew where it stands, with its next step, after the noise was told anew.
    pub fn begin_anew(&mut self) {
        self.numbers.clear();
        self.is_done = false;
    }

    /// The same with a calibrated gain, from the same values on; by `odds` likelier beforehand.
    pub fn calibrated(&self, unknowns: &Unknowns, odds: f64) -> Fit {
        let mut tight = self.clone();
        tight.is_loose = false;
        tight.chance *= odds;
        tight.z[unknowns.gain()] = 0.0;
        tight.x[unknowns.gain()] = 0.0;
        tight.begin_anew();
        tight
    }

    /// Looks at where it stands.
    fn refresh(
        &mut self,
        setting: &Setting,
        known: Known,
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
        known: Known,
        sharpness: &[f64],
        predictor: &mut Predictor,
        x: &DVector<f64>,
    ) -> (Vec<f64>, Curves, f64) {
        let (unknowns, _, data) = known;
        let mut numbers = Vec::new();
        unknowns.board(&self.base, x.as_slice(), &mut numbers);
        let mut curves = Curves::default();
        let of = (&numbers[..], x.as_slice(), self.idea.sign());
        predictor.curves(setting, (unknowns, data), of, &mut curves);
        let square = square(data, sharpness, &curves);
        (numbers, curves, square)
    }

    /// One step.
    pub fn step(
        &mut self,
        setting: &Setting,
        known: Known,
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
        let normal = self.of_normal_numbers();
        let mut damped = normal.clone();
        for k in 0..damped.nrows() {
            damped[(k, k)] += 1.0 + self.damping * (1.0 + normal[(k, k)]);
        }
        let Some(factors) = Cholesky::new(damped) else {
            self.is_done = true;
            return;
        };
        let downhill = self.slopes.tr_mul(&self.gradient) + &self.z;
        let mut step = factors.solve(&-downhill);
        // A part that hardly moves the value at its law's edge goes no further than the law's own width at once.
        let mut far = step.amax() / FARTHEST;
        let mut moved = &self.slopes * &step;
        if let Some(k) = self.remainder {
            moved[k] *= BROAD / REMAINDER;
        }
        far = far.max(moved.amax() / LONGEST);
        if far > 1.0 {
            step /= far;
        }
        let z = &self.z + &step;
        let (unknowns, laws, _) = known;
        let x = self.unknowns_of(unknowns, laws, z.as_slice());
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
        known: Known,
        sharpness: &[f64],
        predictor: &mut Predictor,
    ) {
        let (unknowns, laws, data) = known;
        let of = (&self.numbers[..], self.x.as_slice(), self.idea.sign());
        let mut columns = Vec::new();
        predictor.derivatives(setting, (unknowns, data), of, &self.curves, &mut columns);
        let residual = residual(data, sharpness, &self.curves);
        let rows: Vec<Vec<f64>> = columns
            .iter()
            .map(|column| weighted(data, sharpness, &self.curves, column))
            .collect();
        let count = unknowns.count();
        let mut normal = DMatrix::zeros(count, count);
        let mut gradient = DVector::zeros(count);
        let mut below = products(&rows).into_iter();
        for i in 0..count {
            gradient[i] = dot(&rows[i], &residual);
            for j in 0..=i {
                let product = below.next().unwrap_or(0.0);
                normal[(i, j)] = product;
                normal[(j, i)] = product;
            }
        }
        self.normal = normal;
        self.gradient = gradient;
        self.slopes = self.slopes_at(unknowns, laws);
        self.is_fresh = true;
    }

    /// The normal matrix of the normal numbers.
    fn of_normal_numbers(&self) -> DMatrix<f64> {
        if self.slopes.ncols() > self.slopes.nrows() {
            return self.slopes.tr_mul(&self.normal) * &self.slopes;
        }
        // Nothing is shared: the slopes are a diagonal.
        let own = self.slopes.diagonal();
        self.normal
            .map_with_location(|i, j, value| value * own[i] * own[j])
    }

    /// The normal law about the most probable normal numbers.
    pub fn posterior(&self) -> Option<Posterior<'_>> {
        let mut inverse = self.of_normal_numbers();
        for k in 0..inverse.nrows() {
            inverse[(k, k)] += 1.0;
        }
        Some(Posterior {
            fit: self,
            factors: Cholesky::new(inverse)?,
        })
    }

    /// The sum of squares with other unknowns, by straight lines from where the fit stands.
    pub fn square_at(&self, x: &DVector<f64>) -> f64 {
        let off = x - &self.x;
        let more = 2.0 * self.gradient.dot(&off) + off.dot(&(&self.normal * &off));
        (self.square + more).max(0.0)
    }
}

/// The normal law about a fit's values.
pub(super) struct Posterior<'a> {
    fit: &'a Fit,
    factors: Cholesky<f64, Dyn>,
}

impl Posterior<'_> {
    /// Half the logarithm of the inverse covariance's determinant.
    pub fn half_ln_determinant(&self) -> f64 {
        let diagonal = self.factors.l_dirty().diagonal();
        diagonal.iter().map(|d| d.ln()).sum()
    }

    /// The fit's normal numbers and others beside them, from as many independent ones.
    pub fn draw(&self, white: &DVector<f64>) -> DVector<f64> {
        let off = self.factors.l_dirty().tr_solve_lower_triangular(white);
        match off {
            Some(off) => &self.fit.z + off,
            None => self.fit.z.clone(),
        }
    }

    /// How many unknowns the data determine.
    pub fn determined(&self) -> f64 {
        self.fit.z.len() as f64 - self.factors.inverse().trace()
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
