//! Limits that stand in several places of a design. What only one field has stands there, and what a room can work on
//! stands in that room.

/// A path longer than this is two boards.
pub const MOST_STAGES: usize = 12;
/// Packages on a board.
pub(super) const MOST_NETWORKS: usize = 8;
/// Values in stock of one kind.
pub(super) const MOST_VALUES: usize = 2000;
/// Drift in all that leaves every value on its own side of zero.
pub(super) const MOST_DRIFT: f64 = 0.9;

/// Largest deviations as delivered: beyond, a value could reach zero.
pub(super) const TOLERANCES: (f64, f64) = (0.0, 0.8);
/// 1/K.
pub(super) const TEMPCOS: (f64, f64) = (0.0, 0.01);
/// Changes over the product's life, as a share.
pub(super) const AGEINGS: (f64, f64) = (0.0, 0.5);
/// Shares of a tolerance that hold no parts.
pub(super) const HOLES: (f64, f64) = (0.0, 0.95);

/// Frequencies at which a loop is asked for something, Hz.
pub(super) const FREQUENCIES: (f64, f64) = (1e-3, 1e9);
/// Phase margins that are asked for, degrees.
pub(super) const MARGINS: (f64, f64) = (1.0, 120.0);
/// Gains over a mode's peak, dB.
pub(super) const LEVELS: (f64, f64) = (-60.0, 20.0);

/// A level of impedance, Ω.
pub const IMPEDANCES: (f64, f64) = (10.0, 10e6);
