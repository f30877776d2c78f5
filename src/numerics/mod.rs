//! Searches along one number.

pub mod golden;
