//! The least order that holds a requirement, and where to design.

use serde::{Deserialize, Serialize};

use super::jacobi::Modulus;
use super::prototype::{check_levels, excess, frequency_of_attenuation, level_modulus};
use super::{ApproxError, Approximation, Band, Family};

/// What is asked of a filter: at most `ripple_db` inside the pass edges, at least `stop_db` beyond the
/// stop edges.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Requirement {
    /// Pass edges.
    pub pass: Band,
    /// Stop edges, of the same kind: above those of a low-pass, below those of a high-pass, outside
    /// those of a band-pass, inside those of a band-stop.
    pub stop: Band,
    /// Attenuation allowed at the pass edges, dB, 10⁻⁶ to 12.
    pub ripple_db: f64,
    /// Attenuation wanted at the stop edges, dB, at most 200 and at least 1 dB above the ripple.
    pub stop_db: f64,
}

/// What holds a requirement.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Designed {
    pub approximation: Approximation,
    /// Order of the prototype; a band-pass or a band-stop has twice as many poles.
    pub order: usize,
    /// Where to move the prototype: the attenuation at the requirement's pass edges is then just
    /// `ripple_db`. Of a band-stop that is one of its edges, if the edges are not geometrically
    /// symmetric: the other one is moved towards the stop band until they are, which takes the least
    /// order.
    pub band: Band,
}

/// The least order in closed form (Williams & Taylor, "Electronic Filter Design Handbook", ch. 2 and 3;
/// Antoniou, "Digital Signal Processing", ch. 10); for Bessel, the first order whose curve is steep
/// enough.
///
/// An order that is a whole number but for a billionth is taken for that number.
///
/// # Errors
/// When a level or an edge is out of range or out of order, or the order would exceed
/// [`Band::max_order`].
///
/// ```
/// use synthesis::approx::{Band, Family, Requirement, order};
/// let requirement = Requirement {
///     pass: Band::LowPass { edge: 1e3 },
///     stop: Band::LowPass { edge: 2e3 },
///     ripple_db: 0.5,
///     stop_db: 40.0,
/// };
/// assert_eq!(order(Family::Elliptic, &requirement).unwrap().order, 4);
/// assert_eq!(order(Family::Chebyshev, &requirement).unwrap().order, 5);
/// assert_eq!(order(Family::Butterworth, &requirement).unwrap().order, 9);
/// ```
pub fn order(family: Family, requirement: &Requirement) -> Result<Designed, ApproxError> {
    let Requirement {
        ripple_db, stop_db, ..
    } = *requirement;
    check_levels(ripple_db, stop_db)?;
    let (pass, selectivity) = selectivity(requirement)?;
    let most = pass.max_order();
    let (pass_excess, stop_excess) = (excess(ripple_db), excess(stop_db));
    let steps = (stop_excess / pass_excess).sqrt();
    let whole = |least: f64| {
        let order = (least - 1e-9).ceil().max(1.0);
        if order <= most as f64 {
            Ok(order as usize)
        } else {
            Err(ApproxError::TooSteep { most })
        }
    };
    // The order, and where on the prototype's axis its 1 rad/s must come to lie when 1 is the pass edge.
    let (order, edge) = match family {
        Family::Butterworth => {
            let order = whole(steps.ln() / selectivity.ln())?;
            (order, pass_excess.powf(-0.5 / order as f64))
        }
        Family::Chebyshev => (whole(steps.acosh() / selectivity.acosh())?, 1.0),
        Family::InverseChebyshev => {
            let order = whole(steps.acosh() / selectivity.acosh())?;
            (order, (steps.acosh() / order as f64).cosh())
        }
        Family::Elliptic => {
            let edges = Modulus {
                k: 1.0 / selectivity,
                k_comp: ((selectivity - 1.0) * (selectivity + 1.0)).sqrt() / selectivity,
            };
            let levels = level_modulus(ripple_db, stop_db);
            (whole(levels.ratio() / edges.ratio())?, 1.0)
        }
        Family::Bessel => {
            let steep_enough = |&order: &usize| {
                let at = |db| frequency_of_attenuation(order, db);
                at(stop_db) <= at(ripple_db) * selectivity * (1.0 + 1e-12)
            };
            let order = (1..=most)
                .find(steep_enough)
                .ok_or(ApproxError::TooSteep { most })?;
            (order, 1.0 / frequency_of_attenuation(order, ripple_db))
        }
    };
    Ok(Designed {
        approximation: family.with(ripple_db, stop_db),
        order,
        band: pass.scaled(edge),
    })
}

/// The pass edges to design at, and where the nearest stop edge comes to lie on the prototype's axis when
/// they come to lie at 1.
fn selectivity(requirement: &Requirement) -> Result<(Band, f64), ApproxError> {
    use Band::{BandPass, BandStop, HighPass, LowPass};
    let (pass, stop) = (requirement.pass, requirement.stop);
    pass.check()?;
    stop.check()?;
    let ((p0, p1), (s0, s1)) = (pass.edges(), stop.edges());
    let wrong = |sentence| Err(ApproxError::Edges(sentence));
    match (pass, stop) {
        (LowPass { .. }, LowPass { .. }) => {
            if s0 <= p0 {
                return wrong("The stopband edge of a low-pass must lie above its passband edge.");
            }
            Ok((pass, s0 / p0))
        }
        (HighPass { .. }, HighPass { .. }) => {
            if s0 >= p0 {
                return wrong("The stopband edge of a high-pass must lie below its passband edge.");
            }
            Ok((pass, p0 / s0))
        }
        (BandPass { .. }, BandPass { .. }) => {
            if s0 >= p0 || s1 <= p1 {
                return wrong(
                    "The stopband edges of a band-pass must lie outside its passband edges.",
                );
            }
            let at = |s: f64| (s - p0 * p1 / s).abs() / (p1 - p0);
            Ok((pass, at(s0).min(at(s1))))
        }
        (BandStop { .. }, BandStop { .. }) => {
            if s0 <= p0 || s1 >= p1 {
                return wrong(
                    "The stopband edges of a band-stop must lie inside its passband edges.",
                );
            }
            // The far pass edge costs nothing where it is, but its nearness to the other decides the
            // centre: both stop edges are equally hard when the centres agree.
            let low = p0.max(s0 / p1 * s1);
            let high = p1.min(s0 / p0 * s1);
            Ok((BandStop { low, high }, (high - low) / (s1 - s0)))
        }
        _ => Err(ApproxError::Kinds),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn low_pass(pass: f64, stop: f64) -> Requirement {
        Requirement {
            pass: Band::LowPass { edge: pass },
            stop: Band::LowPass { edge: stop },
            ripple_db: 1.0,
            stop_db: 40.0,
        }
    }

    #[test]
    fn out_of_reach() {
        let steep = low_pass(1e3, 1.01e3);
        assert_eq!(
            order(Family::Butterworth, &steep),
            Err(ApproxError::TooSteep { most: 10 })
        );
        let backwards = order(Family::Bessel, &low_pass(2e3, 1e3)).unwrap_err();
        assert_eq!(
            backwards.to_string(),
            "The stopband edge of a low-pass must lie above its passband edge."
        );
        let mixed = Requirement {
            stop: Band::HighPass { edge: 10.0 },
            ..low_pass(1e3, 2e3)
        };
        assert_eq!(order(Family::Bessel, &mixed), Err(ApproxError::Kinds));
    }

    #[test]
    fn a_whole_order_stays() {
        // ε = 1 at 1 kHz, and just ten times 20 dB a decade above.
        let mut decade = low_pass(1e3, 1e4);
        decade.ripple_db = 10.0 * 2f64.log10();
        decade.stop_db = 10.0 * (1.0 + 1e6f64).log10();
        let found = order(Family::Butterworth, &decade).unwrap();
        assert_eq!(found.order, 3);
        let Band::LowPass { edge } = found.band else {
            panic!()
        };
        assert!((edge - 1e3).abs() < 1e-9);
    }
}
