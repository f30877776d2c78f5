//! What may have made the measurement: all causes that are thought of, and how likely each is beforehand.

use serde::{Deserialize, Serialize};

use super::prior::NumberLaw;
use super::setting::{Place, Setting};
use crate::circuit::Kind;

/// A part of the path.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartAt {
    /// Place of its stage in the path.
    pub stage: usize,
    /// Its designator.
    pub part: String,
}

/// Why a board is as it was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// All parts within their tolerances.
    Healthy,
    /// One part outside of its tolerance.
    Off(PartAt),
    /// Two parts in each other's places.
    Swapped(PartAt, PartAt),
    /// A part of the marked value times this.
    TimesFactor(PartAt, f64),
    /// A part that is missing, or has no contact.
    Open(PartAt),
    /// A part that is bridged.
    Shorted(PartAt),
    /// The measurement's sign is turned.
    MeasuredSign,
    /// The measurement's own gain is off, and all parts are within their tolerances.
    MeasuredGain,
    /// The block behind the stages (a plant) is another than is known; the unknown by its place.
    Behind(usize),
}

/// The same, by numbers of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Idea {
    Healthy,
    Off(usize),
    Swapped(usize, usize),
    Times(usize, f64),
    Open(usize),
    Shorted(usize),
    MeasuredSign,
    MeasuredGain,
    Behind(usize),
}

/// Chances beforehand, of a board that somebody thought worth measuring: one in ten is ill.
const HEALTHY: f64 = 0.9;
/// One part outside of its law; all parts share it.
const OFF: f64 = 0.05;
/// Mistakes of wiring, in all; and how they share it.
const WIRING: f64 = 0.04;
const SWAPPED: f64 = 0.4;
const TENFOLD: f64 = 0.25;
const THOUSANDFOLD: f64 = 0.05;
const OPEN: f64 = 0.15;
const SHORTED: f64 = 0.15;
/// The measurement's sign.
const MEASURED: f64 = 0.001;
/// What is known of the block behind the stages.
const BEHIND: f64 = 0.02;
/// How much likelier parts that touch are swapped than parts that do not.
const TOUCHING: f64 = 4.0;
/// How far an open or bridged part is from its marked value, as a factor; what is left of it is not known.
const EXTREME: f64 = 1e6;
/// The same of a bridged capacitor, which has to be bridged decades below its own frequencies, too.
const BRIDGED: f64 = 1e8;

impl Idea {
    /// All of them, each with its chance beforehand.
    pub fn all(setting: &Setting, laws: &[NumberLaw]) -> Vec<(Idea, f64)> {
        let places = setting.places();
        let nominal = setting.nominal();
        let mut all = vec![(Idea::Healthy, HEALTHY)];
        let bought: Vec<usize> = (0..places.len())
            .filter(|&n| setting.is_bought(places[n]))
            .collect();
        let off: Vec<usize> = (0..places.len())
            .filter(|&n| may_be_off(setting, places[n]))
            .collect();
        share(&mut all, OFF, off.iter().map(|&n| (Idea::Off(n), 1.0)));
        let mut swaps = Vec::new();
        for (at, &a) in bought.iter().enumerate() {
            for &b in &bought[at + 1..] {
                if let Some(chance) = swap(setting, (places[a], places[b])) {
                    let apart = (nominal[a] / nominal[b]).ln().abs();
                    // What lies within both laws is no mistake.
                    if apart > laws[a].reach() + laws[b].reach() {
                        swaps.push((Idea::Swapped(a, b), chance));
                    }
                }
            }
        }
        share(&mut all, WIRING * SWAPPED, swaps.into_iter());
        for (chance, factor) in [(TENFOLD, 10.0), (THOUSANDFOLD, 1000.0)] {
            let both = bought
                .iter()
                .flat_map(|&n| [factor, 1.0 / factor].map(|by| (Idea::Times(n, by), 1.0)));
            share(&mut all, WIRING * chance, both);
        }
        share(
            &mut all,
            WIRING * OPEN,
            bought.iter().map(|&n| (Idea::Open(n), 1.0)),
        );
        share(
            &mut all,
            WIRING * SHORTED,
            bought.iter().map(|&n| (Idea::Shorted(n), 1.0)),
        );
        all.push((Idea::MeasuredSign, MEASURED));
        if let Some(behind) = &setting.behind {
            let unknowns = 0..behind.parameters().len();
            share(&mut all, BEHIND, unknowns.map(|k| (Idea::Behind(k), 1.0)));
        }
        all
    }

    /// The same where the measurement's gain may be anything. A good board that was measured wrong is another finding than a
    /// good board: no board at all makes that curve, and who reads of good parts must be told what made it then.
    pub fn with_a_loose_gain(self) -> Idea {
        match self {
            Idea::Healthy => Idea::MeasuredGain,
            other => other,
        }
    }

    /// The numbers of a board as marked, with this mistake made.
    pub fn put_in(self, setting: &Setting, numbers: &mut [f64]) {
        let times = |number: usize, open: bool| {
            let place = setting.places()[number];
            match (setting.kind(place), open) {
                (Kind::Resistor { .. }, true) => EXTREME,
                (Kind::Capacitor { .. }, false) => BRIDGED,
                _ => 1.0 / EXTREME,
            }
        };
        match self {
            Idea::Swapped(a, b) => numbers.swap(a, b),
            Idea::Times(number, by) => numbers[number] *= by,
            Idea::Open(number) => numbers[number] *= times(number, true),
            Idea::Shorted(number) => numbers[number] *= times(number, false),
            _ => {}
        }
    }

    /// What the measurement is multiplied by that was made so.
    pub fn sign(self) -> f64 {
        match self {
            Idea::MeasuredSign => -1.0,
            _ => 1.0,
        }
    }

    /// The parts that it puts right when it is undone, by their numbers.
    pub fn touched(self) -> Vec<usize> {
        match self {
            Idea::Off(n) | Idea::Times(n, _) | Idea::Open(n) | Idea::Shorted(n) => vec![n],
            Idea::Swapped(a, b) => vec![a, b],
            _ => Vec::new(),
        }
    }

    /// Whether it is a mistake that somebody made with an iron.
    pub fn is_wiring(self) -> bool {
        matches!(
            self,
            Idea::Swapped(..) | Idea::Times(..) | Idea::Open(_) | Idea::Shorted(_)
        )
    }

    pub fn told(self, setting: &Setting) -> Cause {
        let places = setting.places();
        let at = |number: usize| {
            let place = places[number];
            let part = &setting.stages[place.stage].model.netlist.parts()[place.part];
            PartAt {
                stage: place.stage,
                part: part.name.clone(),
            }
        };
        match self {
            Idea::Healthy => Cause::Healthy,
            Idea::Off(n) => Cause::Off(at(n)),
            Idea::Swapped(a, b) => Cause::Swapped(at(a), at(b)),
            Idea::Times(n, by) => Cause::TimesFactor(at(n), by),
            Idea::Open(n) => Cause::Open(at(n)),
            Idea::Shorted(n) => Cause::Shorted(at(n)),
            Idea::MeasuredSign => Cause::MeasuredSign,
            Idea::MeasuredGain => Cause::MeasuredGain,
            Idea::Behind(k) => Cause::Behind(k),
        }
    }
}

/// Adds ideas that share a chance by their weights.
fn share(all: &mut Vec<(Idea, f64)>, chance: f64, ideas: impl Iterator<Item = (Idea, f64)>) {
    let ideas: Vec<(Idea, f64)> = ideas.collect();
    let total: f64 = ideas.iter().map(|(_, weight)| weight).sum();
    all.extend(
        ideas
            .into_iter()
            .map(|(idea, w)| (idea, chance * w / total)),
    );
}

/// Whether a number may be off: every bought part, and an op amp's gain-bandwidth and gain.
fn may_be_off(setting: &Setting, place: Place) -> bool {
    match setting.kind(place) {
        Kind::OpAmp { .. } => place.input < 2,
        _ => setting.is_bought(place) && setting.trimmer(place).is_none(),
    }
}

/// How likely two parts are put in each other's places, relative to others; none where they cannot be.
fn swap(setting: &Setting, (a, b): (Place, Place)) -> Option<f64> {
    let (first, second) = (setting.kind(a), setting.kind(b));
    if a.stage != b.stage || !first.is_like(second) {
        return None;
    }
    let nodes = second.nodes();
    let touch = first.nodes().iter().any(|n| *n != 0 && nodes.contains(n));
    Some(if touch || a.part.abs_diff(b.part) == 1 {
        TOUCHING
    } else {
        1.0
    })
}
