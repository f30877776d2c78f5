//! How far inside the passband of a high-pass its gain is read: where it has all but reached its end value, and an op
//! amp does not yet take it away.

/// Over the corner frequency, where there is one pole.
pub const CORNERS: f64 = 20.0;
/// Over the pole pair's frequency, where there are two or three poles.
pub const POLE_FREQUENCIES: f64 = 10.0;
