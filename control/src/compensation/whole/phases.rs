//! Phases that a form of controller is asked for.

use crate::compensation::ControllerForm;

/// Kept from the ends of what a form can make, degrees; a lead's zero and pole must lie apart.
const FROM_ENDS: f64 = 0.3;
const FROM_HIGH: f64 = 0.1;
/// A PID's and a PD's free zero lies no farther below the crossover than this, as a ratio: lower, there is hardly more
/// phase, and no shelf's resistors lie so far apart.
const LEAST_ZERO: f64 = 0.02;

/// Phases that a form is asked for, degrees.
pub(super) fn phases(form: ControllerForm) -> (f64, f64) {
    let (low, high) = form.reach();
    let low = match form {
        ControllerForm::Lead { .. } | ControllerForm::Pd { .. } => low + ControllerForm::LEAST_LEAD,
        ControllerForm::Integral => low,
        _ => low + FROM_ENDS,
    };
    let from_high = match form {
        ControllerForm::Pid { .. } | ControllerForm::Pd { .. } => LEAST_ZERO.atan().to_degrees(),
        _ => FROM_HIGH,
    };
    (low, (high - from_high).max(low))
}
