//! The largest of each signal at an op amp.

use serde::{Deserialize, Serialize};

use super::When;

/// A largest value, and when it is reached.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Peak {
    pub value: f64,
    pub when: When,
}

/// The largest signals of one op amp, all about the middle of the rails.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peaks {
    /// Of the output's rate of change, V/s.
    pub slew: Peak,
    /// Out of the output or into it, A.
    pub current: Peak,
    /// Of the output, V.
    pub swing: Peak,
    /// Of the inputs' common mode upwards and downwards, V.
    pub input_high: Peak,
    pub input_low: Peak,
}

impl Default for Peak {
    fn default() -> Peak {
        Peak {
            value: 0.0,
            when: When::Always,
        }
    }
}

impl Peak {
    /// Takes a larger value.
    pub fn meet(&mut self, value: f64, when: When) {
        if value > self.value {
            *self = Peak { value, when };
        }
    }

    /// The larger one of both.
    pub fn or(self, other: Peak) -> Peak {
        if other.value > self.value {
            other
        } else {
            self
        }
    }
}

impl Peaks {
    /// The larger of each.
    pub fn or(self, other: Peaks) -> Peaks {
        Peaks {
            slew: self.slew.or(other.slew),
            current: self.current.or(other.current),
            swing: self.swing.or(other.swing),
            input_high: self.input_high.or(other.input_high),
            input_low: self.input_low.or(other.input_low),
        }
    }
}
