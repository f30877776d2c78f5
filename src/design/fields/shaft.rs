//! The fields of a shaft or a chain.

use super::super::field::{Field, Kind};
use super::{Group, LOG, quantity};
use crate::plant::shaft::Shaft;
use crate::plant::shaft::bounds::{
    DENSITIES, DIAMETERS, INERTIAS, LENGTHS, LOADS, MODULI, SPRINGS,
};
use crate::quantity::Unit;

const AT: &str = "/servo/shaft";

/// Lengths in metres and the like have their unit in the label: a metre's own sign is also a prefix.
fn number(path: String, label: String, range: (f64, f64), help: &'static str) -> Field {
    quantity(path, &label, Unit::One, range, LOG, help)
}

fn ends(all: &mut Vec<(Group, Field)>, options: &[(&'static str, &'static str)]) {
    for (index, label) in [(0, "Left end"), (1, "Right end")] {
        let field = Field {
            path: format!("{AT}/ends/{index}"),
            label: label.to_owned(),
            kind: Kind::choice(options.to_vec()),
            help: "How this end is held.",
        };
        all.push((Group::Shaft, field));
    }
}

/// Those of a shaft's segments, discs and ends, or of a chain's inertias and springs.
pub(super) fn shaft(all: &mut Vec<(Group, Field)>, shaft: &Shaft) {
    match shaft {
        Shaft::Torsion { segments, .. } => {
            ends(all, &[("free", "free"), ("fixed", "fixed")]);
            let disc = ("inertias", "disc, kg·m²", "0 where there is none.");
            places(all, segments.len(), disc);
        }
        Shaft::Bending { segments, .. } => {
            let options = [
                ("free", "free"),
                ("pinned", "pinned"),
                ("clamped", "clamped"),
            ];
            ends(all, &options);
            places(
                all,
                segments.len(),
                ("masses", "mass, kg", "0 where there is none."),
            );
        }
        Shaft::Chain { inertias, .. } => chain(all, inertias.len()),
    }
}

fn places(all: &mut Vec<(Group, Field)>, segments: usize, disc: (&str, &str, &'static str)) {
    let (list, what, help) = disc;
    for index in 0..=segments {
        let mut add = |field| all.push((Group::ShaftPlace(index), field));
        let label = format!("Station {} {what}", index + 1);
        add(number(
            format!("{AT}/{list}/{index}"),
            label,
            (0.0, LOADS.1),
            help,
        ));
        if index == segments {
            continue;
        }
        let at = format!("{AT}/segments/{index}");
        let mut piece = |name: &str, label: &str, range, help| {
            let label = format!("Segment {} {label}", index + 1);
            add(number(format!("{at}/{name}"), label, range, help));
        };
        piece("length", "length, m", LENGTHS, "Along the shaft.");
        piece(
            "outer_diameter",
            "outer diameter, m",
            DIAMETERS,
            "Of the cross-section.",
        );
        piece(
            "inner_diameter",
            "inner diameter, m",
            (0.0, DIAMETERS.1),
            "0 for a full shaft.",
        );
        piece(
            "material/elastic_modulus",
            "elastic modulus, Pa",
            MODULI,
            "Counts in bending.",
        );
        piece(
            "material/shear_modulus",
            "shear modulus, Pa",
            MODULI,
            "Counts in torsion.",
        );
        piece(
            "material/density",
            "density, kg/m³",
            DENSITIES,
            "Of the material.",
        );
    }
}

fn chain(all: &mut Vec<(Group, Field)>, inertias: usize) {
    for (index, label) in [
        (0, "Spring from first to ground"),
        (1, "Spring from last to ground"),
    ] {
        let path = format!("{AT}/ground/{index}");
        let label = format!("{label}, N·m/rad");
        let field = number(path, label, (0.0, SPRINGS.1), "0 where there is none.");
        all.push((Group::Shaft, field));
    }
    for index in 0..inertias {
        let mut add = |field| all.push((Group::ShaftPlace(index), field));
        let path = format!("{AT}/inertias/{index}");
        let label = format!("Inertia {}, kg·m²", index + 1);
        add(number(path, label, INERTIAS, "Of a rigid body."));
        if index + 1 < inertias {
            let path = format!("{AT}/springs/{index}");
            let label = format!("Spring {} to {}, N·m/rad", index + 1, index + 2);
            add(number(path, label, SPRINGS, "Between neighbours."));
        }
    }
}
