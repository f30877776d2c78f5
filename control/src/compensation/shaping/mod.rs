//! A controller for a wanted crossover and phase margin.
//!
//! The phase that is missing at the crossover sets the controller's one free corner, and the gain that is
//! missing its gain, both in closed form; then the whole loop is read, because one frequency does not make
//! a loop ([`shape`]). With parts off the shelf and a real op amp ([`ShapeWork`]) the gain is shared out among
//! stages ([`split`]), they are picked, the loop is read with them in, and what is missing is asked for on
//! top until it is as wished ([`attempt`]). Franklin, Powell and Emami-Naeini, "Feedback Control of Dynamic Systems", 6.7, and Ogata, "Modern
//! Control Engineering", ch. 7 (lead compensation), from memory.

pub(in crate::compensation) mod attempt;
mod controller;
mod short;
mod split;
mod told;
mod wish;
mod work;

use serde::{Deserialize, Serialize};

pub use attempt::Workshop;
pub use controller::Controller;
pub use short::BuiltShort;
pub use split::MOST_AMPLIFIERS;
pub(in crate::compensation) use split::amplifiers;
use wish::INTEGRATOR_REST;
pub(in crate::compensation) use wish::check_corners;
pub use wish::{ControllerForm, ShapeError, ShapeWish, Shortfall};
pub use work::{BuildError, BuiltLoop, ShapeWork};

use super::advice::followed;
use super::wrapped::wrapped;
use crate::feedback::{Margins, OpenLoop, Traced};
use crate::numerics::zero;
use crate::plant::Plant;

/// A controller and the loop that it makes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shaped {
    pub controller: Controller,
    /// Phase that the controller makes at the crossover, degrees.
    pub phase_deg: f64,
    /// Whether the summing point must add: path and plant invert once in all.
    pub adds: bool,
    /// What is read off the loop with the controller in.
    pub margins: Margins,
    /// Poles of that closed loop in the right half plane; none where the curve does not tell, and for a
    /// sweep, which has no poles.
    pub unstable_poles: Option<usize>,
    /// What is wrong with that loop, loudest first.
    pub warnings: Vec<String>,
}

/// The controller of the wanted form for the loop without it, all other stages in place.
///
/// The sign of the loop is brought right at the summing point: for a model by its sign towards low
/// frequencies; for a sweep, whose low frequencies may be out of sight, by which of both signs is within
/// reach.
///
/// # Errors
/// [`ShapeError`] when a number is out of range, or the wish beyond the form; it then tells what would be
/// within reach.
pub fn shape(open: &OpenLoop, wish: &ShapeWish) -> Result<Shaped, ShapeError> {
    let aim = aim(open, wish)?;
    let mut open = open.clone();
    open.sign = aim.sign;
    let controller = Controller::of(wish.form, wish.crossover, aim.needed, aim.gain);
    let transfer = controller.transfer();
    open.stages.push(&transfer);
    let traced = followed(&open).ok_or(ShapeError::NoCurve)?;
    let margins = Margins::read(&open, &traced);
    let unstable = open.unstable_poles(&traced);
    let has_model = matches!(open.plant, Plant::Model(_));
    Ok(Shaped {
        controller,
        phase_deg: aim.needed,
        adds: open.sign < 0.0,
        warnings: told::warnings(&margins, unstable, wish.crossover, wish, has_model),
        margins,
        unstable_poles: unstable,
    })
}

/// What an ideal controller must make at the crossover.
#[derive(Clone, Copy, Debug)]
struct Aim {
    /// The loop's sign with a controller that does not invert, as in [`OpenLoop`].
    sign: f64,
    /// Phase, degrees.
    needed: f64,
    /// A ratio.
    gain: f64,
}

/// # Errors
/// As [`shape`], but for a curve that cannot be followed.
fn aim(open: &OpenLoop, wish: &ShapeWish) -> Result<Aim, ShapeError> {
    wish.check(open)?;
    let mut open = open.clone();
    let reach = wish.form.reach();
    let mut needed = missing(&open, wish, wish.crossover);
    let flips = match open.plant {
        Plant::Model(_) => open.net_sign() < 0.0,
        Plant::Sweep(_) => {
            let other = wrapped(needed + 180.0);
            !within(reach, needed) && within(reach, other)
        }
    };
    if flips {
        open.sign = -open.sign;
        needed = missing(&open, wish, wish.crossover);
    }
    if !wish.form.turns() {
        needed = reach.0;
    } else if !within(reach, needed) {
        return Err(out_of_reach(&open, wish, needed));
    }
    Ok(Aim {
        sign: open.sign,
        needed,
        gain: 1.0 / open.at(wish.crossover).norm(),
    })
}

/// Phase that a controller must make at a frequency (Hz), from −180° to 180°.
fn missing(open: &OpenLoop, wish: &ShapeWish, frequency: f64) -> f64 {
    wrapped(wish.phase_margin - 180.0 - open.at(frequency).arg().to_degrees())
}

/// The upper end is left out: a PID has its zero at DC there.
fn within(reach: (f64, f64), needed: f64) -> bool {
    (reach.0 - 1e-9..reach.1 - 1e-9).contains(&needed)
}

/// What would be within reach.
fn out_of_reach(open: &OpenLoop, wish: &ShapeWish, needed: f64) -> ShapeError {
    let reach = wish.form.reach();
    let end = if needed > reach.1 { reach.1 } else { reach.0 };
    let found = Shortfall {
        wish: *wish,
        needed,
        reach,
        margin: wish.phase_margin + end - needed,
        crossover: nearest(open, wish, reach),
        integrator: spent(wish, needed),
    };
    if needed >= reach.1 - 1e-9 {
        ShapeError::TooMuchLead(found)
    } else {
        ShapeError::TooMuchPhase(found)
    }
}

/// The integrator's corner over the crossover at which a PI alone makes the phase, where one does.
fn spent(wish: &ShapeWish, needed: f64) -> Option<f64> {
    let has_one = match wish.form {
        ControllerForm::Lead { integrator } => integrator.is_some(),
        ControllerForm::Pid { .. } => true,
        _ => false,
    };
    let ratio = -needed.to_radians().tan();
    let (low, high) = ControllerForm::INTEGRATORS;
    (has_one && needed < 0.0 && needed > -90.0 && (low..=high).contains(&ratio)).then_some(ratio)
}

/// The crossover nearest to the wanted one, as a ratio, at which the wanted margin is within reach, Hz.
fn nearest(open: &OpenLoop, wish: &ShapeWish, reach: (f64, f64)) -> Option<f64> {
    /// How far is looked to either side, as ln of a ratio, and in how many steps.
    const FAR: f64 = 6.9;
    const STEPS: u32 = 1500;
    let ends = open.plant.reach().unwrap_or((0.0, f64::INFINITY));
    let needed = |x: f64| missing(open, wish, x.exp());
    let is_in = |x: f64| {
        (ends.0..=ends.1).contains(&x.exp())
            && open.at(x.exp()).norm().is_normal()
            && within(reach, needed(x))
    };
    let centre = wish.crossover.ln();
    let step = FAR / f64::from(STEPS);
    let places = (1..=STEPS).flat_map(|k| [1.0, -1.0].map(|side| (f64::from(k), side)));
    let (k, side) = places
        .into_iter()
        .find(|(k, side)| is_in(centre + side * k * step))?;
    let (inside, outside) = (centre + side * k * step, centre + side * (k - 1.0) * step);
    // The nearer end of the reach, a hair inside; where the phase jumps, the step itself.
    let end = if needed(outside) > reach.1 {
        reach.1 - 1e-6
    } else {
        reach.0
    };
    let found = zero(|x| needed(x) - end, outside, inside).filter(|x| is_in(*x));
    Some(found.unwrap_or(inside).exp())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Model, Rigid};

    fn mass(gain: f64) -> Model {
        Model {
            rigid: Some(Rigid::new(2, gain)),
            ..Model::default()
        }
    }

    fn wish(phase_margin: f64, form: ControllerForm) -> ShapeWish {
        ShapeWish {
            crossover: 100.0,
            phase_margin,
            form,
        }
    }

    #[test]
    fn a_mass_gets_its_phase_margin_and_a_sign() {
        for gain in [3.0, -3.0] {
            let model = mass(gain);
            let open = OpenLoop {
                stages: Vec::new(),
                plant: Plant::Model(&model),
                sign: 1.0,
            };
            let shaped = shape(&open, &wish(45.0, ControllerForm::PID)).expect("a PID");
            assert_eq!(shaped.adds, gain < 0.0);
            assert_eq!(shaped.unstable_poles, Some(0));
            let crossover = shaped.margins.crossover().expect("one");
            assert!((crossover.frequency - 100.0).abs() < 1e-7);
            assert!((crossover.phase_margin - 45.0).abs() < 1e-7);
            assert!(shaped.warnings.is_empty(), "{:?}", shaped.warnings);
        }
    }

    #[test]
    fn too_much_is_told_with_what_would_do() {
        let mut model = mass(1.0);
        model.lag = Some(300.0);
        let open = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let error = shape(&open, &wish(65.0, ControllerForm::PID)).expect_err("too much");
        let ShapeError::TooMuchLead(short) = error else {
            panic!("{error}");
        };
        let again = ShapeWish {
            crossover: short.crossover.expect("a lower one"),
            ..wish(65.0, ControllerForm::PID)
        };
        assert!(again.crossover < 100.0);
        assert!(shape(&open, &again).is_ok());
        let again = wish(short.margin - 0.01, ControllerForm::PID);
        assert!(shape(&open, &again).is_ok());
        assert!(shape(&open, &wish(f64::NAN, ControllerForm::LEAD)).is_err());
    }
}
