//! All notches of one loop, optimised together by block coordinate descent.
//!
//! Each notch in turn, with the others fixed and the loop scaled to 1 at the crossover, until none changes any more. What a
//! notch does for other peaks is credited to it by a shadow price: the phase that a change of those peaks' level costs
//! their own notches.

use super::dip::Dip;
use super::ground::Ground;
use super::over::Over;
use super::trial::Setting;

/// Rounds over all notches at most.
const ROUNDS: usize = 8;
/// Notches that turn the phase by less from round to round have settled, degrees.
const SETTLED: f64 = 0.01;
/// Points at which a notch might leave more than this times the peak do not matter to it.
const AWAY: f64 = 3.0;
/// What a neper of a peak costs is read over so much of it.
const NEPER: f64 = 0.02;
/// Where no notch of its own is enough, a wide one waits at the peak for what the others can do.
const WAITS: Dip = Dip {
    frequency: 0.0,
    q: 0.8,
    gain: 0.0,
};
/// What a neper costs there, degrees.
const STUCK: f64 = 20.0;
/// What settled notches may leave over a level: half a per cent is between them from round to round.
const OVER: f64 = 1.005;

/// How one notch is looked for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Seat {
    /// For its own peak's sake.
    Alone,
    /// For the others' as well.
    Together,
    /// It stays; only what its peak costs is read.
    Weigh,
}

/// A loop's peaks without notches.
pub(super) struct Seating<'a> {
    ground: &'a Ground,
    /// Hz.
    crossover: f64,
    /// What each peak is over its level, by frequency (Hz); empty where it has none.
    bare: &'a [Vec<(f64, f64)>],
    /// How far notches stray in frequency and Q.
    strays: (f64, f64),
}

/// Notches while they are looked for, one a peak.
#[derive(Clone)]
struct Seats {
    dips: Vec<Option<Dip>>,
    /// Of each peak: where it is highest (Hz), and degrees that a neper there costs.
    worth: Vec<(f64, f64)>,
}

impl<'a> Seating<'a> {
    pub fn of(setting: &Setting<'a>, bare: &'a [Vec<(f64, f64)>]) -> Seating<'a> {
        let wish = &setting.ground.wish;
        Seating {
            ground: setting.ground,
            crossover: setting.aimed.crossover,
            bare,
            strays: (wish.notch_frequency, wish.notch_q),
        }
    }

    /// The notches, when they have settled; they begin where they are `near`.
    ///
    /// First each for itself, and then, from there, each for the others as well: a wide one may spare another.
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

    /// Phase that notches take at the crossover, degrees.
    fn cost(&self, dips: &[Option<Dip>]) -> f64 {
        let each = dips.iter().flatten();
        each.map(|dip| dip.cost(self.crossover)).sum()
    }

    /// Rounds over all notches until they have settled; `together` counts what each does for the others.
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
            // Notches that move no more, whether they are enough or not.
            let now = self.cost(&seats.dips);
            if (now - before).abs() < SETTLED {
                break;
            }
            before = now;
        }
        self.holds(&seats.dips).then_some(seats.dips)
    }

    /// One notch anew, the others in place. None where the loop has no finite gain.
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
        may.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut others = worth.clone();
        others.remove(place);
        others.retain(|(_, degrees)| *degrees > 0.0 && seat == Seat::Together);
        let over = Over {
            may: &may,
            crossover: self.crossover,
            drift: self.ground.peaks[place].drift,
            strays: self.strays,
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

    /// What one peak is over its level with all other notches at their worst, by frequency (Hz).
    fn over(&self, dips: &[Option<Dip>], place: usize) -> Vec<(f64, f64)> {
        let others: Vec<Dip> = (0..dips.len())
            .filter(|other| *other != place)
            .filter_map(|other| dips[other])
            .collect();
        let taken: f64 = others.iter().map(|dip| dip.size(self.crossover)).product();
        let worst = |f: f64| {
            let each = others.iter().map(|dip| dip.worst(f, self.strays));
            each.product::<f64>()
        };
        let left = |f: f64| worst(f) / taken;
        let points = self.bare[place].iter();
        points.map(|(f, size)| (*f, size * left(*f))).collect()
    }

    /// Whether all peaks are kept, all notches at their worst.
    pub fn holds(&self, dips: &[Option<Dip>]) -> bool {
        self.most_over(dips) <= OVER
    }

    /// What the worst peak is over its level, all notches at their worst.
    pub fn most_over(&self, dips: &[Option<Dip>]) -> f64 {
        let all = dips.iter().flatten();
        let taken: f64 = all.map(|dip| dip.size(self.crossover)).product();
        let over = self.bare.iter().flatten().map(|(f, size)| {
            let each = dips.iter().flatten();
            let left = each.map(|dip| dip.worst(*f, self.strays));
            size * left.product::<f64>() / taken
        });
        over.fold(0.0, |most, over| if over <= most { most } else { over })
    }
}
