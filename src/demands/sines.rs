//! The largest sine at each frequency, through the path.

use std::ops::Range;

use num_complex::Complex64;

use super::When;
use super::stage::{DrivenStage, Reached};
use crate::circuit::Equations;
use crate::response::Transfer;

/// Points of a decade.
const PER_DECADE: f64 = 40.0;
/// Beside a resonance, in halves of its width.
const BESIDE: [f64; 5] = [-2.0, -1.0, 0.0, 1.0, 2.0];

/// The frequencies (Hz, rising) at which levels are looked at: evenly over a span, and closely wherever one of these
/// responses has a resonance.
pub fn frequencies<'a>(
    (from, to): (f64, f64),
    responses: impl Iterator<Item = &'a Transfer>,
) -> Vec<f64> {
    let count = ((to / from).log10() * PER_DECADE).ceil().max(1.0) as usize;
    let even = (0..=count).map(|k| from * (to / from).powf(k as f64 / count as f64));
    let mut all: Vec<f64> = even.collect();
    for pole in responses.flat_map(Transfer::poles) {
        let [centre, half] = [pole.norm(), pole.re.abs()].map(|w| w / std::f64::consts::TAU);
        let near = BESIDE.map(|by| centre + by * half);
        all.extend(near.iter().filter(|f| **f > from && **f < to));
    }
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// Sines that go from stage to stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Sines {
    /// Hz.
    frequencies: Vec<f64>,
    /// Of what drives the stage that is at the turn, V.
    amplitudes: Vec<f64>,
}

impl Sines {
    /// At a path's input: amplitudes (V) at frequencies (Hz).
    pub fn new(frequencies: Vec<f64>, amplitudes: Vec<f64>) -> Sines {
        Sines {
            frequencies,
            amplitudes,
        }
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.frequencies.len().min(self.amplitudes.len())
    }

    /// Takes some of the sines through a stage, and what they reach to `reached`; they drive the next stage then. What
    /// loads the stage is the next one, or a resistance, Ω.
    pub fn pass(
        &mut self,
        some: Range<usize>,
        stage: &DrivenStage,
        load: Result<&DrivenStage, f64>,
        reached: &mut Reached,
    ) {
        let Some(equations) = stage.equations() else {
            return;
        };
        let behind = load.map(DrivenStage::equations);
        let delivered = |omega: f64| match &behind {
            Ok(next) => drawn(next.as_ref(), omega),
            Err(resistance) => Complex64::from(1.0 / resistance),
        };
        let pins = stage.pins();
        let output = stage.model.netlist.output();
        for at in some {
            let (frequency, amplitude) = (self.frequencies[at], self.amplitudes[at]);
            let omega = std::f64::consts::TAU * frequency;
            let answer = equations.at(omega).and_then(|nodal| nodal.answer(0));
            let Some(answer) = answer else {
                continue;
            };
            let when = When::Sine(frequency);
            let level = |v: Complex64| amplitude * v.norm();
            for (node, voltage) in reached.nodes.iter_mut().zip(&answer.voltages) {
                node.meet(level(*voltage), when);
            }
            let voltage = |node: usize| answer.voltages[node];
            let op_amps = reached.op_amps.iter_mut().zip(&pins);
            for ((own, pins), current) in op_amps.zip(&answer.currents) {
                let swing = level(voltage(pins.out));
                own.swing.meet(swing, when);
                own.slew.meet(omega * swing, when);
                let beyond = match pins.out == output {
                    true => delivered(omega) * voltage(output),
                    false => Complex64::default(),
                };
                own.current.meet(level(current + beyond), when);
                let common = level(0.5 * (voltage(pins.plus) + voltage(pins.minus)));
                own.input_high.meet(common, when);
                own.input_low.meet(common, when);
            }
            self.amplitudes[at] = level(voltage(output));
        }
    }
}

/// What a circuit's input draws, S.
fn drawn(equations: Option<&Equations>, omega: f64) -> Complex64 {
    let answer = equations
        .and_then(|equations| equations.at(omega))
        .and_then(|nodal| nodal.answer(0));
    answer.map_or(Complex64::default(), |answer| answer.drawn[0])
}
