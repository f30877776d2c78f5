//! How far one number that describes a board strays from what is marked.

use serde::{Deserialize, Serialize};

use super::Distribution;

/// One number of a board: a resistance, a capacitance, or a number of an op amp.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Variation {
    /// Value as marked, SI.
    pub nominal: f64,
    pub kind: VariationKind,
    /// What is the part's own.
    pub own: Reach,
    /// What it shares with others: one lot, or one network.
    pub shared: Option<Shared>,
    /// How deviations as delivered lie within their tolerance, own and shared.
    pub distribution: Distribution,
}

/// How a deviation acts on the value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum VariationKind {
    /// Nothing is drawn.
    Fixed,
    /// The value is the marked one times 1 + deviation.
    Ratio,
    /// The value is the marked one over 1 + deviation: for a number that stands for its inverse.
    Inverse,
    /// Deviations are decibels, and the value is an inverse gain.
    InverseDecibel,
}

/// Largest deviations to either side.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Reach {
    /// As delivered: a fraction, or decibels.
    pub tolerance: f64,
    /// Drift with temperature, a fraction per kelvin.
    pub tempco: f64,
    /// Drift over the product's life, a fraction.
    pub ageing: f64,
}

/// A deviation that several numbers have in common.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shared {
    /// Which of the population's common deviations.
    pub common: usize,
    pub reach: Reach,
}

impl Variation {
    /// A number that is the same on every board.
    pub fn fixed(nominal: f64) -> Variation {
        Variation {
            nominal,
            kind: VariationKind::Fixed,
            own: Reach::default(),
            shared: None,
            distribution: Distribution::UNIFORM,
        }
    }

    /// A number with a tolerance (a fraction) of its own and no drift.
    pub fn within(nominal: f64, tolerance: f64, distribution: Distribution) -> Variation {
        Variation {
            kind: VariationKind::Ratio,
            own: Reach {
                tolerance,
                ..Reach::default()
            },
            distribution,
            ..Variation::fixed(nominal)
        }
    }

    /// The value with a deviation as delivered and a drift.
    pub(super) fn value(&self, deviation: f64, drift: f64) -> f64 {
        match self.kind {
            VariationKind::Fixed => self.nominal,
            VariationKind::Ratio => self.nominal * (1.0 + deviation) * (1.0 + drift),
            VariationKind::Inverse => self.nominal / ((1.0 + deviation) * (1.0 + drift)),
            VariationKind::InverseDecibel => self.nominal * 10f64.powf(-deviation / 20.0),
        }
    }
}
