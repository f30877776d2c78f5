//! The exact solution: part values that meet the ask with the real op amp, before any shelf.

use super::descend::{Norm, Place, Way};
use super::moves::{Move, moves};
use crate::circuit::Kind;
use crate::parts::OpAmp;
use crate::stages::{Model, Scratch};

/// Part values that meet the ask as closely as they can, and how the misses move round them.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Values in the netlist's order.
    pub values: Vec<f64>,
    /// Misses there, see [`crate::stages::Yardstick::terms`].
    pub terms: Vec<f64>,
    /// Of the figures there those that make hints for reading curves nearby.
    pub figures: Vec<f64>,
    /// `slopes[m]` is how the terms change with the `m`th move ([`super::moves`]).
    pub(super) slopes: Vec<Vec<f64>>,
    /// How far each move has gone from what the stage's design equations give.
    gone: Vec<f64>,
}

/// Rounds of a descent, and of one on the way from the ideal op amp.
const ROUNDS: usize = 8;
const BETWEEN: usize = 4;
/// Where even the best solution misses by more than this, the worst miss is made small, not the squares.
const AT_ODDS: f64 = 0.2;
/// Where it misses by more, no set round it will hold the limits.
const HOPELESS: f64 = 4.0;
/// A start that misses by more is not near enough for the whole of the real op amp at once.
const FAR: f64 = 20.0;

/// Solves for the free parts: the stage's own design equations as a start, then down to the least misses with the
/// model's op amp, until no term misses by more than `close` limits. `values` carries the chosen parts and, where
/// `pinned`, the pinned ones; `like` is the solution for a similar set, which makes it shorter.
///
/// None when the response there cannot be read at all.
pub fn solve(
    model: &Model,
    values: &[f64],
    pinned: &[bool],
    close: f64,
    like: Option<&Solution>,
    scratch: &mut Scratch,
) -> Option<Solution> {
    solve_patiently(model, (values, pinned), close, like, &mut 1, scratch)
}

/// The same; each start from which the real op amp has to be come by in steps takes one from `patience`, and none
/// is made where that is used up.
pub(super) fn solve_patiently(
    model: &Model,
    (values, pinned): (&[f64], &[bool]),
    close: f64,
    like: Option<&Solution>,
    patience: &mut u32,
    scratch: &mut Scratch,
) -> Option<Solution> {
    let shape = model.term_shape();
    let moves = moves(model, pinned);
    let designed = start(model, values, pinned);
    let mut near = designed.clone();
    // What the real op amp asks for is mostly the same there; not where a start is out of its limits.
    for (movement, gone) in moves.iter().zip(like.map_or(&[][..], |like| &like.gone)) {
        movement.go(&mut near, *gone);
    }
    let hint = like.map(|like| like.figures.as_slice());
    let mut place = Place::at(model, near, hint, scratch);
    let miss = |place: &Option<Place>| place.as_ref().map_or(f64::INFINITY, |p| p.miss(shape));
    if like.is_some() && miss(&place) >= 1.0 {
        let other = Place::at(model, designed.clone(), None, scratch);
        if miss(&other) < miss(&place) {
            place = other;
        }
    }
    let way = Way {
        moves: &moves,
        bounds: &[],
        norm: Norm::Squares,
        close,
        rounds: ROUNDS,
    };
    if miss(&place) >= FAR && *patience > 0 {
        *patience -= 1;
        place = by_and_by(model, designed.clone(), way, scratch).or(place);
    }
    let mut place = place?;
    finish(model, &mut place, way, scratch);
    let gone = moves
        .iter()
        .map(|movement| movement.position(&place.values) - movement.position(&designed))
        .collect();
    Some(Solution::new(place, gone))
}

/// The same from values that are near already, those of a `place` but for chosen parts; `values` has all parts.
pub(super) fn solve_from(
    model: &Model,
    near: &Place,
    values: Vec<f64>,
    way: Way,
    scratch: &mut Scratch,
) -> Option<Solution> {
    let mut place = Place::at(model, values, Some(&near.figures), scratch)?;
    finish(model, &mut place, way, scratch);
    Some(Solution::new(place, Vec::new()))
}

/// Goes down to the least squares, and where these leave something to the least worst miss; the slopes are known then.
fn finish(model: &Model, place: &mut Place, way: Way, scratch: &mut Scratch) {
    place.descend(model, way, scratch);
    if (AT_ODDS..HOPELESS).contains(&place.miss(model.term_shape())) {
        let worst = Way {
            norm: Norm::Worst,
            ..way
        };
        place.descend(model, worst, scratch);
    }
    place.fill_in_slopes(model, way.moves, scratch);
}

impl Solution {
    /// How each divider's fraction moves the terms.
    pub(super) fn slopes_of_dividers<'a>(
        &'a self,
        model: &Model,
        pinned: &[bool],
    ) -> impl Iterator<Item = &'a [f64]> + use<'a> {
        let is_divider = |m: Move| matches!(m, Move::Divider { .. });
        let moves: Vec<bool> = moves(model, pinned).into_iter().map(is_divider).collect();
        let all = self.slopes.iter().zip(moves);
        all.filter_map(|(slope, is_divider)| is_divider.then_some(slope.as_slice()))
    }

    fn new(place: Place, gone: Vec<f64>) -> Solution {
        Solution {
            gone,
            values: place.values,
            terms: place.terms,
            figures: place.figures,
            slopes: place.slopes,
        }
    }
}

/// From the ideal op amp, for which the design equations hold, to the real one in steps: roots can then be
/// followed, and the values with them (continuation; Nocedal and Wright, 11.3).
pub(super) fn by_and_by(
    model: &Model,
    values: Vec<f64>,
    way: Way,
    scratch: &mut Scratch,
) -> Option<Place> {
    let shorter = Way {
        rounds: BETWEEN,
        ..way
    };
    let mut between = model.with_op_amp(&OpAmp::IDEAL);
    let mut at = Place::at(&between, values, None, scratch)?;
    for share in [0.05, 0.15, 0.3, 0.6, 1.0] {
        let real = model.op_amps().iter();
        between.set_op_amps(real.map(|inverses| inverses.map(|inverse| inverse * share)));
        let hint = Some(at.figures.as_slice());
        let Some(mut next) = Place::at(&between, at.values.clone(), hint, scratch) else {
            continue;
        };
        next.descend(&between, shorter, scratch);
        at = next;
    }
    // Where a step in between could not be read, the last one is read with the whole op amp.
    Place::at(model, at.values, Some(&at.figures), scratch)
}

/// The stage's design equations, with pinned values put back and a pinned half of a divider met by the other half;
/// what the equations leave without a value gets one of the right size.
pub(super) fn start(model: &Model, given: &[f64], pinned: &[bool]) -> Vec<f64> {
    let mut values = given.to_vec();
    model.stage.solve(&model.ask, &mut values);
    fill(model, &mut values);
    let wanted = values.clone();
    for (part, &is_pinned) in pinned.iter().enumerate() {
        if is_pinned {
            values[part] = given[part];
        }
    }
    // Parts that are to be alike follow one that is pinned.
    for parts in model.stage.grouping().solved {
        if let Some(&one) = parts.iter().find(|&&part| pinned[part]) {
            for &part in parts.iter().filter(|&&part| !pinned[part]) {
                values[part] = given[one];
            }
        }
    }
    for &(upper, lower) in model.stage.grouping().dividers {
        match (pinned[upper], pinned[lower]) {
            (true, false) => values[lower] = values[upper] * wanted[lower] / wanted[upper],
            (false, true) => values[upper] = values[lower] * wanted[upper] / wanted[lower],
            _ => {}
        }
    }
    values
}

/// Gives each bought part without a usable value the one whose impedance is that of the others at the ask's
/// frequency, or 10 kΩ.
fn fill(model: &Model, values: &mut [f64]) {
    let omega = model.scale.omega;
    let parts = model.netlist.parts();
    let is_usable = |value: f64| value > 0.0 && value.is_finite();
    let impedance = |part: usize, value: f64| match parts[part].kind {
        Kind::Resistor { .. } => value,
        Kind::Capacitor { .. } => 1.0 / (omega * value),
        Kind::OpAmp { .. } => 1.0,
    };
    let bought = || (0..values.len()).filter(|&part| model.bought[part]);
    if bought().all(|part| is_usable(values[part])) {
        return;
    }
    let known = bought()
        .filter(|&part| is_usable(values[part]))
        .filter(|&part| matches!(parts[part].kind, Kind::Capacitor { .. }))
        .map(|part| impedance(part, values[part]).ln());
    let known: Vec<f64> = known.collect();
    let level = match known.is_empty() {
        true => 10e3,
        false => (known.iter().sum::<f64>() / known.len() as f64).exp(),
    };
    for (part, value) in values.iter_mut().enumerate() {
        if model.bought[part] && !is_usable(*value) {
            // Either way about: an impedance's inverse is one too.
            *value = impedance(part, level);
        }
    }
}
