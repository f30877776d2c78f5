//! What noise hangs on besides a stage's parts.

use crate::circuit::noise::OpAmpNoise;

/// Band, temperature, and the op amps' noise.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// The band over which it is added up, Hz.
    pub band: (f64, f64),
    /// The resistors' temperature, K.
    pub kelvin: f64,
    /// Of a stage's op amps, in its netlist's order.
    pub op_amps: Vec<OpAmpNoise>,
}
