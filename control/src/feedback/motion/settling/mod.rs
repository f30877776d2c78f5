//! When the closed loop has settled after a step, read off its slow poles: cheap enough for every board.
//!
//! The answer to a step is a sum over the closed loop's poles with the delay in it, each with the residue of
//! L/(1 + L)/s (Bellman and Cooke, "Differential-Difference Equations", ch. 6; from memory), and what is quick has faded
//! long before the answer is within its band for good. A board's poles are found from those of the board as marked.

mod characteristic;
mod root;
mod waves;

use std::cell::Cell;
use std::f64::consts::TAU;

use num_complex::Complex64;

use self::characteristic::{Jet, characteristic};
use self::root::{Root, grouped};
use self::waves::{Wave, settles};
use super::poles::starts;
use super::{Motion, MotionAsk, constants};
use crate::feedback::OpenLoop;
use crate::numerics::put_in_order;
use crate::plant::{Model, Plant};

/// A loop that settles sooner than after this fraction of the nominal time may need more poles.
const SOONER: f64 = 1.0 / 6.0;
/// Poles that have faded to this share of the band by then are left out.
const FAINT: f64 = 0.01;
/// What is left out must have faded to this share of the band in half the time in which a loop settles: its poles
/// are the nominal loop's, and this one's may be slower.
const UNHEARD: f64 = 0.05;
/// The poles' sum may miss so much of the answer, relative to the band, on an average over the settling time.
const MISSED: f64 = 0.5;
/// What a point of a motion costs, in waves that are looked at.
const NODE: usize = 20;
/// Poles that decay by more than e to this power within the delay are negligible after it.
const DELAYS: f64 = 2.0;

/// Reads loops that are like a nominal one.
#[derive(Clone)]
pub(in crate::feedback) struct Settling {
    /// The nominal loop's slow poles; none where they cannot be found.
    roots: Vec<Root>,
    /// The terms of its fast poles, which are left out.
    left_out: Vec<Wave>,
    /// A fraction of a step's end.
    band: f64,
    /// Work that was done beyond the usual; see [`Settling::take_spent`].
    spent: Cell<usize>,
}

impl Settling {
    /// Prepares for loops like this one; the band is that of [`MotionAsk::settle_band`].
    pub fn new(nominal: &OpenLoop, band: f64) -> Settling {
        let mut own = Settling {
            roots: Vec::new(),
            left_out: Vec::new(),
            band,
            spent: Cell::default(),
        };
        let Some(this) = Loop::of(nominal).filter(|this| !this.is_crowded()) else {
            return own;
        };
        let roots = this.roots().into_iter();
        let all: Vec<(Root, Vec<Wave>)> = roots
            .map(|root| (root, this.waves(root).collect()))
            .collect();
        let told = |wave: &&Wave| {
            let rate = -wave.pole.re;
            rate > 0.0 && rate * this.model.delay < DELAYS && wave.share.is_finite()
        };
        let falling = all.iter().flat_map(|(_, waves)| waves).filter(told);
        let falling: Vec<Wave> = falling.copied().collect();
        let level = band * this.end.abs();
        let Some(time) = settles(&falling, level, &own.spent) else {
            return own;
        };
        let early = SOONER * time;
        for (root, waves) in all {
            // A pole with a negligible residue here may have a larger one on another board, where no notch cancels it.
            let is_slow = |wave: &Wave| {
                let whole = Wave {
                    share: this.end.into(),
                    ..*wave
                };
                wave.size(early).max(whole.size(early)) > FAINT * level
            };
            if waves.iter().any(is_slow) {
                own.roots.push(root);
            } else {
                own.left_out.extend(waves);
            }
        }
        own
    }

    /// When a loop's answer to a step is for the last time outside the band round its end, s, as
    /// [`super::Figures::settling_time`]; NaN where that cannot be told. The loop must be stable.
    pub fn of(&self, open: &OpenLoop) -> f64 {
        let afresh = || {
            let own = Settling::new(open, self.band);
            let found = own.by_poles(open);
            self.spend(own.spent.get());
            found
        };
        let found = self.by_poles(open).or_else(afresh);
        found.or_else(|| self.in_full(open)).unwrap_or(f64::NAN)
    }

    /// From the slow poles; none where not all are found, or their sum is not accurate enough.
    fn by_poles(&self, open: &OpenLoop) -> Option<f64> {
        let this = Loop::of(open).filter(|_| !self.roots.is_empty())?;
        let level = self.band * this.end.abs();
        let mut found: Vec<Root> = Vec::with_capacity(self.roots.len());
        for root in &self.roots {
            found.push(root.polished(&|s| this.jet(s), &found)?);
        }
        let found = found.into_iter();
        let waves: Vec<Wave> = found.flat_map(|root| this.waves(root)).collect();
        let time = settles(&waves, level, &self.spent)?;
        let left = self.left_out.iter().map(|wave| wave.size(0.5 * time));
        let is_heard = left.sum::<f64>() > UNHEARD * level;
        // Before the delay is over there is no answer, and no sum for it.
        let is_told = time > this.model.delay && !is_heard && self.is_whole(this, &waves, time);
        is_told.then_some(time)
    }

    /// Whether a sum of waves is the loop's answer, judged by Laplace's transforms of both, which weigh the time
    /// until about `time`: a pole that was missed, with another in its place, shows there.
    fn is_whole(&self, this: Loop, waves: &[Wave], time: f64) -> bool {
        let rate = 1.0 / time;
        let (den, all) = characteristic(this.open, this.model, rate.into());
        let answer = ((all.value - den.value) / all.value).re;
        let sum = waves.iter().chain(&self.left_out);
        let sum = this.end + rate * sum.map(|wave| wave.transform(rate)).sum::<f64>();
        (answer - sum).abs() <= MISSED * self.band * this.end.abs()
    }

    fn in_full(&self, open: &OpenLoop) -> Option<f64> {
        let ask = MotionAsk {
            settle_band: self.band,
            ..MotionAsk::default()
        };
        let motion = Motion::work_out(open, &ask).ok()?;
        self.spend(NODE * motion.time.len());
        motion.figures.settling_time
    }

    fn spend(&self, work: usize) {
        self.spent.set(self.spent.get() + work);
    }

    /// What the loops that were read since have cost, in waves that were looked at; some ten of them take as long as a
    /// point of a loop's curve. A loop that is like the marked one costs some hundred.
    pub fn take_spent(&self) -> usize {
        self.spent.take()
    }
}

/// A loop with a model, and where a step of 1 ends.
#[derive(Clone, Copy)]
struct Loop<'a> {
    open: &'a OpenLoop<'a>,
    model: &'a Model,
    end: f64,
}

impl<'a> Loop<'a> {
    fn of(open: &'a OpenLoop) -> Option<Loop<'a>> {
        let Plant::Model(model) = open.plant else {
            return None;
        };
        // Round an end at 0 there is no band.
        let end = constants::step_end(open, model).filter(|end| *end != 0.0)?;
        Some(Loop { open, model, end })
    }

    /// Whether the gain reaches far beyond the delay: the answer then comes round as it went out, corners and all, and
    /// crowds of poles make it.
    fn is_crowded(self) -> bool {
        let turn = TAU * self.model.delay;
        let is_large = |angle: u32| self.open.at(f64::from(angle) / turn).norm() > (-DELAYS).exp();
        // A resonance is not as wide as this.
        turn > 0.0 && (6..=12).all(is_large)
    }

    fn jet(self, s: Complex64) -> Jet {
        characteristic(self.open, self.model, s).1
    }

    /// All poles that can be found, the slowest first.
    fn roots(self) -> Vec<Root> {
        let mut starts = grouped(&starts(self.open, self.model));
        let rate = |root: &Root| -root.places().0.re;
        put_in_order(&mut starts, |a, b| rate(a).total_cmp(&rate(b)));
        let mut found: Vec<Root> = Vec::new();
        for start in starts {
            found.extend(start.polished(&|s| self.jet(s), &found));
        }
        found
    }

    /// What poles have in the answer to a step of 1.
    fn waves(self, root: Root) -> impl Iterator<Item = Wave> {
        let (first, second) = root.places();
        let poles = [Some(first), second].into_iter().flatten();
        poles.map(move |pole| {
            let (den, all) = characteristic(self.open, self.model, pole);
            // Of conjugates one stands for both.
            let count = if pole.im == 0.0 { 1.0 } else { 2.0 };
            Wave {
                // N/(D + N)' over s, and N = −D.
                share: -count * den.value / (all.slope * pole),
                pole,
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Rigid;

    fn rigid(integrators: u32, gain: f64, delay: f64) -> Model {
        Model {
            rigid: Some(Rigid::new(integrators, gain)),
            delay,
            ..Model::default()
        }
    }

    fn round(model: &Model) -> OpenLoop<'_> {
        OpenLoop {
            stages: Vec::new(),
            plant: Plant::Model(model),
            sign: 1.0,
        }
    }

    /// 1 − e^(−k·t) is within 2 % after ln 50/k.
    #[test]
    fn an_integrator() {
        let (nominal, other) = (rigid(1, 30.0, 0.0), rigid(1, 40.0, 0.0));
        let settling = Settling::new(&round(&nominal), 0.02);
        let found = settling.by_poles(&round(&other)).expect("one pole");
        assert!((found - 50f64.ln() / 40.0).abs() < 1e-9, "{found}");
    }

    /// From 0.2/T to 0.8/T: two real poles, where it is 1/(e·T) one, and then two conjugates.
    #[test]
    fn an_integrator_with_a_delay_as_it_moves() {
        let nominal = rigid(1, 0.35 / 0.01, 0.01);
        let settling = Settling::new(&round(&nominal), 0.02);
        for k in 20..=80 {
            let model = rigid(1, f64::from(k), 0.01);
            let open = round(&model);
            let found = settling.by_poles(&open).expect("poles");
            let full = settling.in_full(&open).expect("it settles");
            assert!((found / full - 1.0).abs() < 2e-3, "{k}: {found} {full}");
        }
    }

    /// The error after n delays is gⁿ of its first, with g = 0.6: below 2 % from the eighth on. A quick
    /// lag lets the curve come to rest.
    #[test]
    fn a_gain_round_a_delay() {
        let mut model = rigid(0, 0.6, 1e-3);
        model.lag = Some(1e4);
        let settling = Settling::new(&round(&model), 0.02);
        assert!(settling.roots.is_empty());
        let found = settling.of(&round(&model));
        assert!((found / 8e-3 - 1.0).abs() < 0.02, "{found}");
    }

    #[test]
    fn a_pole_that_is_missed_shows() {
        let mut model = rigid(1, 10.0, 2e-3);
        model.lag = Some(20.0);
        let open = round(&model);
        let settling = Settling::new(&open, 0.02);
        let time = settling.by_poles(&open).expect("poles");
        let this = Loop::of(&open).expect("a model");
        let roots = settling.roots.iter();
        let waves: Vec<Wave> = roots.flat_map(|root| this.waves(*root)).collect();
        assert!(settling.is_whole(this, &waves, time));
        // The slowest comes first.
        assert!(!settling.is_whole(this, &waves[1..], time));
    }
}
