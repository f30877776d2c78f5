//! Every corner of the box.

use super::look::Look;
use crate::spread::Figures;

/// As long as there are no more axes than this, every corner is looked at.
pub const MOST: usize = 16;

/// Corners between two questions whether to go on.
const STRETCH: u32 = 64;

/// Looks at the next corners from number `next` on, whose bits say which axes are at their upper ends; gives
/// the number that comes then.
pub fn step(look: &mut Look, figures: &mut dyn Figures, next: u32) -> u32 {
    let last = (next + STRETCH).min(1 << look.axes.len());
    let mut units = look.board(0.0);
    let mut boards = Vec::with_capacity((last - next) as usize * units.len());
    for corner in next..last {
        for (bit, axis) in look.axes.iter().enumerate() {
            axis.put(&mut units, f64::from(corner >> bit & 1));
        }
        boards.extend_from_slice(&units);
    }
    look.read(figures, &boards, true);
    last
}
