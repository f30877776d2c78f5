//! Notches: quiet one frequency, leave the rest alone.

mod bainter;
mod bainter_uneven;
mod bridged_t;
mod gyrator;
mod multiple_feedback;
mod passive_twin_t;
mod state_variable;
mod state_variable_uneven;
mod subtracted;
mod twin_t;

pub use bainter::BainterNotch;
pub use bainter_uneven::BainterUneven;
pub use bridged_t::BridgedT;
pub use gyrator::GyratorNotch;
pub use multiple_feedback::MfbNotch;
pub use passive_twin_t::PassiveTwinT;
pub use state_variable::StateVariableNotch;
pub use state_variable_uneven::StateVariableUneven;
pub use subtracted::SubtractedNotch;
pub use twin_t::TwinT;

use crate::parts::OpAmp;
use crate::quantity::{Unit, rounded};

/// A sentence on an op amp that has too little gain for the circuit's inner gain; `needed` is that gain
/// times the frequency, Hz.
fn too_slow(words: &str, inner: f64, needed: f64, op_amp: &OpAmp) -> String {
    format!(
        "The op amp is too slow: the circuit's inner gain at the notch is {words} = {}, so a gain-bandwidth of {} is used up at {}. An \
         op amp of {} or more, a lower Q or a lower frequency would bring it back.",
        rounded(inner, Unit::One, 3),
        rounded(op_amp.gain_bandwidth, Unit::Hertz, 3),
        rounded(op_amp.gain_bandwidth / inner, Unit::Hertz, 3),
        rounded(10.0 * needed, Unit::Hertz, 2),
    )
}
