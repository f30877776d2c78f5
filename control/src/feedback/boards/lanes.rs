//! Four loops side by side over a grid of frequencies.

use num_complex::Complex64;
use std::f64::consts::TAU;
use wide::f64x4;

use super::look::Look;
use super::sampler::Drawn;
use crate::feedback::trace::{SPUN, spin};
use crate::plant::Model;
use crate::response::Transfer;
use crate::stages;

pub(super) const LANES: usize = 4;

/// Programs, coefficients and the grid.
#[derive(Clone)]
pub(super) struct Lanes {
    places: Vec<Place>,
    stages: Vec<Stage>,
    registers: Vec<f64x4>,
    plants: Vec<ModeLanes>,
    /// Gain of the rigid part.
    rigid: f64x4,
}

/// One frequency: what is alike on all boards there, in every lane. Spreading a number over the lanes is a
/// loop when the code is built for size, so that is done once.
#[derive(Clone)]
struct Place {
    /// Hz
    frequency: f64,
    /// See [`Look::add`].
    is_spun: bool,
    /// rad/s
    omega: f64x4,
    square: f64x4,
    /// 1/sⁿ
    rigid: Pair,
    /// The summing point's sign, the plant's lag and its delay.
    rest: Pair,
    stages: Vec<Weight>,
}

/// A stage's scaled frequency x, −x², and a factor that keeps its polynomials near 1 however high the
/// frequency: (1 + x²)^(−degree/2), which numerator and denominator share.
#[derive(Clone, Copy)]
struct Weight {
    x: f64x4,
    u: f64x4,
    factor: f64x4,
}

#[derive(Clone)]
struct Stage {
    inputs: Vec<f64x4>,
    num: Vec<f64x4>,
    den: Vec<f64x4>,
    omega: f64,
}

#[derive(Clone, Copy)]
struct ModeLanes {
    residue: f64x4,
    slope: f64x4,
    /// ω², (rad/s)²
    square: f64x4,
    /// 2ζω, rad/s
    friction: f64x4,
}

impl Lanes {
    pub fn new(models: &[&stages::Model], plant: &Model, sign: f64, frequencies: &[f64]) -> Lanes {
        let zero = f64x4::splat(0.0);
        let stages = models.iter().map(|model| {
            let (num, den) = model.program.sizes();
            Stage {
                inputs: vec![zero; model.program.inputs()],
                num: vec![zero; num],
                den: vec![zero; den],
                omega: model.scale.omega,
            }
        });
        let pair = |z: Complex64| (f64x4::splat(z.re), f64x4::splat(z.im));
        let place = |(before, frequency): (&f64, &f64)| {
            let omega = TAU * frequency;
            let s = Complex64::new(0.0, omega);
            let rigid = plant.rigid.map_or(Complex64::ZERO, |r| r.shape(s));
            let lag = plant
                .lag
                .map_or(Complex64::ONE, |corner| 1.0 / (1.0 + s / (TAU * corner)));
            let stages = models.iter().map(|model| {
                let x = omega / model.scale.omega;
                let degree = model.program.degree() as f64;
                Weight {
                    x: f64x4::splat(x),
                    u: f64x4::splat(-x * x),
                    factor: f64x4::splat((1.0 + x * x).powf(-degree / 2.0)),
                }
            });
            Place {
                frequency: *frequency,
                is_spun: spin(plant.delay, *before, *frequency) > SPUN,
                omega: f64x4::splat(omega),
                square: f64x4::splat(omega * omega),
                rigid: pair(rigid),
                rest: pair(sign * lag * Complex64::cis(-omega * plant.delay)),
                stages: stages.collect(),
            }
        };
        let befores = frequencies.first().into_iter().chain(frequencies);
        Lanes {
            stages: stages.collect(),
            registers: Vec::new(),
            places: befores.zip(frequencies).map(place).collect(),
            plants: Vec::new(),
            rigid: zero,
        }
    }

    /// Takes four boards.
    pub fn set(&mut self, models: &[&stages::Model], drawn: &[Drawn; LANES]) {
        let mut first = 0;
        for (stage, model) in self.stages.iter_mut().zip(models) {
            for lanes in stage.inputs.iter_mut() {
                *lanes = f64x4::from([0, 1, 2, 3].map(|lane: usize| drawn[lane].parts[first]));
                first += 1;
            }
            let Stage {
                inputs, num, den, ..
            } = stage;
            model
                .program
                .run(inputs, model.scale, &mut self.registers, num, den);
        }
        let across = |of: &dyn Fn(&Model) -> f64| {
            f64x4::from([0, 1, 2, 3].map(|lane: usize| of(&drawn[lane].plant)))
        };
        self.rigid = across(&|plant| plant.rigid.map_or(0.0, |rigid| rigid.gain));
        let count = drawn[0].plant.modes.len();
        self.plants = (0..count)
            .map(|at| ModeLanes {
                residue: across(&|plant| plant.modes[at].residue),
                slope: across(&|plant| plant.modes[at].slope),
                square: across(&|plant| (TAU * plant.modes[at].frequency).powi(2)),
                friction: across(&|plant| {
                    2.0 * plant.modes[at].damping * TAU * plant.modes[at].frequency
                }),
            })
            .collect();
    }

    /// The path's transfer functions in one lane.
    pub fn transfers(&self, lane: usize) -> Vec<Transfer> {
        let pick = |values: &[f64x4]| values.iter().map(|v| v.as_array()[lane]).collect();
        let transfer = |stage: &Stage| Transfer {
            num: pick(&stage.num),
            den: pick(&stage.den),
            omega: stage.omega,
        };
        self.stages.iter().map(transfer).collect()
    }

    /// Runs over the grid with all four.
    pub fn look(&self) -> [Look; LANES] {
        let mut looks: [Look; LANES] = Default::default();
        for place in &self.places {
            let (re, im) = self.at(place);
            let (re, im) = (re.to_array(), im.to_array());
            for (lane, look) in looks.iter_mut().enumerate() {
                let open = Complex64::new(re[lane], im[lane]);
                look.add(place.frequency, open, place.is_spun);
            }
        }
        looks
    }

    /// L of all four at one frequency.
    fn at(&self, place: &Place) -> Pair {
        let mut sum = (self.rigid * place.rigid.0, self.rigid * place.rigid.1);
        for mode in &self.plants {
            let (a, b) = (mode.square - place.square, mode.friction * place.omega);
            let size = f64x4::ONE / (a * a + b * b);
            let (c, d) = (mode.residue, mode.slope * place.omega);
            sum.0 += (c * a + d * b) * size;
            sum.1 += (d * a - c * b) * size;
        }
        let mut top = times(sum, place.rest);
        let mut bottom = (f64x4::ONE, f64x4::ZERO);
        for (stage, weight) in self.stages.iter().zip(&place.stages) {
            top = times(top, on_axis(&stage.num, weight));
            bottom = times(bottom, on_axis(&stage.den, weight));
        }
        let size = f64x4::ONE / (bottom.0 * bottom.0 + bottom.1 * bottom.1);
        (
            (top.0 * bottom.0 + top.1 * bottom.1) * size,
            (top.1 * bottom.0 - top.0 * bottom.1) * size,
        )
    }
}

type Pair = (f64x4, f64x4);

fn times(a: Pair, b: Pair) -> Pair {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

/// Σ c[k]·(jx)^k, weighted.
fn on_axis(coefficients: &[f64x4], weight: &Weight) -> Pair {
    let (mut even, mut odd) = (f64x4::ZERO, f64x4::ZERO);
    for pair in coefficients.chunks(2).rev() {
        even = even * weight.u + pair[0];
        odd = odd * weight.u + pair.get(1).copied().unwrap_or(f64x4::ZERO);
    }
    (even * weight.factor, odd * weight.x * weight.factor)
}
