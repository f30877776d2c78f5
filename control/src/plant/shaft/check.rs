//! Whether a shaft can be worked on.

use super::bounds::*;
use super::{Segment, Shaft};

/// Between the longest and the shortest segment. With the next two it keeps stiffnesses so near each other
/// that the soft ones are not lost in rounding.
const LENGTHS_APART: f64 = 1e3;
/// Between the thickest and the thinnest segment.
const DIAMETERS_APART: f64 = 50.0;
/// Between the hardest and the softest spring.
const SPRINGS_APART: f64 = 1e9;

/// Every value in its range, and values that must fit each other.
///
/// # Errors
/// A sentence for each thing that is wrong: the field and what is accepted.
pub fn check(shaft: &Shaft) -> Result<(), Vec<String>> {
    let mut wrong = Wrong(Vec::new());
    match shaft {
        Shaft::Torsion {
            segments, inertias, ..
        } => {
            wrong.segments(segments);
            wrong.stations("inertia", "kg·m²", inertias, segments.len());
        }
        Shaft::Bending {
            segments, masses, ..
        } => {
            wrong.segments(segments);
            wrong.stations("mass", "kg", masses, segments.len());
        }
        Shaft::Chain {
            inertias,
            springs,
            ground,
        } => wrong.chain(inertias, springs, ground),
    }
    if wrong.0.is_empty() {
        Ok(())
    } else {
        Err(wrong.0)
    }
}

/// The sentences so far.
struct Wrong(Vec<String>);

impl Wrong {
    fn range(&mut self, field: &str, value: f64, (low, high): (f64, f64), unit: &str) {
        if !(low..=high).contains(&value) {
            self.0.push(format!(
                "{field} must lie between {low} and {high} {unit}; it is {value}."
            ));
        }
    }

    /// As a range, but 0 is accepted, too.
    fn range_or_none(&mut self, field: &str, value: f64, (low, high): (f64, f64), unit: &str) {
        if value != 0.0 && !(low..=high).contains(&value) {
            self.0.push(format!(
                "{field} must be 0 or lie between {low} and {high} {unit}; it is {value}."
            ));
        }
    }

    fn apart(&mut self, field: &str, values: &[f64], most: f64) {
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(0.0, f64::max);
        if high > most * low {
            self.0.push(format!(
                "The largest {field} must be at most {most} times the smallest; they are {high} and {low}."
            ));
        }
    }

    fn segments(&mut self, segments: &[Segment]) {
        if segments.is_empty() || segments.len() > MOST_SEGMENTS {
            self.0.push(format!(
                "The shaft must have from 1 to {MOST_SEGMENTS} segments; it has {}.",
                segments.len()
            ));
            return;
        }
        let before = self.0.len();
        for (index, segment) in segments.iter().enumerate() {
            let name = |field: &str| format!("The {field} of segment {}", index + 1);
            let material = segment.material;
            self.range(&name("length"), segment.length, LENGTHS, "m");
            self.range(
                &name("outer diameter"),
                segment.outer_diameter,
                DIAMETERS,
                "m",
            );
            // Thinner walls than a thousandth would be no tube that keeps its shape.
            if !(0.0..=0.998 * segment.outer_diameter).contains(&segment.inner_diameter) {
                self.0.push(format!(
                    "{} must be 0 or more and at most 0.998 times the outer diameter; it is {}.",
                    name("inner diameter"),
                    segment.inner_diameter
                ));
            }
            self.range(
                &name("elastic modulus"),
                material.elastic_modulus,
                MODULI,
                "Pa",
            );
            self.range(&name("shear modulus"), material.shear_modulus, MODULI, "Pa");
            self.range(&name("density"), material.density, DENSITIES, "kg/m³");
        }
        if self.0.len() == before {
            let all = |field: fn(&Segment) -> f64| segments.iter().map(field).collect::<Vec<_>>();
            self.apart("length", &all(|s| s.length), LENGTHS_APART);
            self.apart(
                "outer diameter",
                &all(|s| s.outer_diameter),
                DIAMETERS_APART,
            );
        }
    }

    fn stations(&mut self, what: &str, unit: &str, values: &[f64], segments: usize) {
        if values.len() != segments + 1 {
            self.0.push(format!(
                "There must be one {what} for each end and junction, {} in all; there are {}.",
                segments + 1,
                values.len()
            ));
        }
        for (index, &value) in values.iter().take(MOST_SEGMENTS + 1).enumerate() {
            let field = format!("The {what} at station {}", index + 1);
            self.range_or_none(&field, value, LOADS, unit);
        }
    }

    fn chain(&mut self, inertias: &[f64], springs: &[f64], ground: &[f64; 2]) {
        if inertias.is_empty() || inertias.len() > MOST_INERTIAS {
            self.0.push(format!(
                "The chain must have from 1 to {MOST_INERTIAS} inertias; it has {}.",
                inertias.len()
            ));
            return;
        }
        if springs.len() + 1 != inertias.len() {
            self.0.push(format!(
                "The chain must have one spring between each two neighbours, {} in all; it has {}.",
                inertias.len() - 1,
                springs.len()
            ));
            return;
        }
        let before = self.0.len();
        for (index, &value) in inertias.iter().enumerate() {
            self.range(&format!("Inertia {}", index + 1), value, INERTIAS, "kg·m²");
        }
        for (index, &value) in springs.iter().enumerate() {
            self.range(&format!("Spring {}", index + 1), value, SPRINGS, "N·m/rad");
        }
        for (which, &value) in ["first", "last"].iter().zip(ground) {
            let field = format!("The spring from the {which} inertia to ground");
            self.range_or_none(&field, value, SPRINGS, "N·m/rad");
        }
        if self.0.len() == before {
            let all: Vec<f64> = springs
                .iter()
                .chain(ground)
                .copied()
                .filter(|&k| k > 0.0)
                .collect();
            if !all.is_empty() {
                self.apart("spring", &all, SPRINGS_APART);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Material, TorsionEnd};
    use super::*;

    #[test]
    fn sentences_name_the_field_and_what_is_accepted() {
        let segment = Segment {
            length: f64::NAN,
            outer_diameter: 0.01,
            inner_diameter: 0.01,
            material: Material::STEEL,
        };
        let shaft = Shaft::Torsion {
            segments: vec![segment],
            inertias: vec![-1.0],
            ends: [TorsionEnd::Free; 2],
        };
        assert_eq!(
            check(&shaft).unwrap_err(),
            [
                "The length of segment 1 must lie between 0.00001 and 100 m; it is NaN.",
                "The inner diameter of segment 1 must be 0 or more and at most 0.998 times the outer diameter; \
                 it is 0.01.",
                "There must be one inertia for each end and junction, 2 in all; there are 1.",
                "The inertia at station 1 must be 0 or lie between 0.000000000000000001 and 1000000 kg·m²; it is -1.",
            ]
        );
        assert_eq!(check(&Shaft::default()), Ok(()));
    }

    #[test]
    fn a_chain_needs_a_spring_between_neighbours() {
        let chain = |springs: &[f64]| Shaft::Chain {
            inertias: vec![1.0, 2.0],
            springs: springs.to_vec(),
            ground: [0.0; 2],
        };
        assert!(check(&chain(&[1.0])).is_ok());
        assert!(check(&chain(&[])).is_err());
        assert!(check(&chain(&[0.0])).is_err());
    }
}
