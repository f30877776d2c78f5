//! What of an ask a user can set: plain descriptions that the design makes fields of.

use crate::parts::Series;
use crate::quantity::Unit;
use serde::Serialize;

/// What an arrow key does to a number.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "step", rename_all = "kebab-case")]
pub enum Step {
    /// To the next value of a series.
    Along { series: Series },
    /// By a fixed amount.
    By { amount: f64 },
}

/// Whether an entry says what is wanted or how far it may stray.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    Ask,
    Limits,
}

/// A number of an ask.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    pub place: Place,
    /// The ask's field of this name.
    pub name: &'static str,
    pub label: &'static str,
    pub unit: Unit,
    pub lowest: f64,
    pub highest: f64,
    pub step: Step,
    /// The words that stand for no number at all, where that is allowed.
    pub empty: Option<&'static str>,
    pub help: &'static str,
}

const LOG: Step = Step::Along {
    series: Series::E24,
};

impl Entry {
    /// A number that is wanted.
    pub fn ask(
        name: &'static str,
        label: &'static str,
        unit: Unit,
        (lowest, highest): (f64, f64),
        help: &'static str,
    ) -> Entry {
        let step = if unit == Unit::Decibel {
            Step::By { amount: 1.0 }
        } else {
            LOG
        };
        Entry {
            place: Place::Ask,
            name,
            label,
            unit,
            lowest,
            highest,
            step,
            empty: None,
            help,
        }
    }

    /// A frequency that is wanted.
    pub fn frequency(name: &'static str, label: &'static str, help: &'static str) -> Entry {
        Entry::ask(name, label, Unit::Hertz, (0.01, 10e6), help)
    }

    /// A gain that is wanted, without its sign.
    pub fn gain(name: &'static str, label: &'static str, help: &'static str) -> Entry {
        Entry::ask(name, label, Unit::One, (0.001, 1e4), help)
    }

    /// A relative limit, either way.
    pub fn limit(name: &'static str, label: &'static str, help: &'static str) -> Entry {
        Entry {
            place: Place::Limits,
            ..Entry::ask(name, label, Unit::Percent, (1e-4, 0.9), help)
        }
    }

    /// The same among the limits.
    pub fn among_limits(self) -> Entry {
        Entry {
            place: Place::Limits,
            ..self
        }
    }

    /// The same, which may be empty.
    pub fn or_empty(self, words: &'static str) -> Entry {
        Entry {
            empty: Some(words),
            ..self
        }
    }
}

/// A choice of an ask: taking another one may rewrite the ask's other entries.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The ask's field of this name.
    pub name: &'static str,
    pub label: &'static str,
    /// (value, words)
    pub options: Vec<(&'static str, &'static str)>,
    pub help: &'static str,
}
