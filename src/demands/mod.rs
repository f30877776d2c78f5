//! What a path's signals and its offsets demand of the op amps, held against their data sheets.
//!
//! Levels are those of the linear circuit: what an op amp does once it slews or is at a rail is not in them. Stages are as
//! in the path's response: each is driven by an ideal source and, as far as currents go, loaded by the next one.

mod offset;
mod peaks;
mod sines;
mod stage;
mod told;
mod transient;

use serde::{Deserialize, Serialize};

use crate::parts::DataSheet;
use crate::quantity::Unit;

pub use offset::{Offset, offsets};
pub use peaks::{Peak, Peaks};
pub use sines::{Sines, frequencies};
pub use stage::{DrivenStage, Reached};
pub use told::{listed, missing, times};
pub use transient::Moved;

/// What is demanded of an op amp.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// For its stage to hold its limits with the bought parts near where they are, Hz.
    GainBandwidth,
    /// V/s.
    SlewRate,
    /// A, either way.
    OutputCurrent,
    /// Of the output about the middle of the rails, V, either way.
    OutputSwing,
    /// Common-mode voltage at the inputs above the middle of the rails, V.
    InputHigh,
    /// The same below it, V.
    InputLow,
}

/// One demand on an op amp.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Demand {
    pub quantity: Quantity,
    /// What is needed.
    pub needed: f64,
    /// What the op amp has between these rails, in the same unit.
    pub has: f64,
    /// When it is needed.
    pub when: When,
}

/// When a peak is reached.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum When {
    /// At any time: the response itself asks for it.
    Always,
    /// With a sine of this frequency, Hz.
    Sine(f64),
    /// As the loop is moved, at this time, s.
    Moved(f64),
}

/// The op amps' supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rails {
    /// V
    pub positive: f64,
    pub negative: f64,
}

impl Demand {
    /// What is needed over what there is: 1 is on the limit. Infinite where there is nothing.
    pub fn ratio(&self) -> f64 {
        if self.needed <= 0.0 {
            return 0.0;
        }
        match self.has > 0.0 {
            true => self.needed / self.has,
            false => f64::INFINITY,
        }
    }

    /// Whether the op amp has it.
    pub fn holds(&self) -> bool {
        self.ratio() <= 1.0
    }
}

impl Quantity {
    /// The unit of both its numbers.
    pub fn unit(self) -> Unit {
        match self {
            Quantity::GainBandwidth => Unit::Hertz,
            Quantity::SlewRate => Unit::VoltPerMicrosecond,
            Quantity::OutputCurrent => Unit::Ampere,
            Quantity::OutputSwing | Quantity::InputHigh | Quantity::InputLow => Unit::Volt,
        }
    }

    /// What it is called.
    pub fn title(self) -> &'static str {
        match self {
            Quantity::GainBandwidth => "gain-bandwidth",
            Quantity::SlewRate => "slew rate",
            Quantity::OutputCurrent => "output current",
            Quantity::OutputSwing => "output swing ±",
            Quantity::InputHigh => "input range upwards",
            Quantity::InputLow => "input range downwards",
        }
    }

    /// The name in figures that scripts read.
    pub fn name(self) -> &'static str {
        match self {
            Quantity::GainBandwidth => "gain-bandwidth",
            Quantity::SlewRate => "slew-rate",
            Quantity::OutputCurrent => "output-current",
            Quantity::OutputSwing => "output-swing",
            Quantity::InputHigh => "input-high",
            Quantity::InputLow => "input-low",
        }
    }
}

impl Rails {
    /// Half of what lies between them, V: signals swing about their middle.
    pub fn half(self) -> f64 {
        0.5 * (self.positive - self.negative)
    }
}

/// What these peaks demand of an op amp with this data sheet.
pub fn demands(peaks: &Peaks, sheet: &DataSheet, rails: Rails) -> Vec<Demand> {
    let half = rails.half();
    let demand = |quantity, peak: Peak, has: f64| Demand {
        quantity,
        needed: peak.value,
        has: has.max(0.0),
        when: peak.when,
    };
    vec![
        demand(Quantity::SlewRate, peaks.slew, sheet.slew_rate),
        demand(Quantity::OutputCurrent, peaks.current, sheet.output_current),
        demand(
            Quantity::OutputSwing,
            peaks.swing,
            half - sheet.output_headroom,
        ),
        demand(
            Quantity::InputHigh,
            peaks.input_high,
            half - sheet.input_headroom_high,
        ),
        demand(
            Quantity::InputLow,
            peaks.input_low,
            half - sheet.input_headroom_low,
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_demand_is_held_against_what_the_rails_leave() {
        let sheet = DataSheet {
            output_headroom: 2.0,
            input_headroom_high: -0.1,
            ..DataSheet::default()
        };
        let rails = Rails {
            positive: 5.0,
            negative: 0.0,
        };
        let peak = |value| Peak {
            value,
            when: When::Sine(1e3),
        };
        let peaks = Peaks {
            swing: peak(1.0),
            input_high: peak(2.6),
            ..Peaks::default()
        };
        let all = demands(&peaks, &sheet, rails);
        let of = |quantity| {
            let mut all = all.iter();
            all.find(|demand| demand.quantity == quantity).expect("it")
        };
        assert_eq!(of(Quantity::OutputSwing).ratio(), 2.0);
        assert!(of(Quantity::InputHigh).holds());
        assert!(of(Quantity::SlewRate).holds());
    }
}
