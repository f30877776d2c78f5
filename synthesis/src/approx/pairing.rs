//! Which zeros go with which poles.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::headroom::arrange;
use super::{ApproxError, Band, MAX_ORDER, PoleShape, Roots, Section, ZeroShape};
use crate::numerics::put_in_order;

/// A chain of sections whose product is `gain` times the function; at most [`MAX_ORDER`] poles.
///
/// The pair of poles with the highest Q takes the nearest zeros on the jω axis, then the next; zeros at
/// 0 go one to each section left without, and then a second one (Zumbahlen, "Linear Circuit Design
/// Handbook", ch. 8; Williams & Taylor, "Electronic Filter Design Handbook").
///
/// Of all orders of the sections the one is taken whose highest intermediate output is lowest, when every
/// section by itself passes the pass band's reference at unity: DC, far above, the centre, or DC and
/// far above evenly. Among equals the next highest outputs decide, and then low Q comes first. Then the
/// gains are shared so that every output peaks as high as the last one; see [`super::output_peaks`].
///
/// # Errors
/// When the band or the gain is out of range, or the roots are not those of such a chain: a pole not on
/// the left, a zero off the jω axis, a root without its conjugate, or nothing passed at the reference.
pub fn sections(roots: &Roots, band: Band, gain: f64) -> Result<Vec<Section>, ApproxError> {
    band.check()?;
    let total = roots.gain * gain;
    if !total.is_normal() {
        return Err(ApproxError::Gain(total));
    }
    let mut parts = pole_parts(&roots.poles)?;
    // Ascending, so that the highest Q is taken off the end; one real pole is below all pairs.
    put_in_order(&mut parts, |a, b| a.q().total_cmp(&b.q()));
    give_zeros(&mut parts, &roots.zeros)?;
    let bare = parts
        .iter()
        .map(|part| Section {
            pole: part.shape,
            zeros: part.zeros,
            gain: 1.0,
        })
        .collect();
    arrange(bare, band, total)
}

/// Poles of a section to be.
struct Part {
    shape: PoleShape,
    /// The upper one of a pair, rad/s.
    pole: Complex64,
    zeros: ZeroShape,
}

impl Part {
    fn pair(p: Complex64, other: Complex64) -> Part {
        let omega = (p.norm() * other.norm()).sqrt();
        Part {
            shape: PoleShape::Pair {
                frequency: omega / TAU,
                q: omega / -(p.re + other.re),
            },
            pole: p,
            zeros: ZeroShape::None,
        }
    }

    fn q(&self) -> f64 {
        match self.shape {
            PoleShape::Pair { q, .. } => q,
            PoleShape::Real { .. } => 0.0,
        }
    }
}

/// Conjugate poles make pairs, and so do real ones as long as there are two.
fn pole_parts(poles: &[Complex64]) -> Result<Vec<Part>, ApproxError> {
    if poles.is_empty() || poles.len() > MAX_ORDER {
        return Err(ApproxError::Order {
            order: poles.len(),
            most: MAX_ORDER,
        });
    }
    if !poles.iter().all(|p| p.is_finite() && p.re < 0.0) {
        return Err(ApproxError::Roots(
            "A pole does not lie in the left half of the plane.",
        ));
    }
    // Beyond this the product of ten would leave the range of numbers.
    if !poles.iter().all(|p| (1e-25..1e25).contains(&p.norm())) {
        return Err(ApproxError::Roots(
            "A pole lies too near 0 or too far from it to be worked with.",
        ));
    }
    let mut parts: Vec<Part> = upper_halves(poles)?
        .into_iter()
        .map(|p| Part::pair(p, p.conj()))
        .collect();
    let mut real: Vec<Complex64> = poles.iter().filter(|p| p.im == 0.0).copied().collect();
    put_in_order(&mut real, |a, b| a.re.total_cmp(&b.re));
    parts.extend(real.chunks(2).map(|chunk| match *chunk {
        [p, other] => Part::pair(p, other),
        _ => Part {
            shape: PoleShape::Real {
                frequency: -chunk[0].re / TAU,
            },
            pole: chunk[0],
            zeros: ZeroShape::None,
        },
    }));
    Ok(parts)
}

/// `parts` in ascending order of Q.
fn give_zeros(parts: &mut [Part], zeros: &[Complex64]) -> Result<(), ApproxError> {
    let on_axis = |z: &&Complex64| z.re.abs() <= 1e-12 * z.norm();
    if zeros.iter().filter(on_axis).count() != zeros.len() {
        return Err(ApproxError::Roots(
            "A zero lies off the jω axis, where no section of this chain has one.",
        ));
    }
    let mut notches = upper_halves(zeros)?;
    let mut at_origin = zeros.iter().filter(|z| z.norm() == 0.0).count();
    let too_many = ApproxError::Roots("There are more zeros than poles.");
    for part in parts.iter_mut().rev() {
        let distance = |z: &Complex64| (z - part.pole).norm();
        let nearest = (0..notches.len())
            .min_by(|&a, &b| distance(&notches[a]).total_cmp(&distance(&notches[b])));
        let Some(nearest) = nearest else { break };
        if matches!(part.shape, PoleShape::Real { .. }) {
            return Err(too_many);
        }
        let frequency = notches.swap_remove(nearest).im / TAU;
        part.zeros = ZeroShape::Imaginary { frequency };
    }
    for (had, given) in [
        (ZeroShape::None, ZeroShape::Origin1),
        (ZeroShape::Origin1, ZeroShape::Origin2),
    ] {
        for part in parts.iter_mut().rev() {
            let room = given == ZeroShape::Origin1 || matches!(part.shape, PoleShape::Pair { .. });
            if at_origin > 0 && part.zeros == had && room {
                part.zeros = given;
                at_origin -= 1;
            }
        }
    }
    if at_origin > 0 || !notches.is_empty() {
        return Err(too_many);
    }
    Ok(())
}

/// Those above the real axis, each of which must have its conjugate.
fn upper_halves(roots: &[Complex64]) -> Result<Vec<Complex64>, ApproxError> {
    let mut below: Vec<Complex64> = roots.iter().filter(|r| r.im < 0.0).copied().collect();
    let above: Vec<Complex64> = roots.iter().filter(|r| r.im > 0.0).copied().collect();
    let alone = ApproxError::Roots("A complex root stands without its conjugate.");
    for root in &above {
        let near = |other: &Complex64| (other.conj() - root).norm() <= 1e-12 * root.norm();
        let at = below.iter().position(near).ok_or(alone.clone())?;
        below.swap_remove(at);
    }
    if below.is_empty() {
        Ok(above)
    } else {
        Err(alone)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Approximation, prototype, transformed};
    use super::*;

    #[test]
    fn an_elliptic_filter_of_order_five() {
        let band = Band::LowPass { edge: 1e3 };
        let kind = Approximation::Elliptic {
            ripple_db: 0.5,
            stop_db: 50.0,
        };
        let roots = transformed(&prototype(kind, 5).unwrap(), band).unwrap();
        let chain = sections(&roots, band, 2.0).unwrap();
        assert_eq!(chain.len(), 3);
        let product: Complex64 = chain.iter().map(|section| section.at(700.0)).product();
        assert!((product - roots.at(700.0) * 2.0).norm() < 1e-13);
        // The sharpest pair has the zero next to the edge.
        let notch = |s: &Section| match s.zeros {
            ZeroShape::Imaginary { frequency } => Some(frequency),
            _ => None,
        };
        let sharpest = chain
            .iter()
            .max_by(|a, b| a.q().partial_cmp(&b.q()).unwrap());
        let lowest = chain.iter().filter_map(notch).fold(f64::INFINITY, f64::min);
        assert_eq!(notch(sharpest.unwrap()), Some(lowest));
    }

    #[test]
    fn what_is_no_chain() {
        let band = Band::LowPass { edge: 1.0 };
        let with = |zeros: Vec<Complex64>, poles| Roots {
            zeros,
            poles,
            gain: 1.0,
        };
        let left = Complex64::new(-1.0, 0.0);
        for roots in [
            with(vec![], vec![Complex64::new(-1.0, 1.0)]),
            with(vec![], vec![Complex64::new(1.0, 0.0)]),
            with(vec![left], vec![left]),
            with(vec![Complex64::ZERO; 2], vec![left]),
            // A high-pass is no low-pass.
            with(vec![Complex64::ZERO], vec![left]),
        ] {
            let error = sections(&roots, band, 1.0).unwrap_err();
            assert!(matches!(error, ApproxError::Roots(_)), "{error}");
        }
        let one = with(vec![], vec![left]);
        assert_eq!(sections(&one, band, 0.0), Err(ApproxError::Gain(0.0)));
    }
}
