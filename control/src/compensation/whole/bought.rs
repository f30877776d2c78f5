//! One stage off the shelf: the circuits that may make it, tried one after the other.

use std::collections::BTreeMap;
use std::task::Poll;

use crate::numerics::put_in_order;
use crate::parts::{OpAmp, Shelf};
use crate::pick::{IN_A_LOOP, Search};
use crate::response::Transfer;
use crate::stages::{Ask, CATALOGUE, Model, Stage, by_id};

/// A stage with the best of its sets.
#[derive(Clone, Debug)]
pub(super) struct Bought {
    pub circuit: &'static str,
    pub ask: Ask,
    /// With the bought parts and the real op amp.
    pub transfer: Transfer,
    /// The worst miss of its pick, in limits.
    pub miss: f64,
}

/// Circuits tried for one ask at most.
const CIRCUITS: usize = 3;

/// The purchase of one stage, in slices.
pub(super) struct Buying {
    ask: Ask,
    op_amp: OpAmp,
    circuits: Vec<&'static dyn Stage>,
    at: Option<(Model, Box<Search>)>,
    best: Option<Bought>,
}

/// The circuits that answer an ask: the preferred one, then the catalogue's, those first that see nothing in
/// their way.
pub(super) fn circuits(
    ask: &Ask,
    preferred: Option<&str>,
    shelf: &Shelf,
    op_amp: &OpAmp,
) -> Vec<&'static dyn Stage> {
    let mut all: Vec<&'static dyn Stage> = preferred.and_then(by_id).into_iter().collect();
    let alike = CATALOGUE
        .iter()
        .copied()
        .filter(|stage| stage.default_ask().is_like(ask));
    for stage in alike {
        if all.iter().all(|known| known.id() != stage.id()) {
            all.push(stage);
        }
    }
    // Stable: among equals the order stays.
    let falls_short = |stage: &&dyn Stage| !stage.reach(ask, shelf, op_amp).is_empty();
    put_in_order(&mut all, |a, b| falls_short(a).cmp(&falls_short(b)));
    all.truncate(CIRCUITS);
    all
}

impl Buying {
    pub fn begin(ask: Ask, shelf: &Shelf, op_amp: &OpAmp) -> Buying {
        let mut circuits = circuits(&ask, None, shelf, op_amp);
        circuits.reverse();
        Buying {
            ask,
            op_amp: op_amp.clone(),
            circuits,
            at: None,
            best: None,
        }
    }

    /// Works until `go_on` says no; gives the first circuit's parts that hold their limits, or else what comes
    /// nearest, if anything could be picked.
    pub fn advance(
        &mut self,
        shelf: &Shelf,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<Option<Bought>> {
        loop {
            if let Some((model, search)) = &mut self.at {
                if search.advance(model, go_on).is_pending() {
                    return Poll::Pending;
                }
                if let Some(best) = search.take().picks.first() {
                    let bought = Bought {
                        circuit: model.stage.id(),
                        ask: self.ask.clone(),
                        transfer: model.transfer(&best.values),
                        miss: best.rank.miss,
                    };
                    if (self.best.as_ref()).is_none_or(|best| bought.miss < best.miss) {
                        self.best = Some(bought);
                    }
                }
                self.at = None;
            }
            if self.best.as_ref().is_some_and(|best| best.miss <= 1.0) {
                return Poll::Ready(self.best.take());
            }
            let Some(circuit) = self.circuits.pop() else {
                return Poll::Ready(self.best.take());
            };
            if let Ok(model) = Model::new(circuit, &self.ask, &self.op_amp) {
                let search = Search::new(&model, shelf, &BTreeMap::new(), IN_A_LOOP);
                self.at = Some((model, Box::new(search)));
            }
            if !go_on() {
                return Poll::Pending;
            }
        }
    }
}
