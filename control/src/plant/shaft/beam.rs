//! A stepped shaft that bends, in finite elements.

use nalgebra::DVector;

use super::eigen::{Place, System};
use super::elements::shared;
use super::{BendingEnd, Segment};

/// Elements with deflection and slope at both ends (cubic shapes, consistent mass: Cook, "Concepts and
/// Applications of Finite Element Analysis", from memory). Node k has the coordinates 2k and 2k + 1.
pub(super) fn system(
    segments: &[Segment],
    masses: &[f64],
    ends: [BendingEnd; 2],
    elements: usize,
) -> System {
    let elements = shared(&segments.iter().map(phase).collect::<Vec<_>>(), elements);
    let size = 2 * (elements.iter().sum::<usize>() + 1);
    let mut system = System::new(size);
    let (mut node, mut start) = (0, 0.0);
    let mut positions = vec![0.0];
    let (mut compliance, mut total) = (0.0, masses.iter().sum::<f64>());
    for ((segment, &count), &mass) in segments.iter().zip(&elements).zip(masses) {
        let stiffness = segment.material.elastic_modulus * segment.second_moment();
        let weight = segment.material.density * segment.area();
        let h = segment.length / count as f64;
        system.add_mass([2 * node], [[mass]]);
        for element in 0..count {
            add(&mut system, node, h, stiffness, weight);
            let from = start + h * element as f64;
            halves(&mut system.points, node, from, h);
            positions.push(from + h);
            node += 1;
        }
        start += segment.length;
        compliance += segment.length / stiffness;
        total += weight * segment.length;
    }
    let last = masses.last().copied().unwrap_or(0.0);
    system.add_mass([2 * node], [[last]]);
    system.points.push(Place {
        position: start,
        sum: vec![(2 * node, 1.0)],
    });
    for (at, end) in [0, node].into_iter().zip(ends) {
        if end != BendingEnd::Free {
            system.held.push(2 * at);
        }
        if end == BendingEnd::Clamped {
            system.held.push(2 * at + 1);
        }
    }
    system.rigid = rigid(&system, &positions, ends);
    system.shift = 1.0 / (compliance * start * start * total);
    system
}

/// Waves bend a segment over `phase·√ω` radians.
fn phase(segment: &Segment) -> f64 {
    let material = segment.material;
    let ratio =
        material.density * segment.area() / (material.elastic_modulus * segment.second_moment());
    segment.length * ratio.powf(0.25)
}

/// One element from a node to the next: length, E·I and ρ·A.
fn add(system: &mut System, node: usize, h: f64, stiffness: f64, weight: f64) {
    let (left, right) = (2 * node, 2 * node + 2);
    // An even curvature, and one that changes its sign in the middle.
    let (k, m) = (stiffness / h, weight * h / 420.0);
    system.add_spring(k, [(left + 1, -1.0), (right + 1, 1.0)]);
    let odd = [
        (left, 2.0 / h),
        (left + 1, 1.0),
        (right, -2.0 / h),
        (right + 1, 1.0),
    ];
    system.add_spring(3.0 * k, odd);
    let hh = h * h;
    let masses = [
        [156.0, 22.0 * h, 54.0, -13.0 * h],
        [22.0 * h, 4.0 * hh, 13.0 * h, -3.0 * hh],
        [54.0, 13.0 * h, 156.0, -22.0 * h],
        [-13.0 * h, -3.0 * hh, -22.0 * h, 4.0 * hh],
    ];
    let at = [left, left + 1, right, right + 1];
    system.add_mass(at, masses.map(|row| row.map(|x| m * x)));
}

/// The element's left end and its middle.
fn halves(points: &mut Vec<Place>, node: usize, from: f64, h: f64) {
    let (left, right) = (2 * node, 2 * node + 2);
    points.push(Place {
        position: from,
        sum: vec![(left, 1.0)],
    });
    points.push(Place {
        position: from + 0.5 * h,
        sum: vec![
            (left, 0.5),
            (right, 0.5),
            (left + 1, h / 8.0),
            (right + 1, -h / 8.0),
        ],
    });
}

/// Motions that bend nothing: a shift, and a tilt about the centre of mass or about the only pin.
fn rigid(system: &System, positions: &[f64], ends: [BendingEnd; 2]) -> Vec<DVector<f64>> {
    use BendingEnd::{Free, Pinned};
    let tilt = |about: f64| {
        DVector::from_iterator(
            2 * positions.len(),
            positions.iter().flat_map(|x| [x - about, 1.0]),
        )
    };
    let right = positions.last().copied().unwrap_or(0.0);
    match ends {
        [Free, Free] => {
            let shift = DVector::from_iterator(
                2 * positions.len(),
                positions.iter().flat_map(|_| [1.0, 0.0]),
            );
            let weight = &system.mass * &shift;
            let centre = weight.dot(&tilt(0.0)) / weight.dot(&shift);
            vec![shift, tilt(centre)]
        }
        [Pinned, Free] => vec![tilt(0.0)],
        [Free, Pinned] => vec![tilt(right)],
        _ => Vec::new(),
    }
}
