//! The level of impedance of a stage: what it costs in noise, current, capacitors and load.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::{NoisePowers, Setting, StageNoise, powers_of};
use crate::circuit::nodal::Nodal;
use crate::circuit::{Kind, Netlist};
use crate::response::log_grid;
use crate::stages::Model;

/// Frequencies at which currents are looked at.
const LOOKED_AT: usize = 24;

/// A stage at its own level of impedance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Level {
    /// The geometric mean of its resistors, Ω.
    pub impedance: f64,
    pub powers: NoisePowers,
    /// Its largest capacitor, F; none without one.
    pub capacitor: Option<f64>,
    /// The most that an op amp gives or takes with a sine of 1 V at the input, over the band, A peak; none without an op amp.
    pub current: Option<f64>,
    /// The least impedance that its input shows over the band, Ω; none where nothing hangs on its input.
    pub input: Option<f64>,
}

/// The same at another level, all parts scaled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelRow {
    pub impedance: f64,
    /// V rms.
    pub noise: f64,
    pub capacitor: Option<f64>,
    pub current: Option<f64>,
    pub input: Option<f64>,
}

impl Level {
    /// Of a set of parts whose noise is known; none without a resistor.
    pub fn of(
        model: &Model,
        values: &[f64],
        setting: &Setting,
        found: &StageNoise,
    ) -> Option<Level> {
        let parts = model.netlist.parts().iter().zip(values).zip(&model.bought);
        let capacitors = parts
            .filter(|((part, _), bought)| **bought && matches!(part.kind, Kind::Capacitor { .. }));
        let mut inputs = Vec::new();
        model.inputs(values, &mut inputs);
        let (mut current, mut drawn) = (0.0f64, 0.0f64);
        for f in log_grid(setting.band.0, setting.band.1, LOOKED_AT) {
            let omega = std::f64::consts::TAU * f;
            let answer = Nodal::at(&model.netlist, &inputs, omega)?.answer(0)?;
            let sizes = answer.currents.iter().map(|current| current.norm());
            current = sizes.fold(current, f64::max);
            drawn = drawn.max(input_current(
                &model.netlist,
                &inputs,
                omega,
                &answer.voltages,
            ));
        }
        Some(Level {
            impedance: impedance(model, values)?,
            powers: powers_of(found),
            capacitor: capacitors.map(|((_, value), _)| *value).reduce(f64::max),
            current: (model.op_amp_count() > 0).then_some(current),
            input: (drawn > 0.0).then(|| 1.0 / drawn),
        })
    }

    /// With all resistors scaled to an impedance (Ω) and all capacitors against them, the op amps as they are.
    pub fn at(&self, impedance: f64) -> LevelRow {
        let factor = impedance / self.impedance;
        LevelRow {
            impedance,
            noise: self.powers.rms_at(factor),
            capacitor: self.capacitor.map(|value| value / factor),
            current: self.current.map(|value| value / factor),
            input: self.input.map(|value| value * factor),
        }
    }
}

/// What flows into the circuit at its input, A.
fn input_current(netlist: &Netlist, inputs: &[f64], omega: f64, voltages: &[Complex64]) -> f64 {
    let source = netlist.inputs()[0];
    let mut first = 0;
    let mut sum = Complex64::new(0.0, 0.0);
    for part in netlist.parts() {
        let (a, b, admittance) = match part.kind {
            Kind::Resistor { a, b } => (a, b, Complex64::new(1.0 / inputs[first], 0.0)),
            Kind::Capacitor { a, b } => (a, b, Complex64::new(0.0, omega * inputs[first])),
            Kind::OpAmp { .. } => {
                first += part.kind.inputs();
                continue;
            }
        };
        first += part.kind.inputs();
        if a == source {
            sum += admittance * (voltages[a] - voltages[b]);
        } else if b == source {
            sum += admittance * (voltages[b] - voltages[a]);
        }
    }
    sum.norm()
}

/// The level of impedance of a set: the geometric mean of the resistors that are bought, Ω; none without one.
pub fn impedance(model: &Model, values: &[f64]) -> Option<f64> {
    let parts = model.netlist.parts().iter().zip(values).zip(&model.bought);
    let resistors =
        parts.filter(|((part, _), bought)| **bought && matches!(part.kind, Kind::Resistor { .. }));
    let logs: Vec<f64> = resistors.map(|((_, value), _)| value.ln()).collect();
    (!logs.is_empty()).then(|| (logs.iter().sum::<f64>() / logs.len() as f64).exp())
}
