//! Control blocks: gains, integrators, differentiators, leads and lags, PID, compensators.

mod difference;
mod differentiator;
mod follower;
mod integrator;
mod inverting;
mod lag;
mod lead;
mod lead_lag;
mod non_inverting;
mod pd;
mod pi;
mod pid_parallel;
mod pid_single;
mod pole_zero;
mod reach;
mod sketch;
mod sum;
mod type_three;
mod type_two;

pub use difference::Difference;
pub use differentiator::Differentiator;
pub use follower::Follower;
pub use integrator::Integrator;
pub use inverting::Inverting;
pub use lag::Lag;
pub use lead::Lead;
pub use lead_lag::LeadLag;
pub use non_inverting::NonInverting;
pub use pd::Pd;
pub use pi::Pi;
pub use pid_parallel::PidParallel;
pub use pid_single::PidSingle;
pub use pole_zero::PoleZero;
pub use sum::Sum;
pub use type_three::TypeThree;
pub use type_two::TypeTwo;
