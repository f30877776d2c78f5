//! A controller whose phase is given, with all the notches that it needs.
//!
//! With the crossover and the controller's phase given, the controller is known but for its gain, and its gain is
//! what brings |L| to 1 there, whatever the notches. So they are looked for one after the other, each with the
//! others in place and scaled to 1 at the crossover, and again until they stay where they are. What a notch does
//! for other peaks counts for it by what a change of those peaks' level costs their own notches.

use super::dip::{Dip, Over};
use super::ground::{Aimed, Ground};
use crate::response::Transfer;
use crate::servo::{Controller, ControllerForm, LowPass};

/// How a low-pass helps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// Not at all.
    None,
    /// Instead of notches, of this order.
    Alone(u32),
    /// Beside notches: its order, and its corner over the crossover.
    Beside(u32, f64),
}

/// What a trial comes to.
#[derive(Clone, Debug)]
pub(super) struct Trial {
    pub form: ControllerForm,
    /// Phase of the controller at the crossover, degrees.
    pub phase: f64,
    /// Phase margin, degrees.
    pub margin: f64,
    pub low_pass: Option<LowPass>,
    /// One a peak.
    pub dips: Vec<Option<Dip>>,
}

/// Rounds over all notches at most.
const ROUNDS: usize = 8;
/// Notches that turn the phase by less from round to round have settled, degrees.
const SETTLED: f64 = 0.01;
/// Levels a hair lower than asked, for what lies between the grid's points.
const HAIR: f64 = 0.996;
/// Points at which a notch might leave more than this times the peak do not matter to it.
const AWAY: f64 = 3.0;

impl Trial {
    /// How many stages it takes, amplifiers aside.
    pub fn stages(&self) -> usize {
        1 + self.dips.iter().flatten().count() + usize::from(self.low_pass.is_some())
    }

    /// Everything but the plant and the other stages, scaled to 1 at the crossover (Hz).
    pub fn transfers(&self, crossover: f64) -> Vec<Transfer> {
        let mut all = vec![Controller::of(self.form, crossover, self.phase, 1.0).transfer()];
        all.extend(self.dips.iter().flatten().map(Dip::transfer));
        all.extend(self.low_pass.map(|low_pass| low_pass.transfer()));
        let taken: f64 = all.iter().map(|t| t.at(crossover).norm()).product();
        for coefficient in &mut all[0].num {
            *coefficient /= taken;
        }
        all
    }

    /// The highest gain above the crossover over that at the crossover.
    pub fn noise_gain(&self, crossover: f64) -> f64 {
        let all = self.transfers(crossover);
        let size = |f: f64| all.iter().map(|t| t.at(f).norm()).product::<f64>();
        let grid = crate::response::log_grid(crossover, crossover * 1e3, 60);
        grid.into_iter().map(size).fold(1.0, f64::max)
    }
}

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

/// A trial's givens.
pub(super) struct Setting<'a> {
    pub ground: &'a Ground,
    pub aimed: &'a Aimed,
    pub form: ControllerForm,
    pub way: Way,
    /// What each peak's level is multiplied by, for what real parts leave more.
    pub tighter: &'a [f64],
}

impl Setting<'_> {
    /// With the controller's phase in degrees; notches begin where they are `near`. None where no notches, or no
    /// low-pass, keep the levels.
    pub fn tried(&self, phase: f64, near: &[Option<Dip>]) -> Option<Trial> {
        let Aimed {
            crossover, needed, ..
        } = *self.aimed;
        let controller = Controller::of(self.form, crossover, phase, 1.0).transfer();
        let bare = self.levels_over(&|f| controller.at(f).norm() * self.aimed.gain);
        let low_pass = self.low_pass(&bare, &controller)?;
        let mut bare = bare;
        let mut turned = phase - needed;
        if let Some(low_pass) = &low_pass {
            let transfer = low_pass.transfer();
            let taken = transfer.at(crossover);
            turned += taken.arg().to_degrees();
            let own = |f: f64| transfer.at(f).norm() / taken.norm();
            for (f, size) in bare.iter_mut().flatten() {
                *size *= own(*f);
            }
        }
        let dips = match self.way {
            Way::Alone(_) => vec![None; bare.len()],
            _ => self.settled(&bare, near)?,
        };
        let cost: f64 = dips.iter().flatten().map(|dip| dip.cost(crossover)).sum();
        let trial = Trial {
            form: self.form,
            phase,
            margin: self.aimed.phase_margin + turned - cost,
            low_pass,
            dips,
        };
        (trial.margin.is_finite() && self.rolls_off(&trial)).then_some(trial)
    }

    /// Each peak's |L| over what is asked, relative to a loop without controller.
    fn levels_over(&self, size: &impl Fn(f64) -> f64) -> Vec<Vec<(f64, f64)>> {
        let peaks = self.ground.peaks.iter().zip(&self.aimed.levels);
        let mut tighter = self.tighter.iter().copied();
        peaks
            .map(|(peak, level)| {
                let tighter = tighter.next().unwrap_or(1.0);
                let Some(level) = level else {
                    return Vec::new();
                };
                let level = level * tighter * HAIR;
                let points = peak.grid.iter();
                points
                    .map(|(f, largest)| (*f, largest * size(*f) / level))
                    .collect()
            })
            .collect()
    }

    /// The low-pass that this way takes; none at all where none does.
    fn low_pass(&self, bare: &[Vec<(f64, f64)>], controller: &Transfer) -> Option<Option<LowPass>> {
        let crossover = self.aimed.crossover;
        let of = |order, ratio: f64| {
            let mut low_pass = LowPass {
                order,
                corner: crossover * ratio,
                cost_deg: 0.0,
                loss_db: 0.0,
            };
            let there = low_pass.transfer().at(crossover);
            low_pass.cost_deg = -there.arg().to_degrees();
            low_pass.loss_db = 20.0 * there.norm().log10();
            low_pass
        };
        match self.way {
            Way::None => Some(None),
            Way::Beside(order, ratio) => Some(Some(of(order, ratio))),
            Way::Alone(order) => {
                let keeps = |ratio: f64| {
                    let transfer = of(order, ratio).transfer();
                    let taken = transfer.at(crossover).norm();
                    let own = |f: f64| transfer.at(f).norm() / taken;
                    let mut points = bare.iter().flatten();
                    points.all(|(f, size)| size * own(*f) <= 1.0)
                        && self.keeps_roll_off(&|f| controller.at(f).norm() * own(f))
                };
                // The highest corner that does, which costs least.
                let (mut low, mut high) = (1.0f64, 1e3);
                if keeps(high) {
                    return Some(Some(of(order, high)));
                }
                if !keeps(low) {
                    return None;
                }
                for _ in 0..18 {
                    let middle = (low * high).sqrt();
                    if keeps(middle) {
                        low = middle;
                    } else {
                        high = middle;
                    }
                }
                Some(Some(of(order, low)))
            }
        }
    }

    /// Whether |L| keeps the roll-off with stages of this size in all.
    fn keeps_roll_off(&self, size: &impl Fn(f64) -> f64) -> bool {
        let Some(roll_off) = self.ground.wish.roll_off else {
            return true;
        };
        let mut points = self.ground.above.iter();
        let may = HAIR * roll_off.level / self.aimed.gain;
        points.all(|(f, largest)| *f <= self.aimed.crossover || largest * size(*f) <= may)
    }

    fn rolls_off(&self, trial: &Trial) -> bool {
        if self.ground.above.is_empty() {
            return true;
        }
        let all = trial.transfers(self.aimed.crossover);
        self.keeps_roll_off(&|f| all.iter().map(|t| t.at(f).norm()).product())
    }

    /// The notches, when they have settled; `bare` is what each peak is over its level without them.
    ///
    /// First each for itself, and then, from there, each for the others as well: a wide one may spare another.
    fn settled(&self, bare: &[Vec<(f64, f64)>], near: &[Option<Dip>]) -> Option<Vec<Option<Dip>>> {
        let mut dips: Vec<Option<Dip>> = near.to_vec();
        dips.resize(bare.len(), None);
        let alone = self.rounds(bare, dips, false);
        let start = alone.clone().unwrap_or_else(|| vec![None; bare.len()]);
        if bare.iter().filter(|peak| !peak.is_empty()).count() < 2 {
            return alone;
        }
        if start.iter().flatten().count() < 2 && alone.is_some() {
            return alone;
        }
        let together = self.rounds(bare, start, true);
        let cost = |dips: &Vec<Option<Dip>>| self.cost(dips);
        let both = alone.into_iter().chain(together);
        both.min_by(|a, b| cost(a).total_cmp(&cost(b)))
    }

    /// Phase that notches take at the crossover, degrees.
    fn cost(&self, dips: &[Option<Dip>]) -> f64 {
        let each = dips.iter().flatten();
        each.map(|dip| dip.cost(self.aimed.crossover)).sum()
    }

    /// Rounds over all notches until they have settled; `together` counts what each does for the others.
    fn rounds(
        &self,
        bare: &[Vec<(f64, f64)>],
        mut dips: Vec<Option<Dip>>,
        together: bool,
    ) -> Option<Vec<Option<Dip>>> {
        let mut before = f64::INFINITY;
        let mut worth = vec![(0.0, 0.0); bare.len()];
        if together {
            for place in 0..bare.len() {
                self.seat(bare, &mut dips, &mut worth, place, Seat::Weigh)?;
            }
        }
        for _ in 0..ROUNDS {
            for place in 0..bare.len() {
                let seat = if together {
                    Seat::Together
                } else {
                    Seat::Alone
                };
                self.seat(bare, &mut dips, &mut worth, place, seat)?;
            }
            // Notches that move no more, whether they are enough or not.
            let now = self.cost(&dips);
            if (now - before).abs() < SETTLED {
                break;
            }
            before = now;
        }
        self.holds(bare, &dips).then_some(dips)
    }

    /// One notch anew, the others in place. None where the loop has no finite gain.
    fn seat(
        &self,
        bare: &[Vec<(f64, f64)>],
        dips: &mut [Option<Dip>],
        worth: &mut [(f64, f64)],
        place: usize,
        seat: Seat,
    ) -> Option<()> {
        // What a neper of a peak costs is read over so much of it.
        const NEPER: f64 = 0.02;
        let crossover = self.aimed.crossover;
        if bare[place].is_empty() {
            return Some(());
        }
        let others: Vec<Dip> = (0..dips.len())
            .filter(|other| *other != place)
            .filter_map(|other| dips[other])
            .collect();
        let taken: f64 = others.iter().map(|dip| dip.size(crossover)).product();
        let strays = (self.ground.wish.notch_frequency, self.ground.wish.notch_q);
        let worst = |f: f64| {
            others
                .iter()
                .map(|dip| dip.worst(f, strays))
                .product::<f64>()
        };
        let left = |f: f64| worst(f) / taken;
        let points = bare[place].iter();
        let over: Vec<(f64, f64)> = points.map(|(f, size)| (*f, size * left(*f))).collect();
        let top = over.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
        if !top.1.is_finite() {
            return None;
        }
        if top.1 <= 1.0 {
            (dips[place], worth[place]) = (None, (0.0, 0.0));
            return Some(());
        }
        let far = over.iter().filter(|(_, size)| *size * AWAY > 1.0);
        let mut may: Vec<(f64, f64)> = far.map(|(f, size)| (*f, 1.0 / size)).collect();
        may.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut elsewhere = worth.to_vec();
        elsewhere.remove(place);
        elsewhere.retain(|(_, degrees)| *degrees > 0.0 && seat == Seat::Together);
        let over = Over {
            may: &may,
            crossover,
            drift: self.ground.peaks[place].drift,
            strays,
            others: &elsewhere,
        };
        // Where no notch of its own is enough, a wide one waits for what the others can do.
        const WAITS: Dip = Dip {
            frequency: 0.0,
            q: 0.8,
            gain: 0.0,
        };
        const STUCK: f64 = 20.0;
        let is_near = |dip: &&Dip| worth[place].1 < STUCK || dip.gain > 0.0;
        let found = match seat {
            Seat::Weigh => dips[place],
            _ => over.best(dips[place].as_ref().filter(is_near)),
        };
        match found {
            Some(dip) => {
                worth[place] = (top.0, over.rise(&dip, NEPER).min(0.9 * STUCK));
                dips[place] = Some(dip);
            }
            None => {
                worth[place] = (top.0, STUCK);
                dips[place] = Some(Dip {
                    frequency: top.0,
                    ..WAITS
                });
            }
        }
        Some(())
    }

    /// Whether all peaks are kept, all notches at their worst.
    fn holds(&self, bare: &[Vec<(f64, f64)>], dips: &[Option<Dip>]) -> bool {
        let strays = (self.ground.wish.notch_frequency, self.ground.wish.notch_q);
        let crossover = self.aimed.crossover;
        let all = dips.iter().flatten();
        let taken: f64 = all.map(|dip| dip.size(crossover)).product();
        bare.iter().all(|points| {
            points.iter().all(|(f, size)| {
                let left = dips.iter().flatten().map(|dip| dip.worst(*f, strays));
                // Half a per cent: what rounds leave between notches that have settled.
                size * left.product::<f64>() / taken <= 1.005
            })
        })
    }
}
