//! A shaft's modes.

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use super::{Shaft, beam, chain, check, torsion};

/// Elastic modes that can be asked for.
pub const MOST_MODES: usize = 10;

/// Elements for each half-wave of the highest mode: its frequency is then less than 0.02 % too high.
const ELEMENTS: usize = 5;

/// One mode of vibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShapedMode {
    /// Hz; exactly 0 where the shaft moves as a rigid body.
    pub frequency: f64,
    /// Positions in m from the left end (places in a chain, from 0) with amplitudes, normalised by the mass:
    /// a drive at one place and a sensor at another have the product of their two amplitudes as the
    /// residue of [`crate::plant::Mode`], in (rad or m) per (N·m or N) times (rad/s)².
    pub shape: Vec<(f64, f64)>,
}

impl ShapedMode {
    /// Whether the shaft moves as a rigid body.
    pub fn is_rigid(&self) -> bool {
        self.frequency == 0.0
    }

    /// The shape with its largest amplitude 1.
    pub fn drawn(&self) -> Vec<(f64, f64)> {
        let most = largest(&self.shape);
        let scale = if most > 0.0 { 1.0 / most } else { 0.0 };
        self.shape.iter().map(|&(x, y)| (x, y * scale)).collect()
    }
}

/// The motions as a rigid body and up to `count` elastic modes (1 to [`MOST_MODES`]), in ascending order of
/// frequency; a chain may have fewer.
///
/// # Errors
/// What [`check`] finds, or a sentence on the count or on parts that are too different to be computed.
pub fn modes(shaft: &Shaft, count: usize) -> Result<Vec<ShapedMode>, String> {
    check(shaft).map_err(|wrong| wrong.join(" "))?;
    if !(1..=MOST_MODES).contains(&count) {
        return Err(format!(
            "The number of modes must lie between 1 and {MOST_MODES}; it is {count}."
        ));
    }
    // The ends may add a half-wave.
    let elements = ELEMENTS * (count + 1);
    let system = match shaft {
        Shaft::Torsion {
            segments,
            inertias,
            ends,
        } => torsion::system(segments, inertias, *ends, elements),
        Shaft::Bending {
            segments,
            masses,
            ends,
        } => beam::system(segments, masses, *ends, elements),
        Shaft::Chain {
            inertias,
            springs,
            ground,
        } => chain::system(inertias, springs, ground),
    };
    let found = system
        .solve(count)
        .ok_or("The shaft's parts are too different from each other to be computed.")?;
    let shaped = found.iter().map(|(lambda, q)| ShapedMode {
        frequency: lambda.sqrt() / TAU,
        shape: upright(system.shape(q)),
    });
    Ok(shaped.collect())
}

/// The sign by which the first large amplitude is positive: a shape's own sign means nothing.
fn upright(mut shape: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    let most = largest(&shape);
    if shape
        .iter()
        .find(|(_, y)| y.abs() > 0.5 * most)
        .is_some_and(|(_, y)| *y < 0.0)
    {
        shape.iter_mut().for_each(|(_, y)| *y = -*y);
    }
    shape
}

fn largest(shape: &[(f64, f64)]) -> f64 {
    shape
        .iter()
        .fold(0.0, |most: f64, (_, y)| most.max(y.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_inertias_turn_against_each_other() {
        let chain = Shaft::Chain {
            inertias: vec![1.0, 3.0],
            springs: vec![12.0],
            ground: [0.0; 2],
        };
        let found = modes(&chain, 5).expect("modes");
        assert_eq!(found.len(), 2);
        assert!(found[0].is_rigid() && !found[1].is_rigid());
        assert!((found[0].shape[0].1 - 0.5).abs() < 1e-12); // 1/√(1 + 3)
        assert!((found[1].frequency - 4.0 / TAU).abs() < 1e-12); // ω² = k·(1/J1 + 1/J2)
        assert!((found[1].drawn()[1].1 + 1.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn the_count_has_bounds() {
        assert!(modes(&Shaft::default(), 0).is_err());
        assert!(modes(&Shaft::default(), MOST_MODES + 1).is_err());
    }
}
