//! What would bring an ask back that the whole shelf does not meet: each way is tried, none is guessed.

use std::task::Poll;

use super::descend::{Norm, Place, Way};
use super::exact::{by_and_by, start};
use super::lists::Lists;
use super::moves::{Move, all_moves};
use super::thorough::{bounds, with_chosen};
use crate::parts::OpAmp;
use crate::stages::{Model, Scratch};

/// One thing that would be enough by itself.
#[derive(Clone, Debug, PartialEq)]
pub enum Remedy {
    /// Values between the shelf's: these, in the netlist's order.
    FinerValues(Vec<f64>),
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

/// The trials, one a step.
pub(super) struct Remedies {
    left: Vec<Trial>,
    /// The place that came nearest, with values of any size between the shelf's ends.
    nearest: Option<Vec<f64>>,
    pub found: Vec<Remedy>,
}

#[derive(Clone, Copy)]
enum Trial {
    Pins,
    Range,
    Ideal,
    /// The least of [`FASTER`] that does stands from the first on and, if any does, not behind the second.
    Faster(usize, usize),
    /// Between these multiples of the op amp's gain-bandwidth, so many times more.
    Between(f64, f64, usize),
}

impl Remedies {
    /// `least` is the least miss between the shelf's ends and the values that have it.
    pub fn new(lists: &Lists, least: Option<&(f64, Vec<f64>)>) -> Remedies {
        let mut remedies = Remedies {
            left: vec![Trial::Faster(0, FASTER.len()), Trial::Range],
            nearest: least.map(|(_, values)| values.clone()),
            found: Vec::new(),
        };
        if let Some((miss, values)) = least
            && *miss <= ENOUGH
        {
            remedies.found.push(Remedy::FinerValues(values.clone()));
        }
        if lists.pinned.contains(&true) {
            remedies.left.push(Trial::Pins);
        }
        remedies
    }

    /// Tries the next one; ready when there are none left.
    pub fn step(&mut self, model: &Model, lists: &Lists, scratch: &mut Scratch) -> Poll<()> {
        let Some(trial) = self.left.pop() else {
            return Poll::Ready(());
        };
        let bandwidth = |factor: f64| factor / model.slowest();
        match trial {
            Trial::Pins => {
                let free = lists.without_pins(model);
                if self.is_enough(model, &free, 1.0, scratch).is_some() {
                    self.found.push(Remedy::NoPins);
                }
            }
            Trial::Range => {
                let values = self.is_enough(model, lists, SHELF_FACTOR, scratch);
                let is_known = |r: &Remedy| matches!(r, Remedy::FinerValues(_));
                if let Some(values) = values.filter(|_| !self.found.iter().any(is_known)) {
                    self.found.push(Remedy::WiderRange(values));
                }
            }
            Trial::Faster(..) if model.slowest() == 0.0 => {
                return match self.left.is_empty() {
                    true => Poll::Ready(()),
                    false => Poll::Pending,
                };
            }
            Trial::Faster(first, last) if first == last => {
                let before = first.checked_sub(1).map_or(1.0, |before| FASTER[before]);
                self.left.push(match FASTER.get(first) {
                    Some(good) => Trial::Between(before, *good, HALVINGS),
                    None => Trial::Ideal,
                });
            }
            Trial::Faster(first, last) => {
                let middle = (first + last) / 2;
                let held = self.is_enough(&model.faster(FASTER[middle]), lists, 1.0, scratch);
                self.left.push(match held {
                    Some(_) => Trial::Faster(first, middle),
                    None => Trial::Faster(middle + 1, last),
                });
            }
            Trial::Between(_, good, 0) => self.found.push(Remedy::GainBandwidth(bandwidth(good))),
            Trial::Between(bad, good, left) => {
                let middle = (bad * good).sqrt();
                let held = self.is_enough(&model.faster(middle), lists, 1.0, scratch);
                self.left.push(match held {
                    Some(_) => Trial::Between(bad, middle, left - 1),
                    None => Trial::Between(middle, good, left - 1),
                });
            }
            Trial::Ideal => {
                let ideal = model.with_op_amp(&OpAmp::IDEAL);
                if self.is_enough(&ideal, lists, 1.0, scratch).is_some() {
                    self.found.push(Remedy::OtherOpAmp);
                }
            }
        }
        Poll::Pending
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
            if holds(model, &place) {
                return Some(place.values);
            }
        }
        None
    }
}

fn holds(model: &Model, place: &Place) -> bool {
    place.miss(model.term_shape()) <= ENOUGH
}
