//! What is read off a motion.

use serde::{Deserialize, Serialize};

use super::along::Along;
use super::curve::Curve;
use super::march::Marched;
use super::pace::Pace;
use super::{ErrorConstants, MotionAsk, Stimulus, Trajectory};

/// Figures of one motion. What does not exist is absent: all that belongs to an end where the loop is unstable or
/// the error grows without bound, and what the span is too short for.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Figures {
    /// After a step: how far the position goes beyond its end, as a fraction of it; 0 where it does not.
    pub overshoot: Option<f64>,
    /// After a step that overshoots: when, s.
    pub peak_time: Option<f64>,
    /// After a step: from 10 % to 90 % of the position's end, s.
    pub rise_time: Option<f64>,
    /// Until the error stays within the band round its end, s. The band is a fraction: of the position's
    /// end after a step; of the travel along a trajectory, counted from its last row on; of the largest
    /// error otherwise.
    pub settling_time: Option<f64>,
    /// Largest error by size, with its sign.
    pub peak_error: f64,
    /// When, s; a trajectory's times are its own.
    pub peak_error_time: f64,
    /// The error that is left at last, exactly.
    pub steady_error: Option<f64>,
    /// The error at the end of the span.
    pub last_error: f64,
    /// Along a trajectory: the error's effective value between its first and its last row; none where the time
    /// shown ends before that.
    pub rms_error: Option<f64>,
    /// Largest drive by size, with its sign, in the unit of the plant's input.
    pub drive_peak: f64,
    /// When, s.
    pub drive_peak_time: f64,
}

impl Figures {
    /// Reads them off a march for an amplitude of 1 and scales them.
    pub(super) fn read(
        marched: &Marched,
        pace: &Pace,
        constants: &ErrorConstants,
        ask: &MotionAsk,
        reference: impl Fn(usize) -> f64,
    ) -> Figures {
        let curve = |values| Curve {
            values,
            node: pace.node(),
        };
        let (error, drive) = (curve(&marched.error), curve(&marched.drive));
        let mut found = Figures::default();
        found.read_peaks(&error, &drive, marched);
        found.last_error = marched.error.last().copied().unwrap_or_default();
        let stable = pace.stable == Some(true) && !marched.ran_away;
        found.steady_error = constants.left(&ask.stimulus).filter(|_| stable);
        let end = found.steady_error;
        let position = |to: f64| -> Vec<f64> {
            let errors = marched.error.iter().enumerate();
            errors.map(|(k, e)| (reference(k) - e) / to).collect()
        };
        match &ask.stimulus {
            Stimulus::Step => {
                // Round an end at 0 there is no band, and nothing to reach.
                let end = constants.step_end().filter(|end| stable && *end != 0.0);
                if let Some(end) = end {
                    let curve = Curve {
                        values: &position(end),
                        node: pace.node(),
                    };
                    found.read_step(&curve, ask.settle_band, pace.coarse);
                }
            }
            Stimulus::Trajectory { trajectory } => {
                let position = position(1.0);
                let along = Along::new(trajectory, &position, pace.node());
                let is_whole = !ends_early(marched, pace, trajectory.duration());
                found.read_along(&along, trajectory, is_whole);
                if is_whole {
                    let band = ask.settle_band * trajectory.travel();
                    let settled = end.and_then(|end| error.settles(end, band));
                    found.settling_time = settled.map(|t| (t - trajectory.duration()).max(0.0));
                }
            }
            _ => {
                let band = ask.settle_band * found.peak_error.abs();
                found.settling_time = end.and_then(|end| error.settles(end, band));
            }
        }
        // A signal that still rings may happen to lie within the band where a span that was cut short ends.
        let span = pace.node() * marched.error.len().saturating_sub(1) as f64;
        if pace.cut && found.settling_time.is_some_and(|t| t > 0.9 * span) {
            found.settling_time = None;
        }
        found.scaled(ask.amplitude)
    }

    /// A loop that nothing moves yet.
    pub(super) fn at_rest(constants: &ErrorConstants, ask: &MotionAsk, is_stable: bool) -> Figures {
        let left = constants.left(&ask.stimulus).filter(|_| is_stable);
        Figures {
            steady_error: left,
            ..Figures::default()
        }
        .scaled(ask.amplitude)
    }

    /// The drive may be largest between two nodes, early on.
    fn read_peaks(&mut self, error: &Curve, drive: &Curve, marched: &Marched) {
        (self.peak_error, self.peak_error_time) = error.peak().unwrap_or_default();
        (self.drive_peak, self.drive_peak_time) = drive.peak().unwrap_or_default();
        for moment in &marched.early {
            if moment.drive.abs() > self.drive_peak.abs() {
                (self.drive_peak, self.drive_peak_time) = (moment.drive, moment.time);
            }
        }
    }

    /// `position` ends at 1.
    fn read_step(&mut self, position: &Curve, band: f64, coarse: bool) {
        self.settling_time = position.settles(1.0, band);
        if coarse {
            return;
        }
        let (top, time) = position.highest().unwrap_or_default();
        self.overshoot = top.is_finite().then_some((top - 1.0).max(0.0));
        self.peak_time = (top > 1.0).then_some(time);
        let edges = position.reaches(0.1).zip(position.reaches(0.9));
        self.rise_time = edges.map(|(from, to)| to - from);
    }

    /// What the error is along a trajectory; `is_whole` where the march does not end before it.
    fn read_along(&mut self, along: &Along, trajectory: &Trajectory, is_whole: bool) {
        (self.peak_error, self.peak_error_time) = along.peak().unwrap_or_default();
        if is_whole {
            self.rms_error = Some(along.rms(trajectory.duration()));
        }
        self.peak_error_time += trajectory.start();
        self.drive_peak_time += trajectory.start();
    }

    fn scaled(mut self, amplitude: f64) -> Figures {
        for value in [
            &mut self.peak_error,
            &mut self.last_error,
            &mut self.drive_peak,
        ] {
            *value *= amplitude;
        }
        self.steady_error = self.steady_error.map(|e| e * amplitude);
        self.rms_error = self.rms_error.map(|e| e * amplitude.abs());
        self
    }
}

/// Whether a march ends before a trajectory of this duration does.
pub(super) fn ends_early(marched: &Marched, pace: &Pace, duration: f64) -> bool {
    let span = pace.node() * marched.error.len().saturating_sub(1) as f64;
    span < duration * (1.0 - 1e-9)
}
