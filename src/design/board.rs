//! What a board works with: rails, temperature, the largest signal, and the band in which its noise counts.

use serde::{Deserialize, Serialize};

/// What a board is supplied with, and how warm it is.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Conditions {
    /// The op amps' positive supply, V.
    pub positive_rail: f64,
    /// Their negative supply, V; 0 where there is one supply alone.
    pub negative_rail: f64,
    /// At which noise is worked out, °C.
    pub temperature: f64,
    /// What the path drives, Ω: its last op amp delivers the current.
    pub load: f64,
}

/// The band over which noise is added up.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct NoiseBand {
    /// Hz.
    pub from: f64,
    /// Hz.
    pub to: f64,
}

/// The largest signal.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Signal {
    /// Where it enters.
    pub enters: Enters,
    /// Its amplitude over frequency: points of rising frequency, one at least.
    pub points: Vec<SignalPoint>,
}

/// Where the largest signal enters.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Enters {
    /// As the reference of the closed loop where there is a plant, else at the path's input.
    #[default]
    Reference,
    /// At the path's input.
    Path,
    /// As the closed loop's error while it is moved as the time response says; the points do not count then.
    Motion,
}

/// The largest sine at one frequency. Between two of them the amplitude goes along a straight line on
/// logarithmic axes.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SignalPoint {
    /// Hz.
    pub frequency: f64,
    /// Peak, V.
    pub amplitude: f64,
}

impl Default for Conditions {
    fn default() -> Conditions {
        Conditions {
            positive_rail: 15.0,
            negative_rail: -15.0,
            temperature: 25.0,
            load: 10e3,
        }
    }
}

impl Default for NoiseBand {
    fn default() -> NoiseBand {
        NoiseBand {
            from: 10.0,
            to: 100e3,
        }
    }
}

impl Default for SignalPoint {
    fn default() -> SignalPoint {
        SignalPoint {
            frequency: 1e3,
            amplitude: 1.0,
        }
    }
}

impl Conditions {
    /// The temperature, K.
    pub fn kelvin(&self) -> f64 {
        self.temperature + 273.15
    }
}

impl Default for Signal {
    /// 1 V from 10 Hz to 10 kHz.
    fn default() -> Signal {
        let points = [10.0, 10e3].map(|frequency| SignalPoint {
            frequency,
            amplitude: 1.0,
        });
        Signal {
            enters: Enters::default(),
            points: points.to_vec(),
        }
    }
}

impl Signal {
    /// Its lowest and highest frequency, Hz; none of no points.
    pub fn span(&self) -> Option<(f64, f64)> {
        let (first, last) = (self.points.first()?, self.points.last()?);
        Some((first.frequency, last.frequency))
    }

    /// Its amplitude at a frequency within its span, V; at its nearest end beyond.
    pub fn amplitude(&self, frequency: f64) -> f64 {
        let next = self.points.partition_point(|p| p.frequency < frequency);
        let (Some(above), Some(below)) = (
            self.points.get(next).or(self.points.last()),
            self.points.get(next.saturating_sub(1)),
        ) else {
            return 0.0;
        };
        let steps = (above.frequency / below.frequency).ln();
        if steps <= 0.0 {
            return above.amplitude;
        }
        let share = ((frequency / below.frequency).ln() / steps).clamp(0.0, 1.0);
        below.amplitude * (above.amplitude / below.amplitude).powf(share)
    }
}

impl SignalPoint {
    /// Most points of a signal.
    pub const MOST: usize = 12;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_amplitude_falls_along_a_straight_line_on_logarithms() {
        let point = |frequency, amplitude| SignalPoint {
            frequency,
            amplitude,
        };
        let signal = Signal {
            points: vec![point(10.0, 2.0), point(100.0, 2.0), point(1e4, 0.02)],
            ..Signal::default()
        };
        for (frequency, amplitude) in [
            (1.0, 2.0),
            (50.0, 2.0),
            (1e3, 0.2),
            (1e4, 0.02),
            (1e6, 0.02),
        ] {
            assert!(
                (signal.amplitude(frequency) / amplitude - 1.0).abs() < 1e-12,
                "{frequency}"
            );
        }
        assert_eq!(signal.span(), Some((10.0, 1e4)));
    }
}
