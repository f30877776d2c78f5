//! The closed loop in time: what position, error and drive do after a step, a ramp, a parabola, along a user's own
//! motion, and after a disturbance at the plant's input.
//!
//! Error = reference − measured position; the path's output is the drive, the plant's input. The loop's
//! own model is linear: what a drive beyond its amplifier's limit does is not in it.

mod along;
mod ask;
mod bands;
mod check;
mod constants;
mod curve;
mod figures;
mod hold;
mod laplace;
mod march;
mod pace;
mod poles;
mod projection;
mod settling;
mod system;
mod trajectory;

use serde::{Deserialize, Serialize};

use self::check::check;
use self::figures::ends_early;
use self::hold::{Hold, Nodes, PARTS};
use self::march::{Marched, Return, march};
use self::pace::Pace;
use self::projection::held;
use self::system::System;
use super::{OpenLoop, Traced, trace_whole};
use crate::plant::{Plant, PlantUnits, with_unit};
use crate::quantity::{Unit, rounded};

pub use ask::{MotionAsk, Stimulus};
pub use bands::TypeBand;
pub use constants::{ErrorConstants, Tracking};
pub use figures::Figures;
pub(super) use settling::Settling;
pub use trajectory::Trajectory;

/// Points that are kept for drawing, at most, beside those before the first node.
const DRAWN: usize = 2000;

const NO_STATES: &str =
    "A sweep has no states, so that the loop cannot be moved in time; fit a model to it first.";

/// The closed loop's motion. The five signals have one length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Motion {
    /// Seconds, rising, from 0 on, or from a trajectory's first row where that is below 0. Closer where the motion
    /// begins, as the drive is quicker there than in all that follows.
    pub time: Vec<f64>,
    /// Where the position ought to be.
    pub reference: Vec<f64>,
    /// Where it is measured to be, after the plant's delay.
    pub position: Vec<f64>,
    /// Reference less position.
    pub error: Vec<f64>,
    /// The path's output, in the unit of the plant's input.
    pub drive: Vec<f64>,
    /// Whether the closed loop is stable; none where it passes too close to −1 to say.
    pub stable: Option<bool>,
    pub figures: Figures,
    /// Sentences on what is wrong or left out.
    pub notes: Vec<String>,
}

impl Motion {
    /// Works out one motion. The work is bounded: 4000 steps of a loop at most, 40 000 along a trajectory.
    ///
    /// Method: the open loop's states are carried on by matrix exponentials, exact for a polynomial of the fourth
    /// degree as error in each step; the plant's delay is kept as it is. Span and steps come from the closed
    /// loop's poles. An unstable loop is shown until it has grown some hundredfold.
    ///
    /// # Errors
    /// A sentence where the plant is a sweep, the path improper, or an entry of the ask out of its range.
    pub fn work_out(open: &OpenLoop, ask: &MotionAsk) -> Result<Motion, String> {
        let Plant::Model(model) = open.plant else {
            return Err(NO_STATES.to_owned());
        };
        check(open, model)?;
        let traced = trace_whole(open);
        Motion::work_out_traced(
            open,
            &traced,
            &ErrorConstants::of_traced(open, &traced)?,
            ask,
        )
    }

    /// The same with the loop's whole curve and its constants at hand.
    ///
    /// # Errors
    /// As [`Motion::work_out`].
    pub fn work_out_traced(
        open: &OpenLoop,
        traced: &[Traced],
        constants: &ErrorConstants,
        ask: &MotionAsk,
    ) -> Result<Motion, String> {
        ask.check()?;
        let Plant::Model(model) = open.plant else {
            return Err(NO_STATES.to_owned());
        };
        let cut = System::of(open, ask.stimulus == Stimulus::Disturbance)?;
        let pace = Pace::set(open, model, traced, cut.position.d, ask);
        let system = if pace.back == Return::Closed {
            cut.closed()?
        } else {
            cut
        };
        let hold = Hold::new(&system, pace.step, pace.fastest);
        if !hold.whole.iter().all(|v| v.is_finite()) {
            return Err(
                "The loop's parts are too far apart in size to be moved in time.".to_owned(),
            );
        }
        if let (Stimulus::Trajectory { trajectory }, Some(span)) = (&ask.stimulus, ask.span)
            && span <= trajectory.rest()
        {
            return Ok(Motion::at_rest(trajectory, span, &pace, constants, ask));
        }
        let node = pace.node();
        let reference = |k: usize| ask.stimulus.reference(k as f64 * node);
        let held = |step: usize| match &ask.stimulus {
            Stimulus::Trajectory { trajectory } => {
                held(trajectory, (step * PARTS) as f64 * node, pace.step)
            }
            _ => Nodes::from_fn(|k, _| reference(PARTS * step + k)),
        };
        let marched = march(&system, &hold, pace.back, pace.steps, reference, held);
        let figures = Figures::read(&marched, &pace, constants, ask, reference);
        let mut motion = Motion {
            notes: notes(&marched, &pace, constants, &figures, ask),
            stable: if marched.ran_away {
                Some(false)
            } else {
                pace.stable
            },
            figures,
            time: Vec::new(),
            reference: Vec::new(),
            position: Vec::new(),
            error: Vec::new(),
            drive: Vec::new(),
        };
        motion.draw(&marched, node, ask);
        Ok(motion)
    }

    /// A span that ends before the trajectory's first row.
    fn at_rest(
        trajectory: &Trajectory,
        span: f64,
        pace: &Pace,
        constants: &ErrorConstants,
        ask: &MotionAsk,
    ) -> Motion {
        let mut motion = Motion {
            time: Vec::new(),
            reference: Vec::new(),
            position: Vec::new(),
            error: Vec::new(),
            drive: Vec::new(),
            stable: pace.stable,
            figures: Figures::at_rest(constants, ask, pace.stable == Some(true)),
            notes: vec![format!(
                "Nothing moves in the {} that are shown: the trajectory begins at {}. A longer duration shows it.",
                rounded(span, Unit::Second, 3),
                rounded(trajectory.start(), Unit::Second, 3)
            )],
        };
        for time in [0.0, span] {
            motion.rest(time, ask.amplitude * trajectory.first());
        }
        motion
    }

    /// That the drive goes beyond the limit that the ask sets, where it does.
    pub fn saturates(&self, ask: &MotionAsk, units: &PlantUnits) -> Option<String> {
        let figures = &self.figures;
        let limit = ask.saturation?;
        let drive = |v: f64| with_unit(rounded(v, Unit::One, 3), &units.input);
        (figures.drive_peak.abs() > limit).then(|| {
            format!(
                "The drive peaks at {} after {}, beyond the limit of {}: the amplifier saturates, and this linear answer no \
                 longer holds.",
                drive(figures.drive_peak.abs()),
                rounded(figures.drive_peak_time, Unit::Second, 3),
                drive(limit),
            )
        })
    }

    /// A moment at rest.
    fn rest(&mut self, time: f64, position: f64) {
        self.time.push(time);
        self.reference.push(position);
        self.position.push(position);
        self.error.push(0.0);
        self.drive.push(0.0);
    }

    /// The signals in their own size, thinned.
    fn draw(&mut self, marched: &Marched, node: f64, ask: &MotionAsk) {
        let (start, rest) = match &ask.stimulus {
            Stimulus::Trajectory { trajectory } => (trajectory.start(), trajectory.first()),
            _ => (0.0, 0.0),
        };
        if start > 0.0 {
            self.rest(0.0, ask.amplitude * rest);
        }
        let mut push = |time: f64, error: f64, drive: f64| {
            let reference = ask.amplitude * (ask.stimulus.reference(time) + rest);
            self.time.push(start + time);
            self.reference.push(reference);
            self.position.push(reference - ask.amplitude * error);
            self.error.push(ask.amplitude * error);
            self.drive.push(ask.amplitude * drive);
        };
        let stride = marched.error.len().div_ceil(DRAWN).max(1);
        let last = marched.error.len().saturating_sub(1);
        for (k, (error, drive)) in marched.error.iter().zip(&marched.drive).enumerate() {
            if k % stride == 0 || k == last {
                push(k as f64 * node, *error, *drive);
            }
            if k == 0 {
                for moment in &marched.early {
                    push(moment.time, moment.error, moment.drive);
                }
            }
        }
    }
}

fn notes(
    marched: &Marched,
    pace: &Pace,
    constants: &ErrorConstants,
    figures: &Figures,
    ask: &MotionAsk,
) -> Vec<String> {
    let seconds = |t: f64| rounded(t, Unit::Second, 3);
    let end = pace.node() * marched.error.len().saturating_sub(1) as f64;
    let short = match &ask.stimulus {
        Stimulus::Trajectory { trajectory } => {
            Some(trajectory).filter(|trajectory| ends_early(marched, pace, trajectory.duration()))
        }
        _ => None,
    };
    let mut notes = Vec::new();
    notes.extend(note_on_stability(pace, marched.ran_away, end));
    if pace.stable == Some(true) {
        notes.extend(note_on_the_end(
            constants,
            figures,
            ask,
            end,
            short.is_some(),
        ));
    }
    if let Some(trajectory) = short {
        notes.push(format!(
            "The time shown ends at {}, before the trajectory does at {}: the figures hold for the part that is shown.",
            seconds(trajectory.start() + end),
            seconds(trajectory.start() + trajectory.duration())
        ));
    }
    if pace.coarse {
        notes.push(format!(
            "What is quick and what is slow in the loop lie so far apart that points are {} apart, and the beginning is not \
             resolved; a shorter duration shows it.",
            seconds(pace.node())
        ));
    }
    if pace.cut {
        notes.push(format!(
            "Only {} are shown: a longer duration would take steps too long for what is quick in the loop.",
            seconds(end)
        ));
    }
    notes
}

fn note_on_stability(pace: &Pace, ran_away: bool, end: f64) -> Option<String> {
    let end = rounded(end, Unit::Second, 3);
    match pace.stable {
        Some(false) => Some(format!(
            "The closed loop is unstable; the first {end} of its growth are shown."
        )),
        None => Some(
            "The loop passes so close to −1 that it cannot be said whether it comes to rest."
                .to_owned(),
        ),
        Some(true) if ran_away => Some(format!("The motion could not be followed beyond {end}.")),
        Some(true) => None,
    }
}

/// Where a stable loop does not come to an end within what is shown.
fn note_on_the_end(
    constants: &ErrorConstants,
    figures: &Figures,
    ask: &MotionAsk,
    end: f64,
    is_short: bool,
) -> Option<String> {
    let what = match ask.stimulus {
        Stimulus::Ramp => Some(("ramp", 1)),
        Stimulus::Parabola => Some(("parabola", 2)),
        _ => None,
    };
    match what {
        Some((name, least)) if constants.kind < least => Some(format!(
            "The error of a {name} grows without bound in the loop as it is modelled; a finite error takes type {least}, none type {}.",
            least + 1,
        )),
        _ if figures.steady_error.is_some() && figures.settling_time.is_none() && !is_short => {
            Some(format!(
                "The loop does not settle within the {} that are shown.",
                rounded(end, Unit::Second, 3)
            ))
        }
        _ => None,
    }
}
