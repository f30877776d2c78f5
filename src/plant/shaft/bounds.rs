//! How large a shaft may be, and its numbers.

/// Segments at most.
pub(crate) const MOST_SEGMENTS: usize = 12;
/// Inertias of a chain at most.
pub(crate) const MOST_INERTIAS: usize = 24;

/// Of a segment, m.
pub(crate) const LENGTHS: (f64, f64) = (1e-5, 100.0);
/// Outer diameters, m.
pub(crate) const DIAMETERS: (f64, f64) = (1e-5, 10.0);
/// Elastic and shear moduli, Pa.
pub(crate) const MODULI: (f64, f64) = (1e5, 2e12);
/// kg/m³.
pub(crate) const DENSITIES: (f64, f64) = (1.0, 3e4);
/// Discs and point masses where there are some, kg·m² or kg.
pub(crate) const LOADS: (f64, f64) = (1e-18, 1e6);
/// Of a chain, kg·m².
pub(crate) const INERTIAS: (f64, f64) = (1e-15, 1e6);
/// Of a chain, N·m/rad; to ground where there is one.
pub(crate) const SPRINGS: (f64, f64) = (1e-9, 1e12);
