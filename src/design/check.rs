//! Whether a design can be worked on.

use std::cmp::Ordering;

use super::limits::{MOST_NETWORKS, MOST_STAGES, MOST_VALUES};
use super::op_amps::MOST_OP_AMPS;
use super::{About, Design, InputError, SignalPoint, VERSION, fields};
use crate::parts::Bin;
use crate::plant::{Model, Settings};
use crate::stages::catalogued;

/// Every field in its range, and fields that must fit each other.
///
/// # Errors
/// All that is wrong, in the order of the fields.
pub fn check(design: &Design) -> Result<(), Vec<InputError>> {
    check_after(design, None)
}

/// The same; a sweep that `before`, which was found to be sound, has as well is not read again.
///
/// # Errors
/// As [`check`].
pub fn check_after(design: &Design, before: Option<&Design>) -> Result<(), Vec<InputError>> {
    let mut errors: Vec<InputError> = check_version(design).into_iter().collect();
    let too_many = too_many(design);
    // A list that is too long is told alone: all that could be said of its entries is too long as well.
    if !too_many.is_empty() {
        errors.extend(too_many);
        return Err(errors);
    }
    errors.extend(check_shown(design));
    check_circuits(&mut errors, design);
    check_fields(&mut errors, design);
    let shelf = &design.shelf;
    check_bin(
        &mut errors,
        "/shelf/resistors",
        "resistor",
        &shelf.resistors,
    );
    check_bin(
        &mut errors,
        "/shelf/capacitors",
        "capacitor",
        &shelf.capacitors,
    );
    errors.extend(super::op_amps::check(design));
    errors.extend(check_board(design));
    check_variations(&mut errors, design);
    let sound_sweep = before.map(|before| before.servo.sweep.as_str());
    errors.extend(design.servo.check(sound_sweep));
    // What does not fit together is told once each entry is well in itself.
    if errors.is_empty() {
        check_asks(&mut errors, design);
    }
    if errors.is_empty() {
        Ok(())
    } else {
        Err(errors)
    }
}

fn check_version(design: &Design) -> Option<InputError> {
    let later = match design.version.cmp(&VERSION) {
        Ordering::Equal => return None,
        Ordering::Greater => ", from a later version of this program",
        Ordering::Less => "",
    };
    Some(InputError::new(
        "/version",
        format!(
            "This design is of version {}{later}; this one reads version {VERSION}.",
            design.version
        ),
    ))
}

/// The stage that is shown must be there. A path of no stages is a wire, and shows none.
fn check_shown(design: &Design) -> Option<InputError> {
    (design.view.stage >= design.stages.len().max(1)).then(|| {
        InputError::new(
            "/view/stage",
            format!(
                "The path has no stage {} to show; stages are counted from 0, and it has {}.",
                design.view.stage,
                design.stages.len()
            ),
        )
    })
}

/// Every circuit must be in the catalogue and suit its ask.
fn check_circuits(errors: &mut Vec<InputError>, design: &Design) {
    for (index, stage) in design.stages.iter().enumerate() {
        let message = match catalogued(&stage.circuit) {
            None => format!("There is no circuit “{}” in the catalogue.", stage.circuit),
            Some(circuit) if !circuit.default_ask().is_like(&stage.ask) => format!(
                "The circuit “{}” does not suit this kind of requirement.",
                circuit.title()
            ),
            Some(_) => continue,
        };
        let at = format!("/stages/{index}/circuit");
        errors.push(InputError::new(&at, message));
    }
}

/// Every field in its range.
fn check_fields(errors: &mut Vec<InputError>, design: &Design) {
    let tree = serde_json::to_value(design).unwrap_or_default();
    for (_, field) in fields(design) {
        let value = tree.pointer(&field.path).cloned().unwrap_or_default();
        if let Err(message) = field.holds(&value) {
            errors.push(InputError {
                path: field.path,
                message,
            });
        }
    }
}

/// Entries of an ask that must fit each other.
fn check_asks(errors: &mut Vec<InputError>, design: &Design) {
    for (index, stage) in design.stages.iter().enumerate() {
        let conflicts = stage.ask.asked().conflicts();
        errors.extend(conflicts.into_iter().map(|(name, message)| {
            InputError::new(&format!("/stages/{index}/ask/{name}"), message)
        }));
    }
}

/// Lists of which each entry brings fields with it, and that are too long.
fn too_many(design: &Design) -> Vec<InputError> {
    let mut errors = Vec::new();
    if design.stages.len() > MOST_STAGES {
        errors.push(InputError::new(
            "/stages",
            format!("The path may hold {MOST_STAGES} stages at most."),
        ));
    }
    let networks = design.spread.networks.len();
    if networks > MOST_NETWORKS {
        errors.push(InputError::new(
            "/spread/networks",
            format!("There are {networks} networks; up to {MOST_NETWORKS} are accepted."),
        ));
    }
    if design.op_amps.len() > MOST_OP_AMPS {
        errors.push(InputError::new(
            "/op_amps",
            format!("The list may hold {MOST_OP_AMPS} op amps at most."),
        ));
    }
    if design.signal.points.len() > SignalPoint::MOST {
        errors.push(InputError::new(
            "/signal/points",
            format!("The signal may have {} points at most.", SignalPoint::MOST),
        ));
    }
    if design.about.log.len() > About::ENTRIES {
        errors.push(InputError::new(
            "/about/log",
            format!("The log may hold {} changes at most.", About::ENTRIES),
        ));
    }
    let modes = |model: &Model| model.modes.len() > Settings::MOST_MODES;
    if design.servo.model.as_ref().is_some_and(modes) {
        errors.push(InputError::new(
            "/servo/model/modes",
            format!("The model may have {} modes at most.", Settings::MOST_MODES),
        ));
    }
    errors
}

/// Rails apart, a band that rises, a signal whose points rise.
fn check_board(design: &Design) -> Vec<InputError> {
    let mut errors = Vec::new();
    if design.noise.to <= design.noise.from {
        errors.push(InputError::new(
            "/noise/to",
            "Noise to is not above where it begins; write a higher frequency.".to_owned(),
        ));
    }
    if design.signal.points.is_empty() {
        errors.push(InputError::new(
            "/signal/points",
            "The signal has no point; give it one.".to_owned(),
        ));
    }
    for (place, pair) in design.signal.points.windows(2).enumerate() {
        if pair[1].frequency <= pair[0].frequency {
            let number = place + 2;
            errors.push(InputError::new(
                &format!("/signal/points/{}/frequency", place + 1),
                format!("Frequency of point {number} is not above that of the point before it; write a higher one."),
            ));
        }
    }
    errors
}

/// Parts that vary in their own way must be there, and drift must leave something of a part.
fn check_variations(errors: &mut Vec<InputError>, design: &Design) {
    let networks = design.spread.networks.len();
    for (index, stage) in design.stages.iter().enumerate() {
        let Some(circuit) = catalogued(&stage.circuit) else {
            continue;
        };
        let netlist = circuit.netlist();
        for (name, part) in &stage.variations {
            let at = format!("/stages/{index}/strays/{name}");
            if netlist.position(name).is_none() {
                errors.push(InputError::new(
                    &at,
                    format!("This circuit has no part “{name}” that could vary."),
                ));
            }
            if part.network.is_some_and(|n| n == 0 || n > networks) {
                errors.push(InputError::new(
                    &format!("{at}/network"),
                    format!("Network of {name} is none of the {networks} networks."),
                ));
            }
        }
    }
    errors.extend(super::drift::check(design));
}

fn check_bin(errors: &mut Vec<InputError>, at: &str, what: &str, bin: &Bin) {
    if bin.list.is_none() && bin.lowest > bin.highest {
        errors.push(InputError::new(
            &format!("{at}/highest"),
            format!("Highest {what} is below the lowest; write a value at or above it."),
        ));
    } else if bin.list.is_none()
        && bin.highest.is_finite()
        && bin.lowest > 0.0
        && bin.values().is_empty()
    {
        errors.push(InputError::new(
            &format!("{at}/highest"),
            format!(
                "Highest {what} leaves no value of {:?} on the shelf; widen the range.",
                bin.series
            ),
        ));
    }
    if bin
        .list
        .as_ref()
        .is_some_and(|list| list.len() > MOST_VALUES)
    {
        errors.push(InputError::new(
            &format!("{at}/list"),
            format!(
                "The list of {what}s in stock is too long; up to {MOST_VALUES} values are accepted."
            ),
        ));
    }
}
