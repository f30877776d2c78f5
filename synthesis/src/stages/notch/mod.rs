//! Notches: quiet one frequency, leave the rest alone.

mod bainter;
mod bainter_uneven;
mod bridged_t;
mod gyrator;
pub(super) mod multiple_feedback;
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
