//! A set's noise by what makes it, and what other levels of impedance would make of it.
//!
//! With all impedances multiplied by a factor and the same op amps resistors' thermal power goes with it, that of currents
//! with its square, that of op amps' voltages not with it (Op Amps for Everyone, ch. 10, from memory).

use serde::{Deserialize, Serialize};

use super::{NoiseKind, Setting, StageNoise, grid, of_stage, rms};
use crate::stages::Model;

/// A set's noise by what makes it: mean squares at the output, V².
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoisePowers {
    pub thermal: f64,
    pub voltage: f64,
    pub current: f64,
}

impl NoisePowers {
    /// All of it, V rms, with every impedance multiplied by a factor.
    pub fn rms_at(&self, factor: f64) -> f64 {
        (self.thermal * factor + self.voltage + self.current * factor * factor).sqrt()
    }

    /// The factor of impedances with which this much (V²) is left; none where voltage noise alone is more.
    pub fn factor_for(&self, power: f64) -> Option<f64> {
        let left = power - self.voltage;
        if left <= 0.0 {
            return None;
        }
        let (a, b) = (self.current, self.thermal);
        let root = (b * b + 4.0 * a * left).sqrt();
        let factor = 2.0 * left / (b + root);
        Some(factor).filter(|factor| factor.is_finite())
    }
}

/// Of a set of parts; none where it cannot be worked out.
pub fn powers(model: &Model, values: &[f64], setting: &Setting) -> Option<NoisePowers> {
    let grid = grid(setting.band, &model.transfer(values));
    Some(powers_of(&of_stage(model, values, setting, grid)?))
}

/// Of a stage whose noise is known.
pub fn powers_of(found: &StageNoise) -> NoisePowers {
    let of = |kind: NoiseKind| {
        let density = found.sum(|one| one.kind == kind);
        rms(&found.frequency, &density).powi(2)
    };
    NoisePowers {
        thermal: of(NoiseKind::Thermal),
        voltage: of(NoiseKind::Voltage),
        current: of(NoiseKind::Current),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_level_at_which_a_power_is_left() {
        let powers = NoisePowers {
            thermal: 4.0,
            voltage: 1.0,
            current: 2.0,
        };
        let factor = powers.factor_for(2.5).expect("a factor");
        assert!((powers.rms_at(factor).powi(2) - 2.5).abs() < 1e-12);
        assert_eq!(powers.factor_for(1.0), None);
        let thermal = NoisePowers {
            current: 0.0,
            ..powers
        };
        assert!((thermal.factor_for(3.0).expect("a factor") - 0.5).abs() < 1e-12);
    }
}
