//! Whether stages that are proposed could be put in the path.

use crate::design::{Design, ServoDesign, StageDesign, check};

/// What of a design decides whether stages could be put in its path: all but the sweep, which was looked at, and what
/// does not hang on the path.
pub(super) fn path_design(design: &Design) -> Design {
    Design {
        servo: ServoDesign {
            sweep: String::new(),
            ..design.servo.clone()
        },
        stages: design
            .stages
            .iter()
            .map(StageDesign::without_bench)
            .collect(),
        shelf: design.shelf.clone(),
        op_amps: design.op_amps.clone(),
        ..Design::blank()
    }
}

/// Why a path with these stages in it could not be worked on.
pub(super) fn refused(design: &Design, put_in: impl FnOnce(&mut Design)) -> Option<String> {
    let mut tried = design.clone();
    put_in(&mut tried);
    let errors = check(&tried).err()?;
    let first = errors.into_iter().next()?;
    Some(format!("These stages cannot be put in the path: {first}"))
}
