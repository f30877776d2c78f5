//! What a design knows of an op amp, as its data sheet tells it.

use serde::{Deserialize, Serialize};

use super::OpAmp;
use crate::circuit::noise::OpAmpNoise;

/// An op amp by its data sheet. Limits are magnitudes.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DataSheet {
    /// What the user calls it; stages name it by this.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Open-loop gain at DC, dB.
    pub gain_db: f64,
    /// Gain-bandwidth product, Hz.
    pub gain_bandwidth: f64,
    /// Open-loop output resistance, Ω.
    pub output_resistance: f64,
    /// Slew rate, V/s.
    pub slew_rate: f64,
    /// Largest output current, A.
    pub output_current: f64,
    /// How near the output comes to either rail, V.
    pub output_headroom: f64,
    /// How near to the positive rail the inputs work, V; below 0 beyond it.
    pub input_headroom_high: f64,
    /// How near to the negative rail the inputs work, V; below 0 beyond it.
    pub input_headroom_low: f64,
    /// Largest input offset voltage, V.
    pub offset: f64,
    /// Largest drift of the offset voltage, V/K.
    pub offset_drift: f64,
    /// Largest input bias current, A.
    pub bias_current: f64,
    /// Input voltage noise where it is white, V/√Hz.
    pub voltage_noise: f64,
    /// Where the 1/f part of the voltage noise is as large, Hz.
    pub voltage_noise_corner: f64,
    /// Input current noise where it is white, A/√Hz.
    pub current_noise: f64,
    /// Where the 1/f part of the current noise is as large, Hz.
    pub current_noise_corner: f64,
    /// Supply current without load, A.
    pub supply_current: f64,
}

/// A class of op amps: figures that are typical for it, of no product.
pub struct OpAmpClass {
    pub name: &'static str,
    /// Of a part of this class.
    pub data: fn() -> DataSheet,
}

/// Classes to begin with. Round figures, common practice; from no data sheet.
pub const CLASSES: [OpAmpClass; 4] = [
    OpAmpClass {
        name: "low-noise bipolar",
        data: low_noise,
    },
    OpAmpClass {
        name: "JFET input",
        data: jfet,
    },
    OpAmpClass {
        name: "precision",
        data: precision,
    },
    OpAmpClass {
        name: "rail-to-rail CMOS",
        data: rail_to_rail,
    },
];

/// Bipolar inputs at a high current: quiet in voltage, less so in current.
fn low_noise() -> DataSheet {
    DataSheet {
        name: String::new(),
        gain_db: 120.0,
        gain_bandwidth: 10e6,
        output_resistance: 100.0,
        slew_rate: 5e6,
        output_current: 20e-3,
        output_headroom: 1.5,
        input_headroom_high: 2.0,
        input_headroom_low: 2.0,
        offset: 1e-3,
        offset_drift: 5e-6,
        bias_current: 300e-9,
        voltage_noise: 5e-9,
        voltage_noise_corner: 50.0,
        current_noise: 0.6e-12,
        current_noise_corner: 200.0,
        supply_current: 4e-3,
    }
}

/// Hardly any input current; more voltage noise and offset.
fn jfet() -> DataSheet {
    DataSheet {
        gain_db: 106.0,
        gain_bandwidth: 4e6,
        output_resistance: 150.0,
        slew_rate: 13e6,
        output_current: 10e-3,
        output_headroom: 2.0,
        input_headroom_high: 1.0,
        input_headroom_low: 4.0,
        offset: 3e-3,
        offset_drift: 10e-6,
        bias_current: 200e-12,
        voltage_noise: 18e-9,
        voltage_noise_corner: 100.0,
        current_noise: 10e-15,
        current_noise_corner: 100.0,
        supply_current: 2e-3,
        ..low_noise()
    }
}

/// Small offset and drift; slow.
fn precision() -> DataSheet {
    DataSheet {
        gain_db: 130.0,
        gain_bandwidth: 1e6,
        output_resistance: 60.0,
        slew_rate: 0.3e6,
        output_current: 10e-3,
        output_headroom: 1.5,
        input_headroom_high: 1.5,
        input_headroom_low: 1.5,
        offset: 50e-6,
        offset_drift: 0.5e-6,
        bias_current: 2e-9,
        voltage_noise: 10e-9,
        voltage_noise_corner: 10.0,
        current_noise: 0.2e-12,
        current_noise_corner: 50.0,
        supply_current: 1.5e-3,
        ..low_noise()
    }
}

/// For a single low supply.
fn rail_to_rail() -> DataSheet {
    DataSheet {
        gain_db: 110.0,
        gain_bandwidth: 10e6,
        output_resistance: 200.0,
        slew_rate: 8e6,
        output_current: 30e-3,
        output_headroom: 0.1,
        input_headroom_high: -0.1,
        input_headroom_low: -0.1,
        offset: 2e-3,
        offset_drift: 3e-6,
        bias_current: 10e-12,
        voltage_noise: 10e-9,
        voltage_noise_corner: 1e3,
        current_noise: 5e-15,
        current_noise_corner: 0.0,
        supply_current: 1e-3,
        ..low_noise()
    }
}

impl Default for DataSheet {
    fn default() -> DataSheet {
        low_noise()
    }
}

/// What decides a response by default.
impl Default for OpAmp {
    fn default() -> OpAmp {
        DataSheet::default().op_amp()
    }
}

impl From<OpAmp> for DataSheet {
    /// Its response, and all else as by default.
    fn from(op_amp: OpAmp) -> DataSheet {
        DataSheet {
            gain_db: op_amp.gain_db,
            gain_bandwidth: op_amp.gain_bandwidth,
            output_resistance: op_amp.output_resistance,
            ..DataSheet::default()
        }
    }
}

impl DataSheet {
    /// What decides a response.
    pub fn op_amp(&self) -> OpAmp {
        OpAmp {
            gain_db: self.gain_db,
            gain_bandwidth: self.gain_bandwidth,
            output_resistance: self.output_resistance,
        }
    }

    /// This one with all that decides neither response nor noise as by default.
    pub fn of_noise(&self) -> DataSheet {
        DataSheet {
            voltage_noise: self.voltage_noise,
            voltage_noise_corner: self.voltage_noise_corner,
            current_noise: self.current_noise,
            current_noise_corner: self.current_noise_corner,
            ..self.op_amp().into()
        }
    }

    /// What decides its noise.
    pub fn noise(&self) -> OpAmpNoise {
        OpAmpNoise {
            voltage: self.voltage_noise,
            voltage_corner: self.voltage_noise_corner,
            current: self.current_noise,
            current_corner: self.current_noise_corner,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_default_is_the_first_class() {
        assert_eq!(CLASSES[0].name, "low-noise bipolar");
        assert_eq!((CLASSES[0].data)(), DataSheet::default());
    }
}
