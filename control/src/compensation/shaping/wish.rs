//! What a controller shall reach, and why it cannot.

use crate::feedback::OpenLoop;
use crate::feedback::range::{OutOfRange, frequency, is_within, within};
use crate::wording::{degrees, hertz};

/// A crossover and a phase margin, and the form of the controller that shall make them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShapeWish {
    /// Where |L| shall be 1, Hz.
    pub crossover: f64,
    /// 180° + arg L there, degrees, above 0 and below 180.
    pub phase_margin: f64,
    pub form: ControllerForm,
}

/// What is free in a controller, and what is set beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ControllerForm {
    /// `K·(1 + ωi/s)·(1 + s/ωd)/(1 + s/ωr)`, which is Kp + Ki/s + Kd·s/(1 + s/ωr) with real zeros: ωd and K
    /// are free.
    Pid {
        /// ωi over the crossover, from 0.001 to 1.
        integrator: f64,
        /// ωr over the crossover, from 1 to 1000.
        roll_off: f64,
    },
    /// `K·(1 + s/ωz)/(1 + s/ωp)`, its zero as far below the crossover as its pole is above: how far, and K
    /// are free.
    Lead {
        /// With a factor (1 + ωi/s) beside it: ωi over the crossover, from 0.001 to 1.
        integrator: Option<f64>,
    },
    /// An integrator whose gain at rest is held at `INTEGRATOR_REST` times that at the crossover: K is free.
    Integral,
    /// `K·(1 + ωi/s)`: ωi and K are free.
    Pi,
    /// `K·(1 + ωi/s)/(1 + s/ωr)`: ωi and K are free.
    PiRollOff {
        /// ωr over the crossover, from 1 to 1000.
        roll_off: f64,
    },
    /// `K·(1 + s/ωd)/(1 + s/ωr)`: ωd and K are free.
    Pd {
        /// ωr over the crossover, from 1 to 1000.
        roll_off: f64,
    },
}

/// An integrator's gain at rest over that at the crossover: what an error at rest is brought down by, and no
/// more, or an offset would run it into the supply.
pub(super) const INTEGRATOR_REST: f64 = 100.0;
/// Integrator's corner over the crossover of a PI: beyond, it is an integrator, or mere gain.
const PI_CORNERS: (f64, f64) = (1e-3, 30.0);
/// Pole over zero of a lead at most: beyond, there is hardly more phase, and only more noise.
const MOST_APART: f64 = 100.0;

impl ControllerForm {
    /// Integrator's corner over the crossover, from and to.
    pub const INTEGRATORS: (f64, f64) = (1e-3, 1.0);
    /// Roll-off's corner over the crossover, from and to.
    pub const ROLL_OFFS: (f64, f64) = (1.0, 1e3);
    /// Phase of a lead and of a PD at least, degrees: zero and pole must lie apart.
    pub(in crate::compensation) const LEAST_LEAD: f64 = 1.5;

    /// A PID with its integrator's corner at a tenth of the crossover and its roll-off at ten times.
    pub const PID: ControllerForm = ControllerForm::Pid {
        integrator: 0.1,
        roll_off: 10.0,
    };
    /// A lead by itself.
    pub const LEAD: ControllerForm = ControllerForm::Lead { integrator: None };

    /// What the trade calls it.
    pub fn name(&self) -> &'static str {
        match self {
            ControllerForm::Pid { .. } => "PID",
            ControllerForm::Lead { integrator: None } => "lead",
            ControllerForm::Lead { .. } => "lead with its integrator",
            ControllerForm::Integral => "integrator",
            ControllerForm::Pi => "PI",
            ControllerForm::PiRollOff { .. } => "PI with roll-off",
            ControllerForm::Pd { .. } => "PD",
        }
    }

    /// Phase of the form at the crossover, from the least to the most that it can make, degrees. The most of
    /// a PID is not quite reached.
    pub fn reach(&self) -> (f64, f64) {
        match *self {
            ControllerForm::Pid {
                integrator,
                roll_off,
            } => {
                let lag = integrator.atan();
                let most = std::f64::consts::FRAC_PI_2 - lag - (1.0 / roll_off).atan();
                ((-lag).to_degrees(), most.to_degrees())
            }
            ControllerForm::Lead { integrator } => {
                let lag = integrator.map_or(0.0, f64::atan).to_degrees();
                let most = ((MOST_APART - 1.0) / (MOST_APART + 1.0))
                    .asin()
                    .to_degrees();
                (-lag, most - lag)
            }
            ControllerForm::Integral => {
                let phase = -(1.0 / INTEGRATOR_REST).acos().to_degrees();
                (phase, phase)
            }
            ControllerForm::Pi => pi_reach(0.0),
            ControllerForm::PiRollOff { roll_off } => pi_reach(1.0 / roll_off),
            ControllerForm::Pd { roll_off } => (0.0, 90.0 - (1.0 / roll_off).atan().to_degrees()),
        }
    }

    /// Whether it leaves no error at rest, or next to none.
    pub fn integrates(&self) -> bool {
        match self {
            ControllerForm::Lead { integrator } => integrator.is_some(),
            ControllerForm::Pd { .. } => false,
            _ => true,
        }
    }

    /// Whether its phase can be chosen.
    pub(in crate::compensation) fn turns(&self) -> bool {
        !matches!(self, ControllerForm::Integral)
    }
}

/// Why there is no such controller; a sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ShapeError {
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    #[error(
        "The loop's corners are no numbers, or lie too far apart for its curve to be followed; \
         look at its stages and at the model."
    )]
    NoCurve,
    #[error("The loop without the controller has no gain at {} that could be brought to 1.", hertz(*.0))]
    NoGain(f64),
    #[error("{}", .0.sentence())]
    TooMuchLead(Shortfall),
    #[error("{}", .0.sentence())]
    TooMuchPhase(Shortfall),
}

/// How far the wish is out of the form's reach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shortfall {
    pub wish: ShapeWish,
    /// Phase that the controller would have to make at the wanted crossover, degrees.
    pub needed: f64,
    /// What its form makes, from the least to the most, degrees.
    pub reach: (f64, f64),
    /// The phase margin nearest to the wanted one at the wanted crossover, degrees.
    pub margin: f64,
    /// The crossover nearest to the wanted one with the wanted margin, Hz.
    pub crossover: Option<f64>,
    /// Integrator's corner over the crossover at which the wanted margin at the wanted crossover is left with no
    /// lead at all, where there is more phase than is wanted.
    pub integrator: Option<f64>,
}

impl Shortfall {
    fn sentence(&self) -> String {
        let Shortfall { wish, reach, .. } = self;
        let at = hertz(wish.crossover);
        let form = wish.form.name();
        let lead_away = match wish.form {
            ControllerForm::Lead { integrator: None } | ControllerForm::Pd { .. } => "mere gain",
            ControllerForm::Pid { .. } | ControllerForm::Lead { .. } => "a PI",
            _ => "an integrator",
        };
        let wanted = degrees(wish.phase_margin);
        let crossover = match self.crossover {
            Some(crossover) => format!(
                "; with {wanted} the nearest crossover is {}",
                hertz(crossover)
            ),
            None => String::new(),
        };
        let integrator = match self.integrator {
            Some(ratio) => format!(
                "; an integrator corner at {} would spend the rest",
                hertz(ratio * wish.crossover)
            ),
            None => String::new(),
        };
        if self.needed > reach.1 - 1e-9 {
            let attainable = if self.margin > 0.0 {
                format!(
                    "A margin up to {} would be attainable",
                    degrees(self.margin)
                )
            } else {
                "No margin at all is attainable".to_owned()
            };
            format!(
                "A phase margin of {wanted} at {at} needs {} of lead, and a {form} makes less than {} there. {attainable} at \
                 {at}{crossover}.",
                degrees(self.needed),
                degrees(reach.1),
            )
        } else {
            format!(
                "A phase margin of {wanted} at {at} needs {} of phase, and a {form} makes {} there at least: {lead_away} \
                 already leaves a margin of {}{crossover}{integrator}.",
                degrees(self.needed),
                degrees(reach.0),
                degrees(self.margin),
            )
        }
    }
}

/// Phases of a PI whose roll-off's corner is the crossover over this, degrees.
fn pi_reach(roll: f64) -> (f64, f64) {
    let phase = |corner: f64| -(corner.atan() + roll.atan()).to_degrees();
    (phase(PI_CORNERS.1), phase(PI_CORNERS.0))
}

/// Whether integrator's and roll-off's corner over the crossover are in range.
///
/// # Errors
/// The first that is not.
pub(in crate::compensation) fn check_corners(
    integrator: f64,
    roll_off: f64,
) -> Result<(), OutOfRange> {
    let (name, words) = ("Integrator corner / crossover", "from 0.001 to 1");
    within(name, ControllerForm::INTEGRATORS, words, integrator)?;
    let (name, words) = ("Roll-off corner / crossover", "from 1 to 1000");
    within(name, ControllerForm::ROLL_OFFS, words, roll_off)
}

impl ShapeWish {
    /// Whether all numbers are in range, and |L| at the crossover a gain.
    pub(super) fn check(&self, open: &OpenLoop) -> Result<(), ShapeError> {
        frequency("Crossover", self.crossover)?;
        let is_margin = self.phase_margin > 0.0 && self.phase_margin < 180.0;
        let words = "above 0° and below 180°";
        is_within("Phase margin", is_margin, words, self.phase_margin)?;
        let (integrator, roll_off) = match self.form {
            ControllerForm::Pid {
                integrator,
                roll_off,
            } => (integrator, roll_off),
            ControllerForm::Lead { integrator } => (integrator.unwrap_or(1.0), 1.0),
            ControllerForm::PiRollOff { roll_off } | ControllerForm::Pd { roll_off } => {
                (1.0, roll_off)
            }
            ControllerForm::Integral | ControllerForm::Pi => (1.0, 1.0),
        };
        check_corners(integrator, roll_off)?;
        if let Some(reach) = open.plant.reach() {
            let words = "within the frequencies of the sweep";
            within("Crossover", reach, words, self.crossover)?;
        }
        let size = open.at(self.crossover).norm();
        if !size.is_normal() || !(1.0 / size).is_normal() {
            return Err(ShapeError::NoGain(self.crossover));
        }
        Ok(())
    }
}
