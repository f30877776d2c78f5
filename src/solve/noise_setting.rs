//! What noise hangs on besides parts.

use crate::design::{Design, StageDesign};
use crate::noise::Setting;
use crate::parts::DataSheet;

/// What a stage's noise hangs on besides its parts.
pub(super) fn of(design: &Design, stage: &StageDesign) -> Setting {
    let sheets = design.data_sheets(stage).into_iter();
    Setting {
        band: (design.noise.from, design.noise.to),
        kelvin: design.conditions.kelvin(),
        op_amps: sheets.map(DataSheet::noise).collect(),
    }
}
