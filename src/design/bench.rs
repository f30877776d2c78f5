//! What was measured of the built board.

use serde::{Deserialize, Serialize};

use super::Design;

/// What the bench looks at; responses as [`crate::plant::sweep::write`] writes them, or `write_magnitudes` beside it. Those of
/// stages stand with their stages.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BenchDesign {
    /// What of the board is looked at.
    pub of: Measured,
    /// The whole path's measured response; "" where there is none.
    pub path: String,
    /// The loop's.
    pub looped: String,
    /// Standard deviation of a point relative to its magnitude; none where it is read off the points themselves.
    pub noise: Option<f64>,
}

/// What was measured.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measured {
    /// The shown stage, from its input to its output.
    #[default]
    Stage,
    /// The whole path.
    Path,
    /// The loop cut open, L.
    OpenLoop,
    /// The closed loop from its reference to the measured position, L/(1 + L).
    ClosedLoop,
    /// Its sensitivity, 1/(1 + L).
    Sensitivity,
}

impl Design {
    /// The response that is looked at; "" where there is none.
    pub fn measured_response(&self) -> &str {
        match self.bench.of {
            Measured::Stage => {
                let shown = self.stages.get(self.view.stage);
                shown.map_or("", |stage| &stage.measured)
            }
            Measured::Path => &self.bench.path,
            _ => &self.bench.looped,
        }
    }

    /// Its place; none of a stage that is not there.
    pub fn measured_response_mut(&mut self) -> Option<&mut String> {
        match self.bench.of {
            Measured::Stage => {
                let shown = self.stages.get_mut(self.view.stage);
                shown.map(|stage| &mut stage.measured)
            }
            Measured::Path => Some(&mut self.bench.path),
            _ => Some(&mut self.bench.looped),
        }
    }
}

/// A trimmer in a resistor's place, with a fixed resistor in series.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TrimmerDesign {
    /// The designator of the resistor that both stand for.
    pub part: String,
    /// The fixed resistor, Ω.
    pub fixed: f64,
    /// The trimmer from end to end, Ω.
    pub range: f64,
    /// Its turns from end to end.
    pub turns: f64,
}

impl Default for TrimmerDesign {
    fn default() -> TrimmerDesign {
        TrimmerDesign {
            part: String::new(),
            fixed: 1e3,
            range: 1e3,
            turns: 25.0,
        }
    }
}

impl TrimmerDesign {
    /// A trimmer in place of a resistor of this value, Ω: it reaches a tenth to either side.
    pub fn about(part: &str, value: f64) -> TrimmerDesign {
        TrimmerDesign {
            part: part.to_owned(),
            fixed: 0.9 * value,
            range: 0.2 * value,
            ..TrimmerDesign::default()
        }
    }
}

impl Measured {
    /// Whether it is the loop, in one of its forms.
    pub fn is_loop(self) -> bool {
        !matches!(self, Measured::Stage | Measured::Path)
    }
}
