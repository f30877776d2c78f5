//! What would bring an ask back that the whole shelf does not meet: each way is tried, none is guessed.
//!
//! Values of any size are tried first, because that is quick. What they promise is then looked for on the shelf itself,
//! changed as the remedy says: where only values between the shelf's hold the limits, no other op amp is enough.

use std::collections::BTreeMap;
use std::task::Poll;

use super::comfort::Weights;
use super::descend::{Norm, Place, Way};
use super::exact::{by_and_by, start};
use super::lists::Lists;
use super::moves::{Move, all_moves};
use super::search::Search;
use super::thorough::{bounds, with_chosen};
use crate::circuit::Kind;
use crate::parts::{Bin, OpAmp, Series, Shelf};
use crate::quantity::to_digits;
use crate::stages::{Model, Scratch};

/// One thing that would be enough by itself.
#[derive(Clone, Debug, PartialEq)]
pub enum Remedy {
    /// Values between the shelf's: these, in the netlist's order.
    FinerValues(Vec<f64>),
    /// Resistors of this series instead of the shelf's.
    Resistors(Series),
    /// Capacitors of this series instead of the shelf's.
    Capacitors(Series),
    /// An op amp with this gain-bandwidth, Hz, all else as it is.
    GainBandwidth(f64),
    /// An op amp with more open-loop gain or less output resistance.
    OtherOpAmp,
    /// Values beyond the shelf's ends: these, in the netlist's order.
    WiderRange(Vec<f64>),
    /// Parts that are pinned, set free.
    NoPins,
}

/// What counts as enough, in limits: rounding to a shelf still has to find room.
const ENOUGH: f64 = 0.6;
/// Starts of each trial.
const STARTS: usize = 6;
const ROUNDS: usize = 15;
/// Gain-bandwidths that are tried, as multiples of the op amp's own, the middle one first; then the stretch below the
/// least that does is halved as often.
const FASTER: [f64; 7] = [1.5, 3.0, 6.0, 15.0, 50.0, 200.0, 1000.0];
const HALVINGS: usize = 3;
/// How far values may go beyond the shelf's ends, as a factor: further, nobody sells or wants them.
const SHELF_FACTOR: f64 = 30.0;
/// A shelf that is widened for a value has those next to it too, up to this factor, which is wider than any series' step.
const NEIGHBOURS: f64 = 2.5;
/// Values this near count as the same, as a fraction.
const ROUNDING: f64 = 5e-3;

/// What a search is given beside the stage: the shelf, what is fixed, and what a set costs.
#[derive(Clone)]
pub(super) struct Given {
    pub shelf: Shelf,
    pub pins: BTreeMap<usize, f64>,
    pub weights: Weights,
}

/// The trials, a piece a step.
pub(super) struct Remedies {
    given: Given,
    left: Vec<Trial>,
    /// A trial that values of any size pass, on the shelf.
    check: Option<Box<Check>>,
    /// The place that came nearest, with values of any size between the shelf's ends.
    nearest: Option<Vec<f64>>,
    pub found: Vec<Remedy>,
}

/// A trial that is looked for on the shelf that it would have.
struct Check {
    trial: Trial,
    model: Model,
    search: Search,
}

#[derive(Clone, Copy)]
enum Trial {
    Pins,
    Range,
    Ideal,
    Resistors(Series),
    Capacitors(Series),
    /// The least of [`FASTER`] that does stands from the first on and, if any does, not behind the second.
    Faster(usize, usize),
    /// Between these multiples of the op amp's gain-bandwidth, so many times more.
    Between(f64, f64, usize),
}

impl Remedies {
    /// `least` is the least miss between the shelf's ends and the values that have it.
    pub fn new(
        given: Given,
        model: &Model,
        lists: &Lists,
        least: Option<&(f64, Vec<f64>)>,
    ) -> Remedies {
        let mut remedies = Remedies {
            left: vec![Trial::Range],
            check: None,
            nearest: least.map(|(_, values)| values.clone()),
            found: Vec::new(),
            given,
        };
        remedies.left.push(Trial::Faster(0, FASTER.len()));
        if lists.pinned.contains(&true) {
            remedies.left.push(Trial::Pins);
        }
        if let Some((miss, values)) = least
            && *miss <= ENOUGH
            && model.is_stable(values, &mut Scratch::default())
        {
            remedies.found.push(Remedy::FinerValues(values.clone()));
            let shelf = &remedies.given.shelf;
            let capacitors = finer(&shelf.capacitors).map(Trial::Capacitors);
            let resistors = finer(&shelf.resistors).map(Trial::Resistors);
            remedies
                .left
                .extend(capacitors.into_iter().chain(resistors));
        }
        remedies
    }

    /// Tries a piece more; ready when all is tried.
    pub fn step(&mut self, model: &Model, lists: &Lists, scratch: &mut Scratch) -> Poll<()> {
        if let Some(check) = &mut self.check {
            if let Poll::Ready(held) = check.search.step_on_the_list(&check.model) {
                let trial = check.trial;
                self.check = None;
                self.conclude(trial, held);
            }
            return Poll::Pending;
        }
        let Some(trial) = self.left.pop() else {
            return Poll::Ready(());
        };
        let faster = |factor: f64| model.faster(as_told(factor, model));
        let other = match trial {
            Trial::Faster(..) if model.slowest() == 0.0 => return Poll::Pending,
            Trial::Faster(first, last) if first == last => {
                let before = first.checked_sub(1).map_or(1.0, |before| FASTER[before]);
                self.left.push(match FASTER.get(first) {
                    Some(good) => Trial::Between(before, *good, HALVINGS),
                    None => Trial::Ideal,
                });
                return Poll::Pending;
            }
            Trial::Between(_, good, 0) => {
                let bandwidth = as_told(good, model) / model.slowest();
                self.found.push(Remedy::GainBandwidth(bandwidth));
                return Poll::Pending;
            }
            Trial::Faster(first, last) => faster(FASTER[(first + last) / 2]),
            Trial::Between(bad, good, _) => faster((bad * good).sqrt()),
            Trial::Ideal => model.with_op_amp(&OpAmp::IDEAL),
            Trial::Pins | Trial::Range | Trial::Resistors(_) | Trial::Capacitors(_) => {
                model.clone()
            }
        };
        let mut given = self.given.clone();
        let is_promising = match trial {
            Trial::Pins => {
                given.pins.clear();
                let free = lists.without_pins(model);
                self.is_enough(&other, &free, 1.0, scratch).is_some()
            }
            Trial::Range => {
                let values = self.is_enough(&other, lists, SHELF_FACTOR, scratch);
                if let Some(values) = &values {
                    reach(&mut given.shelf, model, values);
                }
                given.shelf != self.given.shelf
            }
            // Values between the shelf's hold already.
            Trial::Resistors(series) => {
                given.shelf.resistors.series = series;
                true
            }
            Trial::Capacitors(series) => {
                given.shelf.capacitors.series = series;
                true
            }
            _ => self.is_enough(&other, lists, 1.0, scratch).is_some(),
        };
        if is_promising {
            let search = Search::weighed(&other, &given.shelf, &given.pins, given.weights);
            self.check = Some(Box::new(Check {
                trial,
                model: other,
                search,
            }));
        } else {
            self.conclude(trial, None);
        }
        Poll::Pending
    }

    /// What a trial has come to: a set on its shelf that holds every limit, or none.
    fn conclude(&mut self, trial: Trial, held: Option<Vec<f64>>) {
        let is_held = held.is_some();
        let next = match trial {
            Trial::Faster(first, last) => {
                let middle = (first + last) / 2;
                Some(match is_held {
                    true => Trial::Faster(first, middle),
                    false => Trial::Faster(middle + 1, last),
                })
            }
            Trial::Between(bad, good, left) => {
                let middle = (bad * good).sqrt();
                Some(match is_held {
                    true => Trial::Between(bad, middle, left - 1),
                    false => Trial::Between(middle, good, left - 1),
                })
            }
            Trial::Resistors(series) if !is_held => next_finer(series).map(Trial::Resistors),
            Trial::Capacitors(series) if !is_held => next_finer(series).map(Trial::Capacitors),
            _ => None,
        };
        self.left.extend(next);
        let found = match (trial, held) {
            (Trial::Pins, Some(_)) => Some(Remedy::NoPins),
            (Trial::Ideal, Some(_)) => Some(Remedy::OtherOpAmp),
            (Trial::Range, Some(values)) => Some(Remedy::WiderRange(values)),
            (Trial::Resistors(series), Some(_)) => Some(Remedy::Resistors(series)),
            (Trial::Capacitors(series), Some(_)) => Some(Remedy::Capacitors(series)),
            _ => None,
        };
        self.found.extend(found);
    }

    /// Values with which the limits are held with room to spare, none further than `beyond` outside the lists.
    fn is_enough(
        &self,
        model: &Model,
        lists: &Lists,
        beyond: f64,
        scratch: &mut Scratch,
    ) -> Option<Vec<f64>> {
        let moves = all_moves(model, &lists.pinned);
        let widened = |movement: &Move| {
            let (low, high) = bounds(*movement, lists);
            (low - beyond.ln(), high + beyond.ln())
        };
        let bounds: Vec<(f64, f64)> = moves.iter().map(widened).collect();
        let way = Way {
            moves: &moves,
            bounds: &bounds,
            norm: Norm::Squares,
            close: 0.3 * ENOUGH,
            rounds: ROUNDS,
        };
        let mut state = 11;
        for number in 0..=STARTS {
            let values = match (number, &self.nearest) {
                (0, Some(nearest)) => nearest.clone(),
                _ => {
                    let chosen = with_chosen(model, lists, &mut state);
                    start(model, &chosen, &lists.pinned)
                }
            };
            let values = way.within(values);
            let Some(mut place) = by_and_by(model, values, way, scratch) else {
                continue;
            };
            place.descend(model, way, scratch);
            if place.miss(model.term_shape()) > ENOUGH {
                let worst = Way {
                    norm: Norm::Worst,
                    ..way
                };
                place.descend(model, worst, scratch);
            }
            if holds(model, &place) && model.is_stable(&place.values, scratch) {
                return Some(place.values);
            }
        }
        None
    }
}

fn holds(model: &Model, place: &Place) -> bool {
    place.miss(model.term_shape()) <= ENOUGH
}

/// A multiple of the op amps' gain-bandwidth that makes the slowest one's a number of two digits, as it is told.
fn as_told(factor: f64, model: &Model) -> f64 {
    let bandwidth = factor / model.slowest();
    let unit = 10f64.powf(bandwidth.log10().floor() - 1.0);
    to_digits((bandwidth / unit - 1e-9).ceil() * unit, 2) * model.slowest()
}

/// The next finer series than a bin's, if the bin has one.
fn finer(bin: &Bin) -> Option<Series> {
    match bin.list {
        Some(_) => None,
        None => next_finer(bin.series),
    }
}

fn next_finer(series: Series) -> Option<Series> {
    let mut all = Series::ALL.into_iter();
    all.find(|finer| finer.per_decade() > series.per_decade())
}

/// Widens a shelf so that it has values round these; what is sold by a list gets them themselves, in three digits.
fn reach(shelf: &mut Shelf, model: &Model, values: &[f64]) {
    let parts = model.netlist.parts().iter().zip(values).zip(&model.bought);
    for ((part, &value), _) in parts.filter(|(_, bought)| **bought) {
        let bin = match part.kind {
            Kind::Resistor { .. } => &mut shelf.resistors,
            Kind::Capacitor { .. } => &mut shelf.capacitors,
            Kind::OpAmp { .. } => continue,
        };
        match &mut bin.list {
            Some(list) if list.iter().all(|own| (own / value - 1.0).abs() > ROUNDING) => {
                list.push(to_digits(value, 3));
            }
            Some(_) => {}
            None => {
                let (low, high) = (value / NEIGHBOURS, value * NEIGHBOURS);
                bin.lowest = if value < bin.lowest { low } else { bin.lowest };
                bin.highest = if value > bin.highest {
                    high
                } else {
                    bin.highest
                };
            }
        }
    }
}
