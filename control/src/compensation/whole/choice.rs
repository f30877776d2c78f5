//! Which controllers suit a plant, and why.

use super::WishedForm;
use super::ground::{Aimed, Ground};
use crate::compensation::ControllerForm;

/// What the plant is round a crossover.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A constant below its first mode.
    Stiff,
    /// On a spring, well above its suspension.
    AboveSpring,
    /// A speed: one integrator, or friction that holds the other.
    Speed,
    /// A free mass.
    Inertia,
    /// A free mass with friction, above its corner.
    InertiaWithFriction,
}

/// What the plant is at this crossover (Hz).
pub(super) fn kind(ground: &Ground, crossover: f64) -> Kind {
    let model = &ground.of.model;
    let rigid = model.rigid;
    let integrators = rigid.map_or(0, |rigid| rigid.integrators);
    match integrators {
        0 if model.modes.iter().any(|mode| mode.frequency < crossover) => Kind::AboveSpring,
        0 => Kind::Stiff,
        1 => Kind::Speed,
        _ => match rigid.and_then(|rigid| rigid.friction) {
            Some(corner) if corner > crossover => Kind::Speed,
            Some(_) => Kind::InertiaWithFriction,
            None => Kind::Inertia,
        },
    }
}

/// The forms to try, the simplest first.
pub(super) fn forms(ground: &Ground, aimed: &Aimed) -> Vec<ControllerForm> {
    let (integrator, roll_off) = match ground.wish.form {
        WishedForm::This(form) => return vec![form],
        WishedForm::Automatic {
            integrator,
            roll_off,
        } => (integrator, roll_off),
    };
    let falling = [ControllerForm::Pi, ControllerForm::PiRollOff { roll_off }];
    let leading = [
        ControllerForm::Pid {
            integrator,
            roll_off,
        },
        ControllerForm::LEAD,
        ControllerForm::Pd { roll_off },
    ];
    if kind(ground, aimed.crossover) == Kind::Stiff && aimed.needed < 0.0 {
        let mut all = vec![ControllerForm::Integral];
        all.extend(falling);
        return all;
    }
    let mut all = Vec::new();
    // A little phase may be taken by notches, or be to spare.
    if aimed.needed < 0.0 {
        all.extend(falling);
    }
    if aimed.needed > -20.0 {
        all.extend(leading);
    }
    all
}

/// Why a controller of this kind, in one sentence.
pub(super) fn why(kind: Kind, form: ControllerForm) -> String {
    let plant = match kind {
        Kind::Stiff => {
            "Below its first mode the plant answers like a spring, by a constant and hardly any phase"
        }
        Kind::AboveSpring => {
            "Above its suspension the plant answers like a mass, and its phase lies near −180°"
        }
        Kind::Speed => {
            "The plant integrates once at the crossover, so that its phase lies near −90°"
        }
        Kind::Inertia => "The plant is a free mass, and its phase lies at −180° or below",
        Kind::InertiaWithFriction => {
            "The plant is a mass with friction: above the friction corner its phase falls towards −180°"
        }
    };
    let does = match form {
        ControllerForm::Integral => {
            "an integrator alone makes the loop fall through 1, keeps falling over the modes and reduces steady-state errors by a \
             factor of a hundred"
        }
        ControllerForm::Pi => {
            "a PI spends the phase that is to spare on an integrator, so that no steady-state error is left"
        }
        ControllerForm::PiRollOff { .. } => {
            "a PI leaves no steady-state error, and its roll-off keeps noise and modes down"
        }
        ControllerForm::Pid { .. } => {
            "a PID gives the phase that is missing and leaves no steady-state error"
        }
        ControllerForm::Lead { .. } => {
            "a lead gives the phase that is missing with the least noise, and leaves an error under a constant force"
        }
        ControllerForm::Pd { .. } => {
            "a PD gives the phase that is missing, and leaves an error under a constant force"
        }
    };
    format!("{plant}: {does}.")
}
