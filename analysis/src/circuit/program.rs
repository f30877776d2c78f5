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
    pub(super) num: Vec<Coefficient>,
    pub(super) den: Vec<Coefficient>,
}

/// The register that holds 1.
pub(super) const ONE: Register = 0;

impl Program {
    pub(super) fn new(
        netlist: &Netlist,
        steps: Vec<Step>,
        num: Vec<Coefficient>,
        den: Vec<Coefficient>,
    ) -> Program {
        let loads = netlist
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
        Program {
            loads,
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
        for (step, own) in self.steps.iter().zip(1 + inputs.len()..) {
            let (a, b) = (registers[step.a as usize], registers[step.b as usize]);
            registers[own] = match step.op {
                Op::Add => a + b,
                Op::Sub => a - b,
                Op::Mul => a * b,
            };
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
