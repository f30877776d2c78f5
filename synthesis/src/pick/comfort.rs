//! Penalty points of a set of parts for purchase and assembly: distinct values, range, unusual values.

use super::preference::Preference;
use crate::circuit::Kind;
use crate::numerics::{larger, smaller};
use crate::stages::Model;

/// What a unit of strain counts at least where a level of impedance is asked for.
const LEVEL_STRAIN: f64 = 6.0;

/// How many points each thing costs. That one more value to buy is one point is the yardstick; the others are set
/// against it by common practice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights {
    /// A different value to buy.
    pub value: f64,
    /// A decade between the largest and the smallest resistor, or capacitor; the resistors' first decade is free.
    pub spread: f64,
    /// One unit of [`strain_of`].
    pub strain: f64,
    /// A miss of a whole limit.
    pub miss: f64,
    /// Where comfort lies: resistors as much higher than usual, and capacitors as much smaller ([`Weights::at_level`]).
    pub level: f64,
}

/// The impedance that comfort lies round where nothing else is asked, Ω.
pub const USUAL_IMPEDANCE: f64 = 10e3;

impl Weights {
    /// What they are for a preference.
    pub fn of(preference: Preference) -> Weights {
        let usual = Weights {
            value: 1.0,
            spread: 1.0,
            strain: 1.0,
            miss: 2.0,
            level: 1.0,
        };
        match preference {
            Preference::Balanced => usual,
            Preference::FewValues => Weights {
                value: 4.0,
                ..usual
            },
            Preference::CalmImpedance => Weights {
                spread: 3.0,
                strain: 4.0,
                ..usual
            },
            Preference::Centred => Weights {
                miss: 20.0,
                ..usual
            },
        }
    }

    /// The same where resistors shall lie round an impedance (Ω), and capacitors as much beside their usual values: how
    /// far a part is from that counts more then.
    pub fn at_level(self, impedance: f64) -> Weights {
        Weights {
            strain: self.strain.max(LEVEL_STRAIN),
            level: impedance / USUAL_IMPEDANCE,
            ..self
        }
    }

    /// [`strain_of`] a part where comfort lies at this level.
    pub fn strain_of(&self, kind: Kind, value: f64) -> f64 {
        match kind {
            Kind::Resistor { .. } => strain_of(kind, value / self.level),
            Kind::Capacitor { .. } => strain_of(kind, value * self.level),
            Kind::OpAmp { .. } => 0.0,
        }
    }
}

/// What speaks against a set, in plain numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bother {
    /// How many different values have to be bought.
    pub distinct: u32,
    /// Decades that the resistors (beyond one) and the capacitors lie apart, added.
    pub spread: f64,
    /// Sum of [`strain_of`] over the parts.
    pub strain: f64,
}

impl Bother {
    /// Of all parts of a set.
    pub fn of(model: &Model, values: &[f64], weights: &Weights) -> Bother {
        Bother::among(model, values, weights, |_| true)
    }

    /// Of the parts at some positions.
    pub fn among(
        model: &Model,
        values: &[f64],
        weights: &Weights,
        is_among: impl Fn(usize) -> bool,
    ) -> Bother {
        let parts = model.netlist.parts();
        let bought = |end: usize| (0..end).filter(|&index| model.bought[index] && is_among(index));
        let mut reach = Reach::default();
        let mut found = Bother::default();
        for index in bought(values.len()) {
            let (kind, value) = (parts[index].kind, values[index]);
            let is_same = |other: usize| values[other] == value && parts[other].kind.is_like(kind);
            found.distinct += u32::from(!bought(index).any(is_same));
            found.strain += weights.strain_of(kind, value);
            reach.take_in(kind, value);
        }
        found.spread = reach.spread();
        found
    }

    /// In points.
    pub fn points(&self, weights: &Weights) -> f64 {
        weights.value * f64::from(self.distinct)
            + weights.spread * self.spread
            + weights.strain * self.strain
    }
}

/// Lowest and highest value of each kind so far.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reach {
    resistors: (f64, f64),
    capacitors: (f64, f64),
}

impl Default for Reach {
    fn default() -> Reach {
        let none = (f64::INFINITY, 0.0);
        Reach {
            resistors: none,
            capacitors: none,
        }
    }
}

impl Reach {
    pub fn take_in(&mut self, kind: Kind, value: f64) {
        let (low, high) = match kind {
            Kind::Resistor { .. } => &mut self.resistors,
            Kind::Capacitor { .. } => &mut self.capacitors,
            Kind::OpAmp { .. } => return,
        };
        (*low, *high) = (low.min(value), high.max(value));
    }

    /// See [`Bother::spread`].
    pub fn spread(&self) -> f64 {
        self.decades().spread()
    }

    /// Both ends of each kind as decimal logarithms.
    pub fn decades(&self) -> Decades {
        let logs = |(low, high): (f64, f64)| (low.log10(), high.log10());
        Decades {
            resistors: logs(self.resistors),
            capacitors: logs(self.capacitors),
        }
    }
}

/// A [`Reach`] in decades.
#[derive(Clone, Copy, Debug)]
pub(super) struct Decades {
    resistors: (f64, f64),
    capacitors: (f64, f64),
}

impl Decades {
    /// Of both together.
    pub fn with(&self, other: &Decades) -> Decades {
        let both = |a: (f64, f64), b: (f64, f64)| (smaller(a.0, b.0), larger(a.1, b.1));
        Decades {
            resistors: both(self.resistors, other.resistors),
            capacitors: both(self.capacitors, other.capacitors),
        }
    }

    /// See [`Bother::spread`].
    pub fn spread(&self) -> f64 {
        let apart = |(low, high): (f64, f64)| larger(0.0, high - low);
        larger(0.0, apart(self.resistors) - 1.0) + apart(self.capacitors)
    }
}

/// How far a value is from what a bench likes. A tenth for each decade from 10 kΩ or 4.7 nF; and for each decade
/// outside a comfortable range two for a resistor (2 kΩ to 100 kΩ: below, outputs are loaded; above, noise and bias
/// currents grow), three for a capacitor below 1 nF (strays count) and one and a half above 22 nF (C0G becomes large
/// and dear). Common practice.
pub fn strain_of(kind: Kind, value: f64) -> f64 {
    let decades = |ratio: f64| if ratio > 1.0 { ratio.log10() } else { 0.0 };
    match kind {
        Kind::Resistor { .. } => {
            let outside = decades(2e3 / value) + decades(value / 100e3);
            0.1 * (value / 10e3).log10().abs() + 2.0 * outside
        }
        Kind::Capacitor { .. } => {
            0.1 * (value / 4.7e-9).log10().abs()
                + 3.0 * decades(1e-9 / value)
                + 1.5 * decades(value / 22e-9)
        }
        Kind::OpAmp { .. } => 0.0,
    }
}
