//! The colours of what is drawn on white paper: those of `style/print.css`, written out, because a picture may stand
//! where no style sheet is.

pub const PAPER: &str = "#ffffff";
pub const INK: &str = "#000000";
/// Names, limits, what was asked.
pub const FAINT: &str = "#444444";
/// The grid.
pub const RULE: &str = "#bbbbbb";
/// The real result.
/// Bars of what has no limits.
pub const EDGE: &str = "#777777";
pub const ACCENT: &str = "#8a2a0b";
pub const LETTERS: &str = "system-ui, sans-serif";
