//! A chain of inertias and springs.

use nalgebra::DVector;

use super::eigen::{Place, System};

/// Inertias in kg·m², springs in N·m/rad; positions are places in the chain, from 0.
pub(super) fn system(inertias: &[f64], springs: &[f64], ground: &[f64; 2]) -> System {
    let size = inertias.len();
    let mut system = System::new(size);
    for (at, &inertia) in inertias.iter().enumerate() {
        system.add_mass([at], [[inertia]]);
    }
    for (at, &k) in springs.iter().enumerate() {
        system.add_spring(k, [(at, -1.0), (at + 1, 1.0)]);
    }
    for (at, &k) in [0, size - 1].into_iter().zip(ground) {
        system.add_spring(k, [(at, 1.0)]);
    }
    if ground.iter().all(|&k| k == 0.0) {
        system.rigid.push(DVector::repeat(size, 1.0));
    }
    // No chain is slower than all its inertia on all its springs in a row.
    let all = springs.iter().chain(ground).filter(|&&k| k > 0.0);
    let compliance: f64 = all.map(|k| 1.0 / k).sum();
    system.shift = 1.0 / (compliance * inertias.iter().sum::<f64>());
    system.points = (0..size)
        .map(|at| Place {
            position: at as f64,
            sum: vec![(at, 1.0)],
        })
        .collect();
    system
}
