//! The straight program that a netlist becomes, and running it.

use std::ops::{Add, Mul, Neg, Sub};

use wide::f64x4;

use super::{Kind, Netlist};
use crate::response::Transfer;

/// A number, or several numbers side by side, that a program can run on.
pub trait Lane:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Neg<Output = Self>
{
    /// The same number in every place.
    fn splat(value: f64) -> Self;
    /// 1/x in every place.
    fn inverse(self) -> Self;
}

impl Lane for f64 {
    fn splat(value: f64) -> f64 {
        value
    }
    fn inverse(self) -> f64 {
        1.0 / self
    }
}

impl Lane for f64x4 {
    fn splat(value: f64) -> f64x4 {
        f64x4::splat(value)
    }
    fn inverse(self) -> f64x4 {
        f64x4::ONE / self
    }
}

/// What frequency and impedance are divided by before the arithmetic, so that coefficients stay near 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// rad/s
    pub omega: f64,
    /// Ω
    pub impedance: f64,
}

/// A place in the register file.
pub(super) type Register = u16;

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Op {
    Add,
    Sub,
    Mul,
}

/// `registers[its own place] = a op b`; its place is its position behind the inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Step {
    pub op: Op,
    pub a: Register,
    pub b: Register,
}

/// One coefficient of the answer: zero, or a register with a sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Coefficient {
    Zero,
    Register { place: Register, negative: bool },
}

/// How a part's numbers become register values.
#[derive(Clone, Copy, Debug)]
enum Load {
    /// A resistance becomes a conductance times the impedance scale.
    Conductance,
    /// A capacitance becomes a susceptance at the frequency scale times the impedance scale.
    Susceptance,
    /// 1/A0, as it is.
    InverseGain,
    /// 1/GBW becomes the term of 1/A(s) in scaled s.
    InverseBandwidth,
    /// An output resistance divided by the impedance scale.
    Impedance,
}

/// A netlist's transfer function as a straight program over registers: expanded once a topology,
/// run once a board. See [`Program::expand`].
#[derive(Clone, Debug)]
pub struct Program {
    loads: Vec<Load>,
    pub(super) steps: Vec<Step>,
    /// How many steps of the same kind follow each other: a machine guesses well what comes next.
    runs: Vec<(Op, usize)>,
    pub(super) num: Vec<Coefficient>,
    pub(super) den: Vec<Coefficient>,
}

/// The register that holds 1.
pub(super) const ONE: Register = 0;

/// Takes steps of the same kind, the first one into `own`.
fn take<L: Lane>(run: &[Step], own: usize, registers: &mut [L], of: impl Fn(L, L) -> L) {
    for (step, own) in run.iter().zip(own..) {
        registers[own] = of(registers[step.a as usize], registers[step.b as usize]);
    }
}

/// Brings steps of the same kind together, none before what it needs; the first is behind `inputs` registers. Tells
/// where each register has gone.
fn sort_by_kind(steps: &mut Vec<Step>, inputs: usize) -> Vec<Register> {
    let mut moved: Vec<Option<Register>> = (0..inputs + steps.len())
        .map(|place| (place < inputs).then_some(place as Register))
        .collect();
    let mut left: Vec<(usize, Step)> = (inputs..).zip(steps.drain(..)).collect();
    let kinds = [Op::Mul, Op::Add, Op::Sub];
    let mut kind = 0;
    while !left.is_empty() {
        left.retain(|(place, step)| {
            let [a, b] = [step.a, step.b].map(|place| moved[usize::from(place)]);
            let (true, Some(a), Some(b)) = (step.op == kinds[kind], a, b) else {
                return true;
            };
            moved[*place] = Some((inputs + steps.len()) as Register);
            steps.push(Step { op: step.op, a, b });
            false
        });
        kind = (kind + 1) % kinds.len();
    }
    let place = |(own, place): (usize, Option<Register>)| place.unwrap_or(own as Register);
    moved.into_iter().enumerate().map(place).collect()
}

impl Program {
    pub(super) fn new(
        netlist: &Netlist,
        mut steps: Vec<Step>,
        mut num: Vec<Coefficient>,
        mut den: Vec<Coefficient>,
    ) -> Program {
        let loads: Vec<Load> = netlist
            .parts()
            .iter()
            .flat_map(|part| match part.kind {
                Kind::Resistor { .. } => vec![Load::Conductance],
                Kind::Capacitor { .. } => vec![Load::Susceptance],
                Kind::OpAmp { .. } => {
                    vec![Load::InverseGain, Load::InverseBandwidth, Load::Impedance]
                }
            })
            .collect();
        let moved = sort_by_kind(&mut steps, 1 + loads.len());
        for coefficient in num.iter_mut().chain(&mut den) {
            if let Coefficient::Register { place, .. } = coefficient {
                *place = moved[usize::from(*place)];
            }
        }
        let mut runs: Vec<(Op, usize)> = Vec::new();
        for step in &steps {
            match runs.last_mut() {
                Some((op, count)) if *op == step.op => *count += 1,
                _ => runs.push((step.op, 1)),
            }
        }
        Program {
            loads,
            runs,
            steps,
            num,
            den,
        }
    }

    /// How many numbers [`Program::run`] takes: one for a resistor (Ω) or capacitor (F), three for an
    /// op amp (1/A0, 1/GBW in s, Ro in Ω), in the netlist's order.
    pub fn inputs(&self) -> usize {
        self.loads.len()
    }

    /// How many arithmetic steps a run takes.
    pub fn step_count(&self) -> usize {
        self.steps.len()
    }

    /// Highest power of s in the numerator or the denominator.
    pub fn degree(&self) -> usize {
        self.num.len().max(self.den.len()) - 1
    }

    /// Number of coefficients of (numerator, denominator).
    pub fn sizes(&self) -> (usize, usize) {
        (self.num.len(), self.den.len())
    }

    /// Runs the program: `num` and `den` receive the coefficients in rising powers of `s/scale.omega`.
    ///
    /// `registers` is scratch space, kept by the caller so that no run allocates.
    ///
    /// # Panics
    /// When `inputs`, `num` or `den` have another length than [`Program::inputs`] and
    /// [`Program::sizes`] say.
    pub fn run<L: Lane>(
        &self,
        inputs: &[L],
        scale: Scale,
        registers: &mut Vec<L>,
        num: &mut [L],
        den: &mut [L],
    ) {
        assert_eq!(inputs.len(), self.loads.len());
        let conductance = L::splat(scale.impedance);
        let susceptance = L::splat(scale.impedance * scale.omega);
        let bandwidth = L::splat(scale.omega / std::f64::consts::TAU);
        let impedance = L::splat(1.0 / scale.impedance);
        registers.resize(1 + inputs.len() + self.steps.len(), L::splat(0.0));
        let registers = registers.as_mut_slice();
        registers[usize::from(ONE)] = L::splat(1.0);
        for ((register, &x), load) in registers[1..].iter_mut().zip(inputs).zip(&self.loads) {
            *register = match load {
                Load::Conductance => conductance * x.inverse(),
                Load::Susceptance => susceptance * x,
                Load::InverseGain => x,
                Load::InverseBandwidth => bandwidth * x,
                Load::Impedance => impedance * x,
            };
        }
        let (mut own, mut steps) = (1 + inputs.len(), &self.steps[..]);
        for &(op, count) in &self.runs {
            let run;
            (run, steps) = steps.split_at(count);
            match op {
                Op::Add => take(run, own, registers, |a, b| a + b),
                Op::Sub => take(run, own, registers, |a, b| a - b),
                Op::Mul => take(run, own, registers, |a, b| a * b),
            }
            own += count;
        }
        let read = |coefficient: &Coefficient| match *coefficient {
            Coefficient::Zero => L::splat(0.0),
            Coefficient::Register { place, negative } => {
                let value = registers[place as usize];
                if negative { -value } else { value }
            }
        };
        assert_eq!((num.len(), den.len()), self.sizes());
        for (to, from) in num.iter_mut().zip(&self.num) {
            *to = read(from);
        }
        for (to, from) in den.iter_mut().zip(&self.den) {
            *to = read(from);
        }
    }

    /// The transfer function of one board.
    pub fn transfer(&self, inputs: &[f64], scale: Scale) -> Transfer {
        let mut transfer = Transfer::zero(scale.omega);
        self.transfer_into(inputs, scale, &mut Vec::new(), &mut transfer);
        transfer
    }

    /// [`Program::transfer`] into a transfer function that already has its space.
    pub fn transfer_into(
        &self,
        inputs: &[f64],
        scale: Scale,
        registers: &mut Vec<f64>,
        transfer: &mut Transfer,
    ) {
        transfer.omega = scale.omega;
        transfer.num.resize(self.num.len(), 0.0);
        transfer.den.resize(self.den.len(), 0.0);
        self.run(
            inputs,
            scale,
            registers,
            &mut transfer.num,
            &mut transfer.den,
        );
    }
}
