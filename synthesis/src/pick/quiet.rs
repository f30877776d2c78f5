//! The search where the noise at a stage's output has a limit.
//!
//! Sets are searched as ever, and each pick's noise is worked out. Resistors' thermal power goes with the level of impedance,
//! that of op amps' currents with its square, that of their voltages not with it (scaling of impedances; Op Amps for
//! Everyone, ch. 10, from memory): so the noise of one set tells at which level the limit would hold, and the search is made
//! again round that level, where too few sets hold it.

use std::collections::BTreeMap;
use std::task::Poll;

use super::comfort::{Bother, Weights};
use super::kept::{KEPT, Pick};
use super::rank::{Rank, best_share};
use super::search::{Choices, Search};
use crate::noise::{Setting, impedance, powers};
use crate::numerics::put_in_order;
use crate::parts::Shelf;
use crate::stages::Model;

/// With so many sets that hold everything there is enough to choose from.
const ENOUGH: usize = 4;
/// Searches at other levels at most.
const TRIES: u32 = 3;
/// What a level is aimed at, of the limit's power, and how much lower each further try goes.
const AIM: f64 = 0.85;
const LOWER: f64 = 0.5;
/// A level this much lower is lower than any shelf reaches.
const LOWEST: f64 = 1e-3;

/// A limit on noise.
#[derive(Clone, Debug, PartialEq)]
pub struct NoiseLimit {
    pub setting: Setting,
    /// At the output over the band, V rms.
    pub highest: f64,
}

/// The search, in slices, with a limit on noise or without one.
pub struct QuietSearch {
    shelf: Shelf,
    pins: BTreeMap<usize, f64>,
    weights: Weights,
    limit: Option<NoiseLimit>,
    at: Stretch,
    /// Picks whose noise is known.
    found: Vec<Pick>,
    /// What was found besides, at the level that was asked for.
    first: Option<Choices>,
    tries: u32,
    /// Whether some set holds all limits but that on noise.
    is_in_reach: bool,
}

enum Stretch {
    Searching(Box<Search>),
    /// Picks whose noise is to be worked out, the next one last.
    Reading(Vec<Pick>),
    Done,
}

impl QuietSearch {
    /// As [`Search::weighed`].
    pub fn new(
        model: &Model,
        shelf: &Shelf,
        pins: &BTreeMap<usize, f64>,
        weights: Weights,
        limit: Option<NoiseLimit>,
    ) -> QuietSearch {
        let search = Search::weighed(model, shelf, pins, weights);
        QuietSearch {
            shelf: shelf.clone(),
            pins: pins.clone(),
            weights,
            limit,
            at: Stretch::Searching(Box::new(search)),
            found: Vec::new(),
            first: None,
            tries: 0,
            is_in_reach: false,
        }
    }

    /// Works until done or until `go_on` says no.
    pub fn advance(&mut self, model: &Model, go_on: &mut dyn FnMut() -> bool) -> Poll<()> {
        loop {
            match &mut self.at {
                Stretch::Done => return Poll::Ready(()),
                Stretch::Searching(search) => {
                    if search.advance(model, go_on).is_pending() {
                        return Poll::Pending;
                    }
                    let mut choices = search.take();
                    if self.limit.is_none() {
                        self.first = Some(choices);
                        self.at = Stretch::Done;
                        continue;
                    }
                    let mut waiting = std::mem::take(&mut choices.picks);
                    waiting.reverse();
                    self.first.get_or_insert(choices);
                    self.at = Stretch::Reading(waiting);
                }
                Stretch::Reading(waiting) => {
                    if !go_on() {
                        return Poll::Pending;
                    }
                    let Some(pick) = waiting.pop() else {
                        self.at = match self.next_level(model) {
                            Some(level) => self.search_at(model, level),
                            None => self.finish(),
                        };
                        continue;
                    };
                    self.read(model, pick);
                }
            }
        }
    }

    /// Takes out what was found.
    pub fn take(&mut self) -> Choices {
        self.first.take().unwrap_or_default()
    }

    /// Share of the work that is done, for a progress bar.
    pub fn progress(&self) -> f64 {
        match &self.at {
            Stretch::Searching(search) => search.progress(),
            Stretch::Reading(_) => 0.99,
            Stretch::Done => 1.0,
        }
    }

    /// Works out a pick's noise. A miss is what is missed most, the noise among it.
    fn read(&mut self, model: &Model, mut pick: Pick) {
        let Some(limit) = &self.limit else { return };
        if self.found.iter().any(|known| known.values == pick.values) {
            return;
        }
        let powers = powers(model, &pick.values, &limit.setting);
        let over = powers.map_or(f64::INFINITY, |powers| powers.rms_at(1.0) / limit.highest);
        // At another level comfort lay elsewhere.
        let bother = Bother::of(model, &pick.values, &self.weights);
        let Rank { miss, share, .. } = pick.rank;
        self.is_in_reach |= miss <= 1.0;
        pick.rank = Rank::new(miss.max(over), share, bother, &self.weights);
        self.found.push(pick);
    }

    /// The level of impedance (Ω) that is searched next, where too few sets hold everything.
    fn next_level(&self, model: &Model) -> Option<f64> {
        let limit = self.limit.as_ref()?;
        let held = self.found.iter().filter(|pick| pick.rank.holds()).count();
        // At another level the response is out of reach just as well.
        let is_enough = held >= ENOUGH || held == self.found.len();
        if self.tries >= TRIES || is_enough || !self.is_in_reach {
            return None;
        }
        let first = self.found.first()?;
        let level = impedance(model, &first.values)?;
        let powers = powers(model, &first.values, &limit.setting)?;
        let least = limit.highest * limit.highest;
        let factor = powers
            .factor_for(AIM * least)
            .or_else(|| Some(0.5 * powers.factor_for(least)?))?;
        let factor = factor.min(1.0) * LOWER.powi(self.tries as i32);
        (factor > LOWEST).then_some(level * factor)
    }

    fn search_at(&mut self, model: &Model, level: f64) -> Stretch {
        self.tries += 1;
        let weights = self.weights.at_level(level);
        let search = Search::weighed(model, &self.shelf, &self.pins, weights);
        Stretch::Searching(Box::new(search))
    }

    fn finish(&mut self) -> Stretch {
        let mut picks = std::mem::take(&mut self.found);
        let best = best_share(picks.iter().map(|pick| &pick.rank));
        put_in_order(&mut picks, |a, b| a.rank.order(&b.rank, best));
        picks.truncate(KEPT);
        self.first.get_or_insert_default().picks = picks;
        Stretch::Done
    }
}
