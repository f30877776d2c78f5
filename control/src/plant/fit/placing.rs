//! Finding places for modes that were only roughly given.

use std::f64::consts::TAU;
use std::task::Poll;

use super::data::Data;
use super::descent::Descent;
use super::scan::Scan;
use super::settings::Free;
use crate::plant::{Mode, Model};

/// How far about its given frequency a mode is looked for.
const WAY: f64 = 0.1;
/// Places evenly spread over it, beside the sweep's own points.
const PLACES: i32 = 10;
/// Most of the sweep's points that are looked at.
const MOST_POINTS: usize = 60;

/// Looking, in pieces, for the places of one rough mode after another.
#[derive(Clone, Debug)]
pub(super) struct Placing {
    /// Indices of rough modes.
    rough: Vec<usize>,
    scan: Option<(Descent, Scan)>,
}

impl Placing {
    /// For a model as the user gave it.
    pub fn new(model: &Model, free: &Free) -> Placing {
        let rough = |k: &usize| {
            let (mode, free) = (model.modes[*k], free.modes[*k]);
            let movable = free.frequency && free.damping && free.residue;
            movable && mode.residue == 0.0 && mode.slope == 0.0
        };
        Placing {
            rough: (0..model.modes.len()).rev().filter(rough).collect(),
            scan: None,
        }
    }

    /// For every mode that is free, wherever it stands.
    pub fn anew(descent: &Descent) -> Placing {
        let movable = |k: &usize| {
            let free = descent.free.modes[*k];
            free.frequency && free.damping && free.residue
        };
        Placing {
            rough: (0..descent.model.modes.len())
                .rev()
                .filter(movable)
                .collect(),
            scan: None,
        }
    }

    /// A small piece, that may move a mode of `descent`; ready when there is nothing left to do.
    pub fn step(&mut self, descent: &mut Descent, data: &Data) -> Poll<()> {
        let Some(&k) = self.rough.last() else {
            return Poll::Ready(());
        };
        let (without, scan) = self.scan.get_or_insert_with(|| begun(k, descent, data));
        if scan.step(without, data).is_pending() {
            return Poll::Pending;
        }
        if let Some(best) = scan.best(1).first().filter(|best| best.fall > 0.0) {
            descent.model.modes[k] = Mode {
                frequency: best.frequency,
                damping: best.damping,
                ..descent.model.modes[k]
            };
        }
        self.rough.pop();
        self.scan = None;
        Poll::Pending
    }
}

/// The scan for mode `k` about where it was given, on the residual of the model without it.
fn begun(k: usize, descent: &Descent, data: &Data) -> (Descent, Scan) {
    let frequency = descent.model.modes[k].frequency;
    let (mut model, mut free) = (descent.model.clone(), descent.free.clone());
    model.modes.remove(k);
    free.modes.remove(k);
    let without = Descent::new(model, free, descent.limits, data);
    let (low, high) = (TAU * frequency * (1.0 - WAY), TAU * frequency * (1.0 + WAY));
    let inside: Vec<f64> = data
        .omega
        .iter()
        .copied()
        .filter(|w| (low..=high).contains(w))
        .collect();
    let step = inside.len().div_ceil(MOST_POINTS).max(1);
    let even = (0..=PLACES).map(|i| low + (high - low) * f64::from(i) / f64::from(PLACES));
    let places = inside.into_iter().step_by(step).chain(even).collect();
    let scan = Scan::at(&without, data, places);
    (without, scan)
}
