//! What noise hangs on besides parts.

use crate::design::{Design, StageDesign};
use crate::noise::Setting;

/// What a stage's noise hangs on besides its parts.
pub(super) fn of(design: &Design, stage: &StageDesign) -> Setting {
    let names = stage.op_amp_names();
    let op_amps = names
        .iter()
        .map(|name| design.data_sheet(stage, name).noise());
    Setting {
        band: (design.noise.from, design.noise.to),
        kelvin: design.conditions.kelvin(),
        op_amps: op_amps.collect(),
    }
}
