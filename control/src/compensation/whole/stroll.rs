//! Random local search over all parameters of a trial at once: a step is kept if the margin becomes larger.
//!
//! After each step all notches together are made as narrow as the peak limits allow (coordinate and random search;
//! Nocedal and Wright, "Numerical Optimization", ch. 9, on methods without derivatives).

use super::dip::Dip;
use super::over::SHALLOWEST;
use super::phases::phases;
use super::seating::Seating;
use super::setting::Setting;
use super::trial::Trial;
use crate::random::uniform;

/// Most steps of a search, and steps in one slice.
const STEPS: usize = 600;
const AT_ONCE: usize = 20;
/// Initial step in one coordinate, and steps in all coordinates, in the scales of [`Numbers`].
const FIRST: f64 = 0.2;
const WIDE: [f64; 4] = [0.2, 0.06, 0.02, 0.006];
/// Factors on a coordinate's step after a success and after a failure.
const LONGER: f64 = 1.6;
const SHORTER: f64 = 0.6;
/// Tolerance on the peaks (ln of a ratio), most iterations to reach it, and the longest step.
const CLOSE: f64 = 3e-4;
const SECANTS: u32 = 8;
const NARROWEST: f64 = 0.7;

/// The coordinates: the controller's phase, and frequency, Q and gain of each notch, each in its own scale.
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

/// The state of a search.
#[derive(Clone)]
pub(super) struct Stroll {
    pub at: Trial,
    /// The next step in each coordinate.
    alone: Vec<f64>,
    step: usize,
    state: u64,
}

impl Stroll {
    /// Starts at these values; none where the peak limits cannot be satisfied from there.
    pub fn begin(setting: &Setting, from: &Trial) -> Option<Stroll> {
        let at = setting.just_kept(Numbers::of(from), from)?;
        Some(Stroll {
            alone: vec![FIRST; Numbers::of(&at).0.len()],
            at,
            step: 0,
            state: 1,
        })
    }

    pub fn is_done(&self) -> bool {
        self.step >= STEPS
    }

    /// Some more steps: in one coordinate, and in all, alternately.
    pub fn go_on(&mut self, setting: &Setting) {
        for step in self.step..(self.step + AT_ONCE).min(STEPS) {
            let mut numbers = Numbers::of(&self.at);
            let count = numbers.0.len();
            let one = (step % 2 == 0).then(|| step / 2 % count);
            match one {
                Some(one) => numbers.0[one] += self.alone[one],
                None => {
                    let wide = WIDE[step / 2 % WIDE.len()];
                    for number in &mut numbers.0 {
                        *number += wide * (2.0 * uniform(&mut self.state) - 1.0);
                    }
                }
            }
            let found = setting.just_kept(numbers, &self.at);
            let found = found.filter(|found| found.margin > self.at.margin);
            if let Some(one) = one {
                // A failure reverses the direction and shortens the step.
                self.alone[one] *= if found.is_some() { LONGER } else { -SHORTER };
            }
            if let Some(found) = found {
                self.at = found;
            }
            self.step = step + 1;
        }
    }
}

impl Setting<'_> {
    /// The trial at these values with all notches as narrow as the peak limits allow; none where there is none, or
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
}
