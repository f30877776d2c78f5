//! What shafts are made of.

use serde::{Deserialize, Serialize};

/// An isotropic elastic material.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Young's modulus, Pa; bending asks for it.
    pub elastic_modulus: f64,
    /// Pa; torsion asks for it.
    pub shear_modulus: f64,
    /// kg/m³.
    pub density: f64,
}

impl Material {
    /// Carbon steel; common handbook values, from memory.
    pub const STEEL: Material = Material::new(206e9, 80e9, 7850.0);
    /// Wrought aluminium alloy; common handbook values, from memory.
    pub const ALUMINIUM: Material = Material::new(70e9, 26e9, 2700.0);
    /// Titanium with 6 % Al and 4 % V; common handbook values, from memory.
    pub const TITANIUM: Material = Material::new(114e9, 43e9, 4430.0);
    /// Sintered alumina of 99.5 %; common handbook values, from memory; they vary with the porosity.
    pub const ALUMINA: Material = Material::new(370e9, 150e9, 3900.0);
    /// Borosilicate glass; common handbook values, from memory.
    pub const GLASS: Material = Material::new(63e9, 26e9, 2230.0);
    /// Beryllium; common handbook values, from memory.
    pub const BERYLLIUM: Material = Material::new(290e9, 135e9, 1850.0);

    const fn new(elastic_modulus: f64, shear_modulus: f64, density: f64) -> Material {
        Material {
            elastic_modulus,
            shear_modulus,
            density,
        }
    }
}

/// The presets with their names.
pub const MATERIALS: [(&str, Material); 6] = [
    ("Steel", Material::STEEL),
    ("Aluminium", Material::ALUMINIUM),
    ("Titanium", Material::TITANIUM),
    ("Alumina", Material::ALUMINA),
    ("Glass", Material::GLASS),
    ("Beryllium", Material::BERYLLIUM),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_moduli_fit_each_other() {
        // E = 2·G·(1 + ν), and Poisson's ratio of these lies between that of beryllium and that of aluminium.
        for (name, material) in MATERIALS {
            let poisson = material.elastic_modulus / (2.0 * material.shear_modulus) - 1.0;
            assert!((0.02..0.36).contains(&poisson), "{name}: {poisson}");
        }
    }
}
