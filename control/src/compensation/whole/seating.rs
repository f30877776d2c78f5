//! All notches of one loop, optimised together by block coordinate descent.
//!
//! Each notch in turn, with the others fixed and the loop scaled to 1 at the crossover, until none changes any more. What a
//! notch does for other peaks is credited to it by a shadow price: the phase that a change of those peaks' level costs
//! their own notches.

use super::dip::Dip;
use super::ground::Ground;
use super::over::Over;
use super::setting::Setting;
use crate::numerics::put_in_order;

/// Most sweeps over all notches.
const ROUNDS: usize = 8;
/// Convergence: the largest change of the notches' phase between sweeps, degrees.
const SETTLED: f64 = 0.01;
/// Frequencies at which a notch may leave more than this times the peak are inactive constraints.
const AWAY: f64 = 3.0;
/// Step of the finite difference by which the cost of a peak's level is computed, nepers.
const NEPER: f64 = 0.02;
/// Where no single notch satisfies a peak's limit, a wide one is placed there until the others have changed.
const WAITS: Dip = Dip {
    frequency: 0.0,
    q: 0.8,
    gain: 0.0,
};
/// Cost of the level of such a peak, degrees a neper.
const STUCK: f64 = 20.0;
/// Tolerance on a level: converged notches still change it by half a per cent between sweeps.
const OVER: f64 = 1.005;

/// The objective of one notch.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Seat {
    /// Its own peak alone.
    Alone,
    /// Its own peak, and the phase that it saves at other notches.
    Together,
    /// It is fixed; only the cost of its peak's level is computed.
    Weigh,
}

/// A loop's peaks without notches.
pub(super) struct Seating<'a> {
    ground: &'a Ground,
    /// Hz.
    crossover: f64,
    /// What each peak is over its level, by frequency (Hz); empty where it has none.
    bare: &'a [Vec<(f64, f64)>],
    /// Tolerances of the notches' frequencies and Qs.
    variations: (f64, f64),
}

/// Notches during the optimisation, one for each peak.
#[derive(Clone)]
struct Seats {
    dips: Vec<Option<Dip>>,
    /// Of each peak: the frequency of its maximum (Hz), and the cost of its level, degrees a neper.
    worth: Vec<(f64, f64)>,
}

impl<'a> Seating<'a> {
    pub fn of(setting: &Setting<'a>, bare: &'a [Vec<(f64, f64)>]) -> Seating<'a> {
        let wish = &setting.ground.wish;
        Seating {
            ground: setting.ground,
            crossover: setting.aimed.crossover,
            bare,
            variations: (wish.notch_frequency, wish.notch_q),
        }
    }

    /// The converged notches; `near` are the starting values.
    ///
    /// First each notch for its own peak; then, from there, with what it saves at the others: a wide notch may replace another.
    pub fn settled(&self, near: &[Option<Dip>]) -> Option<Vec<Option<Dip>>> {
        let mut dips: Vec<Option<Dip>> = near.to_vec();
        dips.resize(self.bare.len(), None);
        let alone = self.rounds(dips, false);
        let start = alone.clone().unwrap_or_else(|| vec![None; self.bare.len()]);
        if self.bare.iter().filter(|peak| !peak.is_empty()).count() < 2 {
            return alone;
        }
        if start.iter().flatten().count() < 2 && alone.is_some() {
            return alone;
        }
        let together = self.rounds(start, true);
        let cost = |dips: &Vec<Option<Dip>>| self.cost(dips);
        let both = alone.into_iter().chain(together);
        both.min_by(|a, b| cost(a).total_cmp(&cost(b)))
    }

    /// Phase cost of the notches at the crossover, degrees.
    fn cost(&self, dips: &[Option<Dip>]) -> f64 {
        let each = dips.iter().flatten();
        each.map(|dip| dip.cost(self.crossover)).sum()
    }

    /// Sweeps over all notches until convergence; with `together` the objective includes what each saves at the others.
    fn rounds(&self, dips: Vec<Option<Dip>>, together: bool) -> Option<Vec<Option<Dip>>> {
        let mut before = f64::INFINITY;
        let mut seats = Seats {
            worth: vec![(0.0, 0.0); dips.len()],
            dips,
        };
        if together {
            for place in 0..self.bare.len() {
                self.seat(&mut seats, place, Seat::Weigh)?;
            }
        }
        let seat = if together {
            Seat::Together
        } else {
            Seat::Alone
        };
        for _ in 0..ROUNDS {
            for place in 0..self.bare.len() {
                self.seat(&mut seats, place, seat)?;
            }
            // Converged, whether the limits are satisfied or not.
            let now = self.cost(&seats.dips);
            if (now - before).abs() < SETTLED {
                break;
            }
            before = now;
        }
        self.holds(&seats.dips).then_some(seats.dips)
    }

    /// One notch optimised, the others fixed. None where the loop has no finite gain.
    fn seat(&self, seats: &mut Seats, place: usize, seat: Seat) -> Option<()> {
        if self.bare[place].is_empty() {
            return Some(());
        }
        let over = self.over(&seats.dips, place);
        let top = over.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
        if !top.1.is_finite() {
            return None;
        }
        let Seats { dips, worth } = seats;
        if top.1 <= 1.0 {
            (dips[place], worth[place]) = (None, (0.0, 0.0));
            return Some(());
        }
        let far = over.iter().filter(|(_, size)| *size * AWAY > 1.0);
        let mut may: Vec<(f64, f64)> = far.map(|(f, size)| (*f, 1.0 / size)).collect();
        put_in_order(&mut may, |a, b| a.1.total_cmp(&b.1));
        let mut others = worth.clone();
        others.remove(place);
        others.retain(|(_, degrees)| *degrees > 0.0 && seat == Seat::Together);
        let over = Over {
            may: &may,
            crossover: self.crossover,
            drift: self.ground.peaks[place].drift,
            variations: self.variations,
            others: &others,
        };
        let is_near = |dip: &&Dip| worth[place].1 < STUCK || dip.gain > 0.0;
        let found = match seat {
            Seat::Weigh => dips[place],
            _ => over.best(dips[place].as_ref().filter(is_near)),
        };
        let degrees = found.map_or(STUCK, |dip| over.rise(&dip, NEPER).min(0.9 * STUCK));
        worth[place] = (top.0, degrees);
        dips[place] = Some(found.unwrap_or(Dip {
            frequency: top.0,
            ..WAITS
        }));
        Some(())
    }

    /// One peak over its level by frequency (Hz), all other notches at their worst within tolerance.
    fn over(&self, dips: &[Option<Dip>], place: usize) -> Vec<(f64, f64)> {
        let others: Vec<Dip> = (0..dips.len())
            .filter(|other| *other != place)
            .filter_map(|other| dips[other])
            .collect();
        let taken: f64 = others.iter().map(|dip| dip.size(self.crossover)).product();
        let worst = |f: f64| {
            let each = others.iter().map(|dip| dip.worst(f, self.variations));
            each.product::<f64>()
        };
        let left = |f: f64| worst(f) / taken;
        let points = self.bare[place].iter();
        points.map(|(f, size)| (*f, size * left(*f))).collect()
    }

    /// Whether all peaks are within their limits, all notches at their worst within tolerance.
    pub fn holds(&self, dips: &[Option<Dip>]) -> bool {
        self.most_over(dips) <= OVER
    }

    /// The largest peak over its level, all notches at their worst within tolerance.
    pub fn most_over(&self, dips: &[Option<Dip>]) -> f64 {
        let all = dips.iter().flatten();
        let taken: f64 = all.map(|dip| dip.size(self.crossover)).product();
        let over = self.bare.iter().flatten().map(|(f, size)| {
            let each = dips.iter().flatten();
            let left = each.map(|dip| dip.worst(*f, self.variations));
            size * left.product::<f64>() / taken
        });
        over.fold(0.0, |most, over| if over <= most { most } else { over })
    }
}
