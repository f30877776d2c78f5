//! Notches and controller moved all at once, where moving one after the other gets stuck.
//!
//! A notch that its own peak does not need may still pay for itself by what it spares another; from notches that stand
//! one at each peak this is never come by one at a time. So all their numbers, and the controller's phase, are moved
//! freely, and after each step all notches together are made as narrow as just keeps the peaks (coordinate and random
//! search; Nocedal and Wright, "Numerical Optimization", ch. 9, on methods without derivatives).

use super::dip::Dip;
use super::over::SHALLOWEST;
use super::seating::Seating;
use super::trial::{Setting, Trial, Way};
use super::tune::phases;
use crate::random::uniform;
use crate::servo::advice::{LEAST_Q, MOST_Q};

/// Steps that are tried from each start.
const STEPS: usize = 600;
/// The first step of one number, and those of all at once, in units of [`Numbers`].
const FIRST: f64 = 0.2;
const WIDE: [f64; 4] = [0.2, 0.06, 0.02, 0.006];
/// A step of one number that gains makes its next one longer, one that does not shorter.
const LONGER: f64 = 1.6;
const SHORTER: f64 = 0.6;
/// How closely the peaks are kept, as ln of a ratio, how many steps are taken to it, and how long they are at the most.
const CLOSE: f64 = 3e-4;
const SECANTS: u32 = 8;
const NARROWEST: f64 = 0.7;
/// A notch that is worth less than this is none, degrees.
const HAIR: f64 = 0.02;
/// A helper begins at its peak, wide and shallow.
const HELPER: (f64, f64) = (0.7, 0.4);
/// What the first one leaves where none is known.
const DEEP: f64 = 0.01;

/// What may be moved: the controller's phase, and of each notch frequency, Q and gain, each in its own scale.
struct Numbers(Vec<f64>);

/// Degrees, a factor's logarithm and a gain that count as one.
const PHASE: f64 = 20.0;
const FREQUENCY: f64 = 0.3;
const GAIN: f64 = 0.5;

impl Numbers {
    fn of(trial: &Trial) -> Numbers {
        let mut all = vec![trial.phase / PHASE];
        for dip in trial.dips.iter().flatten() {
            // A gain far below 1 counts by its root.
            all.extend([
                dip.frequency.ln() / FREQUENCY,
                dip.q.ln(),
                dip.gain.sqrt() / GAIN,
            ]);
        }
        Numbers(all)
    }

    /// The phase, between its ends, and the notches that stand where `like` has some.
    fn stages(&self, like: &Trial, (low, high): (f64, f64)) -> (f64, Vec<Option<Dip>>) {
        let mut numbers = self.0.iter();
        let mut next = || numbers.next().copied().unwrap_or_default();
        let phase = (next() * PHASE).clamp(low, high);
        let dip = |dip: &Option<Dip>| {
            dip.is_some().then(|| Dip {
                frequency: (next() * FREQUENCY).exp(),
                q: next().exp(),
                gain: (next() * GAIN).max(0.0).powi(2).min(SHALLOWEST),
            })
        };
        (phase, like.dips.iter().map(dip).collect())
    }
}

impl Setting<'_> {
    /// The trial with the most margin that is come by from this one, and from wide notches at this phase; itself where
    /// nothing is gained.
    pub fn wandered(&self, from: Option<&Trial>, phase: f64) -> Option<Trial> {
        if matches!(self.way, Way::Alone(_)) {
            return from.cloned();
        }
        let mut starts: Vec<Trial> = from.cloned().into_iter().collect();
        let helped = from
            .cloned()
            .and_then(|mut trial| self.add_helpers(&mut trial).then_some(trial));
        starts.extend(helped);
        starts.extend(self.all_wide(phase));
        let mut best = from.cloned();
        for start in starts {
            let margin = best.as_ref().map_or(f64::NEG_INFINITY, |best| best.margin);
            let found = self.stroll(&start);
            if let Some(found) = found.filter(|found| found.margin > margin && self.is_kept(found))
            {
                best = Some(found);
            }
        }
        best
    }

    /// Wide notches at all peaks, the first one deep; none where there are none to keep.
    fn all_wide(&self, phase: f64) -> Option<Trial> {
        let low_pass = match self.way {
            Way::None => None,
            _ => {
                let (bare, controller) = self.bare(phase);
                Some(self.low_pass(&bare, &controller)??)
            }
        };
        let mut trial = self.trial(phase, low_pass, vec![None; self.ground.peaks.len()]);
        self.add_helpers(&mut trial);
        let first = trial.dips.iter_mut().flatten().next()?;
        first.gain = DEEP;
        Some(trial)
    }

    /// A wide notch at each peak but the one whose own costs most; whether there was any to add.
    fn add_helpers(&self, trial: &mut Trial) -> bool {
        let cost = |dip: &Option<Dip>| dip.map_or(0.0, |dip| dip.cost(self.aimed.crossover));
        let costs: Vec<f64> = trial.dips.iter().map(cost).collect();
        let main = (0..costs.len()).max_by(|&a, &b| costs[a].total_cmp(&costs[b]));
        let main = main.filter(|&main| costs[main] > 0.0);
        let peaks = self.ground.peaks.iter().zip(&self.aimed.levels);
        let mut is_new = false;
        for (place, (dip, (peak, level))) in trial.dips.iter_mut().zip(peaks).enumerate() {
            let frequency = (peak.drift.0 * peak.drift.1).sqrt();
            let (q, gain) = HELPER;
            let is_wide = dip.is_some_and(|dip| dip.q <= q);
            if Some(place) != main
                && !is_wide
                && level.is_some()
                && frequency > self.aimed.crossover
            {
                *dip = Some(Dip { frequency, q, gain });
                is_new = true;
            }
        }
        is_new
    }

    /// Steps of one number or of all, each kept if it is better; none where there is no way to keep the peaks from here.
    fn stroll(&self, from: &Trial) -> Option<Trial> {
        let mut state = 1;
        let mut any = || 2.0 * uniform(&mut state) - 1.0;
        let mut at = self.just_kept(Numbers::of(from), from)?;
        let count = Numbers::of(from).0.len();
        let mut alone = vec![FIRST; count];
        for step in 0..STEPS {
            let mut numbers = Numbers::of(&at);
            let one = (step % 2 == 0).then(|| step / 2 % count);
            match one {
                Some(one) => numbers.0[one] += alone[one],
                None => {
                    let wide = WIDE[step / 2 % WIDE.len()];
                    numbers
                        .0
                        .iter_mut()
                        .for_each(|number| *number += wide * any());
                }
            }
            let found = self.just_kept(numbers, &at);
            let found = found.filter(|found| found.margin > at.margin);
            if let Some(one) = one {
                // The other way about next time, and not so far.
                alone[one] *= if found.is_some() { LONGER } else { -SHORTER };
            }
            at = found.unwrap_or(at);
        }
        Some(self.without_needless(at))
    }

    /// The trial of these numbers with all notches as narrow as just keeps the peaks; none where there is none, or
    /// where a notch is in the wrong place. `like` has the same stages.
    fn just_kept(&self, numbers: Numbers, like: &Trial) -> Option<Trial> {
        let (phase, dips) = numbers.stages(like, phases(self.form));
        let (mut bare, _) = self.bare(phase);
        self.pass(like.low_pass.as_ref(), &mut bare);
        let seating = Seating::of(self, &bare);
        let narrower = |by: f64| {
            let narrow = |dip: Dip| Dip {
                q: dip.q * by.exp(),
                ..dip
            };
            let dips = dips.iter().map(|dip| dip.map(narrow));
            dips.collect::<Vec<_>>()
        };
        // Of a wide notch ln |H| rises about as ln Q does: secants from there.
        let over = |by: f64| seating.most_over(&narrower(by)).ln();
        let (mut by, mut slope) = (0.0, 1.0);
        let mut last = over(by);
        for _ in 0..SECANTS {
            if (-CLOSE..=0.0).contains(&last) {
                break;
            }
            let step = ((-0.5 * CLOSE - last) / slope).clamp(-NARROWEST, NARROWEST);
            let next = over(by + step);
            slope = ((next - last) / step).clamp(0.1, 10.0);
            (by, last) = (by + step, next);
        }
        let trial = self.trial(phase, like.low_pass, narrower(by));
        (last <= 0.0 && self.are_placed(&trial)).then_some(trial)
    }

    fn is_kept(&self, trial: &Trial) -> bool {
        let (mut bare, _) = self.bare(trial.phase);
        self.pass(trial.low_pass.as_ref(), &mut bare);
        let holds = Seating::of(self, &bare).holds(&trial.dips);
        holds && self.are_placed(trial) && self.rolls_off(trial)
    }

    /// Whether each notch is one, above the crossover and nearer to its own peak than to any other.
    fn are_placed(&self, trial: &Trial) -> bool {
        let middle = |place: usize| {
            let drift = self.ground.peaks[place].drift;
            (drift.0 * drift.1).sqrt()
        };
        let count = self.ground.peaks.len();
        trial.dips.iter().enumerate().all(|(place, dip)| {
            let Some(dip) = dip else { return true };
            let off = |place: usize| (dip.frequency / middle(place)).ln().abs();
            let x = dip.x(self.aimed.crossover);
            dip.frequency > self.aimed.crossover * 1.001
                && (LEAST_Q..=MOST_Q).contains(&dip.q)
                && x * x >= dip.gain
                && (0..count).all(|other| off(other) >= off(place))
        })
    }

    /// Without notches that the others can spare, if that costs no more than a hair.
    fn without_needless(&self, mut trial: Trial) -> Trial {
        for place in 0..trial.dips.len() {
            let mut dips = trial.dips.clone();
            if dips[place].take().is_some() {
                let without = self.trial(trial.phase, trial.low_pass, dips);
                if without.margin > trial.margin - HAIR && self.is_kept(&without) {
                    trial = without;
                }
            }
        }
        trial
    }
}
