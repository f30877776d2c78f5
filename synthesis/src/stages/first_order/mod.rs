//! First-order low-pass and high-pass round one op amp.

mod follower_high_pass;
mod follower_low_pass;
mod inverting_high_pass;
mod inverting_low_pass;
mod non_inverting_high_pass;
mod non_inverting_low_pass;

pub use follower_high_pass::FollowerHighPass;
pub use follower_low_pass::FollowerLowPass;
pub use inverting_high_pass::InvertingHighPass;
pub use inverting_low_pass::InvertingLowPass;
pub use non_inverting_high_pass::NonInvertingHighPass;
pub use non_inverting_low_pass::NonInvertingLowPass;
