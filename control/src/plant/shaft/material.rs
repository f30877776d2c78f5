//! What shafts are made of.

use serde::{Deserialize, Serialize};

/// An isotropic elastic material.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
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

/// Values at room temperature. Moduli of elasticity and densities: Callister and Rethwisch, "Fundamentals of Materials
/// Science and Engineering", tables B.1 and B.2; shear moduli from these and Poisson's ratio, G = E/(2·(1 + ν)).
impl Material {
    /// Carbon steel, 1020 to 1040; ν 0.30.
    pub const STEEL: Material = Material::new(207e9, 79.6e9, 7850.0);
    /// Aluminium alloy 6061; ν 0.33.
    pub const ALUMINIUM: Material = Material::new(69e9, 25.9e9, 2700.0);
    /// Titanium with 6 % Al and 4 % V; ν 0.34.
    pub const TITANIUM: Material = Material::new(114e9, 42.5e9, 4430.0);
    /// Sintered alumina of 99.9 %; ν 0.22 (Dowling, "Mechanical Behavior of Materials", table 5.2). Lower grades are
    /// softer: 303 GPa at 96 %.
    pub const ALUMINA: Material = Material::new(380e9, 155.7e9, 3980.0);
    /// Borosilicate glass; ν 0.20.
    pub const GLASS: Material = Material::new(70e9, 29.2e9, 2230.0);
    /// Beryllium: data sheets have 303 GPa, 135 GPa and 1.84 g/cm³. Its dust is poisonous.
    const BERYLLIUM: Material = Material::new(303e9, 135e9, 1844.0);

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
