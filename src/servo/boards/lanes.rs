//! Four loops side by side over a grid of frequencies.

use num_complex::Complex64;
use std::f64::consts::TAU;
use wide::f64x4;

use super::Drawn;
use super::look::Look;
use crate::response::Transfer;
use crate::servo::Model;
use crate::stages;

pub(super) const LANES: usize = 4;

/// Programs, coefficients and the grid.
pub(super) struct Lanes {
    frequencies: Vec<f64>,
    stages: Vec<Stage>,
    registers: Vec<f64x4>,
    /// 1/s^n and the lag and delay of the plant at each frequency, which are alike on all boards.
    fixed: Vec<(Complex64, Complex64)>,
    plants: Vec<ModeLanes>,
    /// Gain of the rigid part.
    rigid: f64x4,
    sign: f64,
}

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
    pub fn new(models: &[&stages::Model], plant: &Model, frequencies: Vec<f64>) -> Lanes {
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
        let fixed = |f: &f64| {
            let s = Complex64::new(0.0, TAU * f);
            let rigid = plant
                .rigid
                .map_or(Complex64::ZERO, |r| 1.0 / s.powu(r.integrators));
            let lag = plant
                .lag
                .map_or(Complex64::ONE, |corner| 1.0 / (1.0 + s / (TAU * corner)));
            (rigid, lag * Complex64::cis(-TAU * f * plant.delay))
        };
        Lanes {
            stages: stages.collect(),
            registers: Vec::new(),
            fixed: frequencies.iter().map(fixed).collect(),
            plants: Vec::new(),
            rigid: zero,
            sign: 1.0,
            frequencies,
        }
    }

    /// Takes four boards.
    pub fn set(&mut self, models: &[&stages::Model], drawn: &[Drawn; LANES], sign: f64) {
        self.sign = sign;
        let mut first = 0;
        let mut inputs: [Vec<f64>; LANES] = Default::default();
        for (stage, model) in self.stages.iter_mut().zip(models) {
            let count = model.netlist.parts().len();
            for (board, inputs) in drawn.iter().zip(&mut inputs) {
                model.inputs(&board.parts[first..first + count], inputs);
            }
            first += count;
            for (at, lanes) in stage.inputs.iter_mut().enumerate() {
                *lanes = f64x4::from([0, 1, 2, 3].map(|lane: usize| inputs[lane][at]));
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
        for (frequency, fixed) in self.frequencies.iter().zip(&self.fixed) {
            let (re, im) = self.at(*frequency, *fixed);
            let (re, im) = (re.to_array(), im.to_array());
            for (lane, look) in looks.iter_mut().enumerate() {
                look.add(*frequency, Complex64::new(re[lane], im[lane]));
            }
        }
        looks
    }

    /// L of all four at one frequency.
    fn at(&self, frequency: f64, (rigid, rest): (Complex64, Complex64)) -> (f64x4, f64x4) {
        let omega = TAU * frequency;
        let mut sum = (self.rigid * rigid.re, self.rigid * rigid.im);
        for mode in &self.plants {
            let (a, b) = (mode.square - omega * omega, mode.friction * omega);
            let size = (a * a + b * b).recip_exact();
            let (c, d) = (mode.residue, mode.slope * omega);
            sum.0 += (c * a + d * b) * size;
            sum.1 += (d * a - c * b) * size;
        }
        let rest = rest * self.sign;
        let mut top = (
            sum.0 * rest.re - sum.1 * rest.im,
            sum.0 * rest.im + sum.1 * rest.re,
        );
        let mut bottom = (f64x4::ONE, f64x4::splat(0.0));
        for stage in &self.stages {
            let x = omega / stage.omega;
            top = times(top, on_axis(&stage.num, x));
            bottom = times(bottom, on_axis(&stage.den, x));
        }
        let size = (bottom.0 * bottom.0 + bottom.1 * bottom.1).recip_exact();
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

/// Σ c[k]·(jx)^k
fn on_axis(coefficients: &[f64x4], x: f64) -> Pair {
    let u = -x * x;
    let (mut even, mut odd) = (f64x4::splat(0.0), f64x4::splat(0.0));
    for pair in coefficients.chunks(2).rev() {
        even = even * u + pair[0];
        odd = match pair.get(1) {
            Some(c) => odd * u + *c,
            None => odd * u,
        };
    }
    (even, odd * x)
}

/// 1/x to the last bit.
trait Recip {
    fn recip_exact(self) -> Self;
}

impl Recip for f64x4 {
    fn recip_exact(self) -> f64x4 {
        f64x4::ONE / self
    }
}
