//! The plant behind the path, with what is not known of it.

use num_complex::Complex64;

use super::setting::{Block, BlockParameter};
use crate::plant::Model;

/// A plant's model whose gain, and whose modes' frequencies and dampings, are known within a tolerance; and a delay beside its
/// own.
pub struct PlantBlock {
    model: Model,
    sign: f64,
    parameters: Vec<BlockParameter>,
    /// One period of the middle of the measurement, s.
    period: f64,
}

/// How well a plant is known, as largest relative deviations that are uniform within.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlantTolerance {
    pub gain: f64,
    pub frequency: f64,
    pub damping: f64,
}

/// What is thought of a delay that nobody entered, in periods of the middle of the measurement.
const DELAY: f64 = 0.01;
/// Nothing is known without any doubt.
const LEAST: f64 = 1e-4;

impl PlantBlock {
    /// `sign` is what the summing point makes of the loop; `middle` lies within the measured frequencies, Hz.
    pub fn new(model: Model, sign: f64, tolerance: PlantTolerance, middle: f64) -> PlantBlock {
        // The standard deviation of what is uniform within limits.
        let of = |largest: f64| (largest / 3f64.sqrt()).max(LEAST);
        let mut parameters = vec![
            parameter("gain of the plant", of(tolerance.gain)),
            parameter("delay of the plant", DELAY),
        ];
        for number in 1..=model.modes.len() {
            let frequency = of(tolerance.frequency);
            parameters.push(parameter(&format!("frequency of mode {number}"), frequency));
            let damping = of(tolerance.damping);
            parameters.push(parameter(&format!("damping of mode {number}"), damping));
        }
        PlantBlock {
            model,
            sign,
            parameters,
            period: 1.0 / middle,
        }
    }
}

fn parameter(label: &str, standard_deviation: f64) -> BlockParameter {
    BlockParameter {
        label: label.to_owned(),
        standard_deviation,
    }
}

impl Block for PlantBlock {
    fn name(&self) -> &str {
        "the plant"
    }

    fn parameters(&self) -> &[BlockParameter] {
        &self.parameters
    }

    fn at(&self, frequency: f64, values: &[f64]) -> Complex64 {
        let [gain, delay, modes @ ..] = values else {
            return self.sign * self.model.at(frequency);
        };
        let mut model = self.model.clone();
        for (mode, moved) in model.modes.iter_mut().zip(modes.chunks_exact(2)) {
            mode.frequency *= moved[0].exp();
            mode.damping *= moved[1].exp();
        }
        let turned = Complex64::cis(-std::f64::consts::TAU * frequency * delay * self.period);
        self.sign * gain.exp() * turned * model.at(frequency)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Mode;

    #[test]
    fn unknowns_move_the_plant_as_they_say() {
        let mode = Mode {
            frequency: 100.0,
            damping: 0.02,
            residue: 4e5,
            slope: 0.0,
        };
        let model = Model {
            modes: vec![mode],
            ..Model::default()
        };
        let tolerance = PlantTolerance {
            gain: 0.1,
            frequency: 0.02,
            damping: 0.3,
        };
        let block = PlantBlock::new(model.clone(), -1.0, tolerance, 50.0);
        assert_eq!(block.parameters().len(), 4);
        let nothing = [0.0; 4];
        assert!((block.at(70.0, &nothing) + model.at(70.0)).norm() < 1e-15);
        let moved = block.at(50.0, &[0.1, 0.25, 0.0, 0.0]);
        // A quarter of a period late at the middle is a quarter of a turn.
        let expected = -model.at(50.0) * 0.1f64.exp() * Complex64::new(0.0, -1.0);
        assert!((moved - expected).norm() < 1e-12 * expected.norm());
        let lower = block.at(90.0, &[0.0, 0.0, -0.1, 0.0]).norm();
        assert!(lower > block.at(90.0, &nothing).norm());
    }
}
