//! How large a shaft may be, and its numbers.

/// Segments at most.
pub const MOST_SEGMENTS: usize = 12;
/// Inertias of a chain at most.
pub const MOST_INERTIAS: usize = 24;

/// Of a segment, m.
pub const LENGTHS: (f64, f64) = (1e-5, 100.0);
/// Outer diameters, m.
pub const DIAMETERS: (f64, f64) = (1e-5, 10.0);
/// Elastic and shear moduli, Pa.
pub const MODULI: (f64, f64) = (1e5, 2e12);
/// kg/m³.
pub const DENSITIES: (f64, f64) = (1.0, 3e4);
/// Discs and point masses where there are some, kg·m² or kg.
pub const LOADS: (f64, f64) = (1e-18, 1e6);
/// Of a chain, kg·m².
pub const INERTIAS: (f64, f64) = (1e-15, 1e6);
/// Of a chain, N·m/rad; to ground where there is one.
pub const SPRINGS: (f64, f64) = (1e-9, 1e12);
