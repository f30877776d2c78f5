//! Loop compensation: notches, a controller, or the loop as a whole, for what the closed loop must keep.

mod advice;
mod shaping;
mod whole;
mod wrapped;

pub use advice::{
    Advice, AdviceError, AdviceWork, ByPhase, LowPass, LowerGain, NotchAdvice, NotchVerdict,
    NotchWish, Otherwise, advise,
};
pub use shaping::{
    BuildError, BuiltLoop, BuiltShort, Controller, ControllerForm, MOST_AMPLIFIERS, ShapeError,
    ShapeWish, ShapeWork, Shaped, Shortfall, Workshop, shape,
};
pub use whole::{
    ALLOWANCE, Dip, Nearest, PathStage, PeakReading, Reader, Reading, Role, RollOff, RunnerUp,
    Whole, WholeError, WholeLoop, WholeShop, WholeStage, WholeWish, WholeWork, WishedForm, acts_on,
};

/// A number that was worked out, as it stands in an ask: in five digits. What is left out is a hundredth of what
/// any part strays.
fn for_ask(value: f64) -> f64 {
    crate::quantity::to_digits(value, 5)
}
