//! Shaping with parts off the shelf and a real op amp, in slices.

use std::task::Poll;

use super::attempt::{Attempt, Made, Tried, Workshop};
use super::short::BuiltShort;
use super::{ShapeError, ShapeWish, Traced, aim, told};
use crate::compensation::advice::followed;
use crate::feedback::{KeptLoop, Margins};
use crate::numerics::Gallop;
use crate::parts::OpAmp;
use crate::stages::Ask;

/// Stages that make a wanted loop.
#[derive(Clone, Debug, PartialEq)]
pub struct BuiltLoop {
    /// What they are asked for, in signal order, the controller first; and their gain at the wanted
    /// crossover, dB.
    pub stages: Vec<(Ask, f64)>,
    /// Whether the summing point must add, with these circuits in the path.
    pub adds: bool,
    /// Phase that an ideal controller would have to make, degrees.
    pub needed_deg: f64,
    /// Phase that these stages are asked for beyond that, to make up for what parts and op amps take.
    pub made_up_deg: f64,
    /// Where |L| is 1 next to the wanted crossover, Hz, and the phase margin there, degrees.
    pub crossover: f64,
    pub phase_margin: f64,
    /// What is read off that loop.
    pub margins: Margins,
    /// As in [`super::Shaped`].
    pub unstable_poles: Option<usize>,
    /// What is wrong with that loop, loudest first.
    pub warnings: Vec<String>,
}

/// Why there are no such stages; a sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BuildError {
    /// Not even ideal parts do.
    #[error("{0}")]
    Ideal(ShapeError),
    #[error("{0}")]
    Conflict(String),
    #[error("A lead with its integrator needs two stages; shape a PID, or a lead by itself.")]
    TwoStages,
    #[error("The circuits cannot be analysed.")]
    Circuit,
    #[error("{}", told::too_slow(.0))]
    Short(Box<BuiltShort>),
}

/// Gain-bandwidths that are tried, and crossovers, at most.
const OP_AMPS: u32 = 16;
const CROSSOVERS: u32 = 32;
/// From one crossover that is tried to the next.
const LOWER: f64 = 0.9;

/// The shaping, in slices.
pub struct ShapeWork {
    kept: KeptLoop,
    workshop: Workshop,
    wish: ShapeWish,
    /// The wish as it stands with this op amp; later on the model of all others.
    first: Attempt,
    short: BuiltShort,
    state: State,
}

enum State {
    Trying,
    Faster(Gallop, Option<(u32, Box<Attempt>)>),
    Lower(Gallop, Option<(u32, Box<Attempt>)>),
    Following(Box<Made>),
    Reading(Box<Made>, Vec<Traced>),
    Failed,
}

impl ShapeWork {
    /// Begins with a loop without the controller, all other stages in place.
    ///
    /// # Errors
    /// Where ideal parts would not do either; see [`super::shape`].
    pub fn begin(
        kept: KeptLoop,
        wish: &ShapeWish,
        workshop: Workshop,
    ) -> Result<ShapeWork, BuildError> {
        let aim = aim(&kept.open(), wish).map_err(BuildError::Ideal)?;
        let ask = super::Controller::of(wish.form, wish.crossover, aim.needed, aim.gain).ask();
        let ask = ask.ok_or(BuildError::TwoStages)?;
        let conflicts = ask.asked().conflicts();
        if let Some((_, sentence)) = conflicts.into_iter().next() {
            return Err(BuildError::Conflict(sentence));
        }
        Ok(ShapeWork {
            first: Attempt::begin(&kept, wish, &workshop).ok_or(BuildError::Circuit)?,
            short: BuiltShort {
                wish: *wish,
                gain_bandwidth: workshop.op_amp.gain_bandwidth,
                nearest: None,
                enough: None,
                lower: None,
            },
            wish: *wish,
            kept,
            workshop,
            state: State::Trying,
        })
    }

    /// Works until there is an answer or `go_on` says no; must not be called again after the answer.
    pub fn advance(
        &mut self,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<Result<BuiltLoop, BuildError>> {
        loop {
            let shelf = &self.workshop.shelf;
            match std::mem::replace(&mut self.state, State::Failed) {
                State::Trying => {
                    self.state = match self.first.advance(&self.kept, shelf, go_on) {
                        Poll::Pending => {
                            self.state = State::Trying;
                            return Poll::Pending;
                        }
                        Poll::Ready(Tried::Reached(made)) => State::Following(Box::new(made)),
                        Poll::Ready(Tried::Short(nearest)) => self.falls_short(nearest),
                    };
                }
                State::Faster(gallop, at) => {
                    let (gallop, at) = self.gallop(gallop, at, Self::faster, go_on);
                    let is_done = at.is_none() && gallop.next().is_none();
                    self.state = match is_done {
                        true => self.knows_faster(gallop.found()),
                        false => State::Faster(gallop, at),
                    };
                }
                State::Lower(gallop, at) => {
                    let (gallop, at) = self.gallop(gallop, at, Self::lower, go_on);
                    let is_done = at.is_none() && gallop.next().is_none();
                    if is_done {
                        let lower = gallop.found().map(|step| lower_than(&self.wish, step));
                        self.short.lower = lower;
                        return Poll::Ready(Err(BuildError::Short(Box::new(self.short.clone()))));
                    }
                    self.state = State::Lower(gallop, at);
                }
                State::Following(made) => match followed(&made.open(&self.kept)) {
                    Some(traced) => self.state = State::Reading(made, traced),
                    None => return Poll::Ready(Err(BuildError::Ideal(ShapeError::NoCurve))),
                },
                State::Reading(made, traced) => return Poll::Ready(Ok(self.read(&made, &traced))),
                State::Failed => {
                    return Poll::Ready(Err(BuildError::Short(Box::new(self.short.clone()))));
                }
            }
            if !go_on() {
                return Poll::Pending;
            }
        }
    }

    /// This op amp does not make it; `nearest` is what comes nearest.
    fn falls_short(&mut self, nearest: Option<Made>) -> State {
        let read = |made: Made| {
            let decibel = 20.0 * std::f64::consts::LOG10_E * made.gain_error;
            (made.phase_margin, decibel)
        };
        self.short.nearest = nearest.map(read);
        State::Faster(Gallop::new(OP_AMPS), None)
    }

    /// Which op amp would do, if one does; else it is the shelf.
    fn knows_faster(&mut self, step: Option<u32>) -> State {
        let Some(step) = step else {
            return State::Failed;
        };
        self.short.enough = Some(faster_than(self.short.gain_bandwidth, step));
        State::Lower(Gallop::new(CROSSOVERS), None)
    }

    /// Goes on with the step that is tried, or begins the next.
    fn gallop(
        &self,
        mut gallop: Gallop,
        at: Option<(u32, Box<Attempt>)>,
        of: fn(&ShapeWork, u32) -> Option<Attempt>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> (Gallop, Option<(u32, Box<Attempt>)>) {
        let Some((step, mut attempt)) = at else {
            let Some(step) = gallop.next() else {
                return (gallop, None);
            };
            let attempt = of(self, step).map(Box::new);
            if attempt.is_none() {
                gallop.learn(step, false);
            }
            return (gallop, attempt.map(|attempt| (step, attempt)));
        };
        match attempt.advance(&self.kept, &self.workshop.shelf, go_on) {
            Poll::Pending => (gallop, Some((step, attempt))),
            Poll::Ready(tried) => {
                gallop.learn(step, matches!(tried, Tried::Reached(_)));
                (gallop, None)
            }
        }
    }

    fn faster(&self, step: u32) -> Option<Attempt> {
        let op_amp = OpAmp {
            gain_bandwidth: faster_than(self.short.gain_bandwidth, step),
            ..self.workshop.op_amp.clone()
        };
        self.first.again(&self.kept, &self.wish, &op_amp)
    }

    fn lower(&self, step: u32) -> Option<Attempt> {
        let wish = ShapeWish {
            crossover: lower_than(&self.wish, step),
            ..self.wish
        };
        let op_amp = &self.workshop.op_amp;
        self.first.again(&self.kept, &wish, op_amp)
    }

    fn read(&self, made: &Made, traced: &[Traced]) -> BuiltLoop {
        let open = made.open(&self.kept);
        let margins = Margins::read(&open, traced);
        let wanted = self.wish.crossover;
        let off = |f: f64| (f / wanted).ln().abs();
        let crossings = margins.gain_crossings.iter();
        let own = crossings.min_by(|a, b| off(a.frequency).total_cmp(&off(b.frequency)));
        let (crossover, phase_margin) = own.map_or((wanted, made.phase_margin), |own| {
            (own.frequency, own.phase_margin)
        });
        let unstable_poles = open.unstable_poles(traced);
        let wish = &self.wish;
        let stages = made.asks.iter().zip(&made.transfers);
        BuiltLoop {
            stages: stages
                .map(|(ask, stage)| (ask.clone(), stage.magnitude_db(wanted)))
                .collect(),
            adds: open.sign < 0.0,
            needed_deg: self.first.aim.needed,
            made_up_deg: made.asked_phase - self.first.aim.needed,
            crossover,
            phase_margin,
            warnings: told::warnings(&margins, unstable_poles, crossover, wish, true),
            unstable_poles,
            margins,
        }
    }
}

/// The gain-bandwidth so many steps of E6 above one, Hz.
fn faster_than(gain_bandwidth: f64, step: u32) -> f64 {
    /// IEC 60063.
    const E6: [f64; 6] = [1.0, 1.5, 2.2, 3.3, 4.7, 6.8];
    let decade = 10f64.powf(gain_bandwidth.log10().floor());
    let above = (0..).map(|k: u32| decade * 10f64.powi((k / 6) as i32) * E6[(k % 6) as usize]);
    let mut above = above.filter(|f| *f > gain_bandwidth * (1.0 + 1e-9));
    above
        .nth(step.max(1) as usize - 1)
        .unwrap_or(gain_bandwidth)
}

/// The crossover so many steps below the wanted one, to two digits, Hz.
fn lower_than(wish: &ShapeWish, step: u32) -> f64 {
    let exact = wish.crossover * LOWER.powi(step as i32);
    let digit = 10f64.powf(exact.log10().floor() - 1.0);
    (exact / digit).round() * digit
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faster_op_amps_are_of_a_series() {
        assert!((faster_than(1e6, 1) / 1.5e6 - 1.0).abs() < 1e-12);
        assert!((faster_than(6.9e5, 1) / 1e6 - 1.0).abs() < 1e-12);
        assert!((faster_than(1e6, 7) / 1.5e7 - 1.0).abs() < 1e-12);
    }
}
