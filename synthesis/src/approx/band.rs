//! From the low-pass prototype to the wanted band.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::error::EDGES;
use super::roots::{Roots, push_pair, unity_at_dc};
use super::{ApproxError, MAX_ORDER};

/// Where a filter passes or stops. Edges in Hz, 10⁻⁶ to 10¹².
///
/// An edge is where the prototype's 1 rad/s goes to, so what happens there is the approximation's
/// matter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Band {
    LowPass {
        edge: f64,
    },
    HighPass {
        edge: f64,
    },
    /// Passes between its edges, `low` below `high`.
    BandPass {
        low: f64,
        high: f64,
    },
    /// Stops between its edges, `low` below `high`.
    BandStop {
        low: f64,
        high: f64,
    },
}

impl Band {
    /// # Errors
    /// When an edge is out of range, or the lower one is not below the upper one.
    pub fn check(self) -> Result<(), ApproxError> {
        let (low, high) = self.edges();
        for edge in [low, high] {
            if !(EDGES.0..=EDGES.1).contains(&edge) {
                return Err(ApproxError::Edge(edge));
            }
        }
        let two = matches!(self, Band::BandPass { .. } | Band::BandStop { .. });
        if two && low >= high {
            return Err(ApproxError::Band { low, high });
        }
        Ok(())
    }

    /// The highest order of a prototype for this band: a band-pass or a band-stop doubles it.
    pub fn max_order(self) -> usize {
        match self {
            Band::LowPass { .. } | Band::HighPass { .. } => MAX_ORDER,
            Band::BandPass { .. } | Band::BandStop { .. } => MAX_ORDER / 2,
        }
    }

    /// Both edges, Hz; of a low-pass or a high-pass the one edge twice.
    pub fn edges(self) -> (f64, f64) {
        match self {
            Band::LowPass { edge } | Band::HighPass { edge } => (edge, edge),
            Band::BandPass { low, high } | Band::BandStop { low, high } => (low, high),
        }
    }

    /// The band with its edge at `factor` on the prototype's axis: a low-pass's edge is multiplied by
    /// it, a high-pass's divided; a band-pass gets wider about its geometric centre, a band-stop
    /// narrower.
    pub(super) fn scaled(self, factor: f64) -> Band {
        let wider = |low: f64, high: f64, factor: f64| {
            let half = factor * (high - low) / 2.0;
            let upper = half + half.hypot((low * high).sqrt());
            (low * high / upper, upper)
        };
        match self {
            Band::LowPass { edge } => Band::LowPass {
                edge: edge * factor,
            },
            Band::HighPass { edge } => Band::HighPass {
                edge: edge / factor,
            },
            Band::BandPass { low, high } => {
                let (low, high) = wider(low, high, factor);
                Band::BandPass { low, high }
            }
            Band::BandStop { low, high } => {
                let (low, high) = wider(low, high, 1.0 / factor);
                Band::BandStop { low, high }
            }
        }
    }
}

/// The prototype moved to the band, rad/s (Van Valkenburg, "Analog Filter Design", ch. 11).
///
/// # Errors
/// When the band does not pass [`Band::check`], the prototype has more zeros than poles, or a root at
/// 0 would go to infinity.
pub fn transformed(prototype: &Roots, band: Band) -> Result<Roots, ApproxError> {
    band.check()?;
    let Roots { zeros, poles, gain } = prototype;
    let Some(surplus) = poles.len().checked_sub(zeros.len()) else {
        return Err(ApproxError::Roots(
            "The prototype has more zeros than poles.",
        ));
    };
    let inverted = matches!(band, Band::HighPass { .. } | Band::BandStop { .. });
    if inverted && zeros.iter().chain(poles).any(|root| root.norm() == 0.0) {
        return Err(ApproxError::Roots("The prototype has a root at 0."));
    }
    let (low, high) = band.edges();
    let (centre, half) = (TAU * (low * high).sqrt(), TAU * (high - low) / 2.0);
    let map = |roots: &[Complex64]| -> Vec<Complex64> {
        let each = |root: &Complex64| match band {
            Band::LowPass { edge } => vec![root * (TAU * edge)],
            Band::HighPass { edge } => vec![inverse(*root) * (TAU * edge)],
            Band::BandPass { .. } => split(root * half, centre),
            Band::BandStop { .. } => split(inverse(*root) * half, centre),
        };
        roots.iter().flat_map(each).collect()
    };
    let (mut moved_zeros, moved_poles) = (map(zeros), map(poles));
    let width = match band {
        Band::LowPass { edge } => TAU * edge,
        _ => 2.0 * half,
    };
    // Where the prototype's zeros at infinity go, and the factor that keeps the pass band's gain.
    let gain = match band {
        Band::LowPass { .. } => gain * width.powi(surplus as i32),
        Band::BandPass { .. } => {
            moved_zeros.extend(vec![Complex64::ZERO; surplus]);
            gain * width.powi(surplus as i32)
        }
        Band::HighPass { .. } => {
            moved_zeros.extend(vec![Complex64::ZERO; surplus]);
            gain / unity_at_dc(zeros, poles)
        }
        Band::BandStop { .. } => {
            for _ in 0..surplus {
                push_pair(&mut moved_zeros, Complex64::new(0.0, centre));
            }
            gain / unity_at_dc(zeros, poles)
        }
    };
    Ok(Roots {
        zeros: moved_zeros,
        poles: moved_poles,
        gain,
    })
}

/// 1/root, on the axis for a root on an axis.
fn inverse(root: Complex64) -> Complex64 {
    root.conj() / root.norm_sqr()
}

/// The two roots of `s² − 2·middle·s + centre²`. Conjugates give exact conjugates, and what lies on an
/// axis stays there.
fn split(middle: Complex64, centre: f64) -> Vec<Complex64> {
    if middle.im < 0.0 {
        return split(middle.conj(), centre)
            .iter()
            .map(Complex64::conj)
            .collect();
    }
    if middle.im == 0.0 && middle.re.abs() < centre {
        let height = ((centre - middle.re) * (centre + middle.re)).sqrt();
        let root = Complex64::new(middle.re, height);
        return vec![root, root.conj()];
    }
    let half_gap = root_of((middle - centre) * (middle + centre));
    // The sum that does not cancel; the product of both roots is known.
    let same_side = (half_gap * middle.conj()).re >= 0.0;
    let far = middle + if same_side { half_gap } else { -half_gap };
    vec![far, inverse(far) * (centre * centre)]
}

/// The square root by sums that do not cancel, so that a small real part keeps its digits.
fn root_of(square: Complex64) -> Complex64 {
    let larger = ((square.re.abs() + square.norm()) / 2.0).sqrt();
    if larger == 0.0 {
        Complex64::ZERO
    } else if square.re < 0.0 {
        Complex64::new(square.im / (2.0 * larger), larger)
    } else {
        Complex64::new(larger, square.im / (2.0 * larger))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Approximation, prototype};
    use super::*;

    #[test]
    fn a_first_order_pole_becomes_a_resonance() {
        let one = prototype(Approximation::Butterworth, 1).unwrap();
        let band = Band::BandPass {
            low: 900.0,
            high: 1000.0,
        };
        let roots = transformed(&one, band).unwrap();
        assert_eq!(roots.poles[0], roots.poles[1].conj());
        assert!((roots.poles[0].re + TAU * 50.0).abs() < 1e-10);
        assert!((roots.poles[0].norm() - TAU * 900000f64.sqrt()).abs() < 1e-9);
        assert!((roots.at(900000f64.sqrt()).norm() - 1.0).abs() < 1e-13);
        assert!((roots.at(900.0).norm() - 0.5f64.sqrt()).abs() < 1e-13);
    }

    #[test]
    fn upside_down() {
        let band = Band::BandStop {
            low: 2.0,
            high: 1.0,
        };
        let one = prototype(Approximation::Butterworth, 1).unwrap();
        assert!(matches!(
            transformed(&one, band),
            Err(ApproxError::Band { .. })
        ));
    }
}
