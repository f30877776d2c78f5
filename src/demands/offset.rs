//! The offset at a path's output: of its op amps' offset voltages, their drift, and their bias currents.

use num_complex::Complex64;

use super::stage::DrivenStage;

/// rad/s; below all that a stage is asked for.
const NEARLY_DC: f64 = 1e-4;

/// A stage's offset at its own output, largest magnitudes, all of one sign (Franco, "Design with Operational Amplifiers",
/// ch. 5). Bias currents of both inputs count for themselves.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offset {
    /// Of offset voltages, with their drift, V.
    pub voltage: f64,
    /// Of bias currents, V.
    pub bias: f64,
    /// The stage's gain at DC, a ratio.
    pub gain: f64,
}

/// Each stage's offset; `span` is by how much the temperature moves, K. None of a stage that has no single answer at DC.
pub fn offsets(stages: &[DrivenStage], span: f64) -> Vec<Option<Offset>> {
    stages.iter().map(|stage| of_stage(stage, span)).collect()
}

fn of_stage(stage: &DrivenStage, span: f64) -> Option<Offset> {
    let equations = stage.equations()?;
    // A node between capacitors has no voltage at DC, but next to it.
    let nodal = equations.at(0.0).or_else(|| equations.at(NEARLY_DC))?;
    let output = stage.model.netlist.output();
    let influence = nodal.influence(output)?;
    let answer = nodal.answer(0)?;
    let gain: Complex64 = answer.voltages[output];
    let mut offset = Offset {
        gain: gain.re,
        ..Offset::default()
    };
    let op_amps = stage.pins().into_iter().zip(&stage.sheets);
    for (place, (pins, sheet)) in op_amps.enumerate() {
        let own = sheet.offset + sheet.offset_drift * span;
        offset.voltage += influence.of_input(place).norm() * own;
        for pin in [pins.plus, pins.minus] {
            offset.bias += influence.of_current(0, pin).norm() * sheet.bias_current;
        }
    }
    Some(offset)
}
