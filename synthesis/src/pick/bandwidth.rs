//! How slow an op amp may be.

use super::descend::{Norm, Place, Way};
use super::exact::by_and_by;
use super::moves::moves;
use crate::numerics::Bracket;
use crate::stages::{Model, Scratch};

/// How much slower each next op amp is.
const STRIDE: f64 = 1.4;
const STRIDES: usize = 60;
/// A bisection's end, as a ratio of gain-bandwidths.
const CLOSE: f64 = 1.05;
const ROUNDS: usize = 8;

/// The least gain-bandwidth (Hz, to 5 %) with which an ask can be held when the solved parts are solved anew for it,
/// values between the shelf's allowed; `values` is a set with the chosen parts. None when no gain-bandwidth is
/// enough, or the circuit has no op amp.
pub fn least_gain_bandwidth(model: &Model, values: &[f64]) -> Option<f64> {
    let own = model.slowest();
    if own == 0.0 {
        return None;
    }
    let mut scratch = Scratch::default();
    let pinned = vec![false; values.len()];
    let moves = moves(model, &pinned);
    let way = Way {
        moves: &moves,
        bounds: &[],
        norm: Norm::Squares,
        close: 0.1,
        rounds: ROUNDS,
    };
    let mut solve = |inverse: f64, from: &Place| -> Option<Place> {
        let slower = model.faster(own / inverse);
        let hint = Some(from.figures.as_slice());
        let mut place = Place::at(&slower, from.values.clone(), hint, &mut scratch)?;
        place.descend(&slower, way, &mut scratch);
        if place.miss(model.term_shape()) > 1.0 {
            let worst = Way {
                norm: Norm::Worst,
                ..way
            };
            place.descend(&slower, worst, &mut scratch);
        }
        (place.miss(model.term_shape()) <= 1.0).then_some(place)
    };
    let mut ends = Scratch::default();
    let start = Place::at(model, values.to_vec(), None, &mut ends)
        .or_else(|| by_and_by(model, values.to_vec(), way, &mut ends))?;
    let (mut slowest, mut place) = bracketed(own, start, &mut solve)?;
    while slowest.fails / slowest.holds > CLOSE {
        let middle = slowest.log_middle();
        let found = solve(middle, &place);
        slowest.learn(middle, found.is_some());
        place = found.unwrap_or(place);
    }
    Some(1.0 / slowest.holds)
}

/// One over gain-bandwidths between which the least lies, and the parts for the one that is enough: from the model's own
/// op amp to slower ones, or to faster ones where that is too slow. None when none is enough.
fn bracketed(
    own: f64,
    start: Place,
    solve: &mut impl FnMut(f64, &Place) -> Option<Place>,
) -> Option<(Bracket, Place)> {
    let mut bracket = Bracket {
        holds: own,
        fails: own,
    };
    let Some(mut place) = solve(own, &start) else {
        for _ in 0..STRIDES {
            bracket.holds = bracket.fails / STRIDE;
            if let Some(place) = solve(bracket.holds, &start) {
                return Some((bracket, place));
            }
            bracket.fails = bracket.holds;
        }
        return None;
    };
    for _ in 0..STRIDES {
        bracket.fails = bracket.holds * STRIDE;
        let Some(found) = solve(bracket.fails, &place) else {
            break;
        };
        (bracket.holds, place) = (bracket.fails, found);
    }
    Some((bracket, place))
}
