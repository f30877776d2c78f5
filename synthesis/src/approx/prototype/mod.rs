//! Low-pass prototypes at 1 rad/s, one file an approximation.

mod bessel;
mod butterworth;
mod chebyshev;
mod elliptic;
mod inverse_chebyshev;

use std::f64::consts::{LN_10, PI};

use serde::{Deserialize, Serialize};

use super::error::{ATTENUATIONS, RIPPLES};
use super::{ApproxError, Roots};

pub(super) use bessel::frequency_of_attenuation;
pub(super) use elliptic::level_modulus;

/// The highest order of a prototype.
pub const MAX_ORDER: usize = 10;

/// How a brick wall is approached, with the levels that shape it.
///
/// Each is normalised as its usual tables are (Williams & Taylor, "Electronic Filter Design Handbook",
/// ch. 2): 1 rad/s is where the attenuation reaches 3.01 dB (Butterworth, Bessel), leaves the ripple
/// (Chebyshev, elliptic) or first reaches `stop_db` (inverse Chebyshev).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Approximation {
    /// As flat as can be at DC.
    Butterworth,
    /// Equal ripple in the pass band.
    Chebyshev {
        /// Ripple, dB, 10⁻⁶ to 12.
        ripple_db: f64,
    },
    /// Flat at DC, equal ripple in the stop band.
    InverseChebyshev {
        /// Least attenuation of the stop band, dB, 1 to 200.
        stop_db: f64,
    },
    /// Equal ripple in both bands (Cauer).
    Elliptic {
        /// Ripple, dB, 10⁻⁶ to 12.
        ripple_db: f64,
        /// Least attenuation of the stop band, dB, at most 200 and at least 1 dB above the ripple.
        stop_db: f64,
    },
    /// As flat a group delay as can be at DC (Thomson).
    Bessel,
}

/// An approximation before its levels are chosen.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    Butterworth,
    Chebyshev,
    InverseChebyshev,
    Elliptic,
    Bessel,
}

impl Family {
    /// All of them, in the order in which they are usually listed.
    pub const ALL: [Family; 5] = [
        Family::Butterworth,
        Family::Chebyshev,
        Family::InverseChebyshev,
        Family::Elliptic,
        Family::Bessel,
    ];

    /// The approximation with these levels, dB, as far as it has a use for them.
    pub fn with(self, ripple_db: f64, stop_db: f64) -> Approximation {
        match self {
            Family::Butterworth => Approximation::Butterworth,
            Family::Chebyshev => Approximation::Chebyshev { ripple_db },
            Family::InverseChebyshev => Approximation::InverseChebyshev { stop_db },
            Family::Elliptic => Approximation::Elliptic { ripple_db, stop_db },
            Family::Bessel => Approximation::Bessel,
        }
    }
}

/// The low-pass of this approximation at 1 rad/s; `order` from 1 to [`MAX_ORDER`].
///
/// The gain in the pass band never exceeds 1: an even Chebyshev or elliptic filter starts at the bottom
/// of its ripple at DC.
///
/// # Errors
/// When the order or a level is out of range.
///
/// ```
/// use synthesis::approx::{Approximation, prototype};
/// let roots = prototype(Approximation::Chebyshev { ripple_db: 1.0 }, 3).unwrap();
/// assert!((roots.poles[2].re + 0.4942).abs() < 1e-4);
/// ```
pub fn prototype(approximation: Approximation, order: usize) -> Result<Roots, ApproxError> {
    check_order(order, MAX_ORDER)?;
    Ok(match approximation {
        Approximation::Butterworth => butterworth::roots(order),
        Approximation::Chebyshev { ripple_db } => {
            check_ripple(ripple_db)?;
            chebyshev::roots(order, ripple_db)
        }
        Approximation::InverseChebyshev { stop_db } => {
            check_attenuation(stop_db)?;
            inverse_chebyshev::roots(order, stop_db)
        }
        Approximation::Elliptic { ripple_db, stop_db } => {
            check_levels(ripple_db, stop_db)?;
            elliptic::roots(order, ripple_db, stop_db)
        }
        Approximation::Bessel => bessel::roots(order),
    })
}

fn check_order(order: usize, most: usize) -> Result<(), ApproxError> {
    if (1..=most).contains(&order) {
        Ok(())
    } else {
        Err(ApproxError::Order { order, most })
    }
}

fn check_ripple(ripple_db: f64) -> Result<(), ApproxError> {
    if (RIPPLES.0..=RIPPLES.1).contains(&ripple_db) {
        Ok(())
    } else {
        Err(ApproxError::Ripple(ripple_db))
    }
}

fn check_attenuation(stop_db: f64) -> Result<(), ApproxError> {
    if (ATTENUATIONS.0..=ATTENUATIONS.1).contains(&stop_db) {
        Ok(())
    } else {
        Err(ApproxError::Attenuation(stop_db))
    }
}

pub(super) fn check_levels(ripple_db: f64, stop_db: f64) -> Result<(), ApproxError> {
    check_ripple(ripple_db)?;
    check_attenuation(stop_db)?;
    // Nearer levels make the elliptic modulus differ from one by less than can be told.
    if stop_db < ripple_db + 1.0 {
        return Err(ApproxError::Levels { ripple_db, stop_db });
    }
    Ok(())
}

/// `10^(db/10) − 1`, ε² of an attenuation, without loss where it is small.
pub(super) fn excess(db: f64) -> f64 {
    (db * LN_10 / 10.0).exp_m1()
}

/// Angles of the Butterworth poles above the real axis, counted from it, rad.
fn angles(order: usize) -> impl Iterator<Item = f64> {
    (0..order / 2).map(move |k| PI * (2 * k + 1 + order % 2) as f64 / (2 * order) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_is_said() {
        let too_high = prototype(Approximation::Bessel, 11).unwrap_err();
        assert_eq!(
            too_high.to_string(),
            "The order must lie between 1 and 10; it is 11."
        );
        let nearly_equal = Family::Elliptic.with(3.0, 3.5);
        assert!(matches!(
            prototype(nearly_equal, 3),
            Err(ApproxError::Levels { .. })
        ));
        let no_number = Approximation::Chebyshev {
            ripple_db: f64::NAN,
        };
        assert!(prototype(no_number, 3).is_err());
    }

    #[test]
    fn the_data_is_tagged() {
        let text = serde_json::to_string(&Family::InverseChebyshev.with(1.0, 40.0)).unwrap();
        assert_eq!(text, r#"{"kind":"inverse-chebyshev","stop_db":40.0}"#);
    }
}
