//! What a plant does towards low frequencies, as mechanics knows it.

use serde::{Deserialize, Serialize};

use crate::plant::{Model, Rigid};

/// What holds a plant towards low frequencies.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LowEnd {
    /// Position held by a spring: no rigid part, the lowest mode is the suspension.
    #[serde(alias = "suspension")]
    Spring,
    /// Stiffer than anything in the sweep: a constant beside the modes.
    Constant,
    /// Speed of a body with friction, or current in a coil: `g/(s + ω_f)`.
    Lag,
    /// Speed of a body without friction: `g/s`.
    Integrator,
    /// Position of a body with viscous friction: `g/(s·(s + ω_f))`.
    Friction,
    /// Position of a free body: `g/s²`.
    #[serde(alias = "double-integrator")]
    Inertia,
}

impl LowEnd {
    /// All six.
    pub const ALL: [LowEnd; 6] = [
        LowEnd::Spring,
        LowEnd::Constant,
        LowEnd::Lag,
        LowEnd::Integrator,
        LowEnd::Friction,
        LowEnd::Inertia,
    ];

    /// What a model has.
    pub fn of(model: &Model) -> LowEnd {
        match model.rigid {
            None => LowEnd::Spring,
            Some(rigid) => match (rigid.integrators, rigid.friction) {
                (0, _) => LowEnd::Constant,
                (1, None) => LowEnd::Integrator,
                (1, Some(_)) => LowEnd::Lag,
                (_, Some(_)) => LowEnd::Friction,
                (_, None) => LowEnd::Inertia,
            },
        }
    }

    /// The rigid part, its gain still 0; `corner` (Hz) is where friction begins to hold, for those that have it.
    pub(super) fn rigid(self, corner: f64) -> Option<Rigid> {
        let (integrators, held) = match self {
            LowEnd::Spring => return None,
            LowEnd::Constant => (0, false),
            LowEnd::Lag => (1, true),
            LowEnd::Integrator => (1, false),
            LowEnd::Friction => (2, true),
            LowEnd::Inertia => (2, false),
        };
        Some(Rigid {
            friction: held.then_some(corner),
            ..Rigid::new(integrators, 0.0)
        })
    }

    /// Whether there is a corner of friction.
    pub fn has_corner(self) -> bool {
        matches!(self, LowEnd::Lag | LowEnd::Friction)
    }

    /// How many integrators are left towards s → 0: the plant's share in the type of a loop.
    pub fn integrators_at_rest(self) -> u32 {
        match self {
            LowEnd::Spring | LowEnd::Constant | LowEnd::Lag => 0,
            LowEnd::Integrator | LowEnd::Friction => 1,
            LowEnd::Inertia => 2,
        }
    }

    /// What it is called in a sentence.
    pub fn name(self) -> &'static str {
        match self {
            LowEnd::Spring => "position held by a spring",
            LowEnd::Constant => "constant gain",
            LowEnd::Lag => "speed or current with a lag",
            LowEnd::Integrator => "speed without friction",
            LowEnd::Friction => "inertia with friction",
            LowEnd::Inertia => "inertia alone",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_low_end_is_known_again_by_its_model() {
        for end in LowEnd::ALL {
            let rigid = end.rigid(3.0);
            let at_rest = rigid.map_or(0, |rigid| rigid.at_rest());
            let model = Model {
                rigid,
                ..Model::default()
            };
            assert_eq!(LowEnd::of(&model), end);
            assert_eq!(at_rest, end.integrators_at_rest());
        }
    }

    #[test]
    fn names_of_before_are_read() {
        let read = |text: &str| serde_json::from_str::<LowEnd>(text).expect("a low end");
        assert_eq!(read("\"suspension\""), LowEnd::Spring);
        assert_eq!(read("\"double-integrator\""), LowEnd::Inertia);
    }
}
