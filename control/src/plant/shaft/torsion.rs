//! A stepped shaft that twists, in finite elements.

use nalgebra::DVector;

use super::eigen::{Place, System};
use super::elements::shared;
use super::{Segment, TorsionEnd};

/// Elements of three nodes each (quadratic shapes, consistent mass: Cook, "Concepts and Applications of Finite
/// Element Analysis", from memory): their error falls with the fourth power of their length, that of linear
/// ones with the second.
pub(super) fn system(
    segments: &[Segment],
    inertias: &[f64],
    ends: [TorsionEnd; 2],
    elements: usize,
) -> System {
    // Time that a wave takes.
    let times = segments
        .iter()
        .map(|s| s.length * (s.material.density / s.material.shear_modulus).sqrt());
    let elements = shared(&times.collect::<Vec<_>>(), elements);
    let size = 2 * elements.iter().sum::<usize>() + 1;
    let mut system = System::new(size);
    let (mut node, mut start) = (0, 0.0);
    let (mut compliance, mut inertia) = (0.0, 0.0);
    for ((segment, &count), &disc) in segments.iter().zip(&elements).zip(inertias) {
        let polar = 2.0 * segment.second_moment();
        let h = segment.length / count as f64;
        let k = segment.material.shear_modulus * polar / h;
        let m = segment.material.density * polar * h / 30.0;
        system.add_mass([node], [[disc]]);
        for element in 0..count {
            // The twist from end to end, and how far the middle is off the straight line.
            system.add_spring(k, [(node, -1.0), (node + 2, 1.0)]);
            let off = [(node, -0.5), (node + 1, 1.0), (node + 2, -0.5)];
            system.add_spring(16.0 / 3.0 * k, off);
            let mass = [[4.0, 2.0, -1.0], [2.0, 16.0, 2.0], [-1.0, 2.0, 4.0]];
            system.add_mass(
                [node, node + 1, node + 2],
                mass.map(|row| row.map(|x| m * x)),
            );
            for half in 0..2 {
                system.points.push(Place {
                    position: start + h * (element as f64 + 0.5 * f64::from(half)),
                    sum: vec![(node + half as usize, 1.0)],
                });
            }
            node += 2;
        }
        start += segment.length;
        compliance += segment.length / (segment.material.shear_modulus * polar);
        inertia += segment.material.density * polar * segment.length;
    }
    let last = inertias.last().copied().unwrap_or(0.0);
    system.add_mass([node], [[last]]);
    system.points.push(Place {
        position: start,
        sum: vec![(node, 1.0)],
    });
    for (at, end) in [0, node].into_iter().zip(ends) {
        if end == TorsionEnd::Fixed {
            system.held.push(at);
        }
    }
    if system.held.is_empty() {
        system.rigid.push(DVector::repeat(size, 1.0));
    }
    system.shift = 1.0 / (compliance * (inertia + inertias.iter().sum::<f64>()));
    system
}
