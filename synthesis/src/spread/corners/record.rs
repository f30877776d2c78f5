//! The lowest and highest value of each figure among the boards that were looked at.

/// A board, and what it makes of a figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Extreme {
    pub value: f64,
    /// The board's units, see [`crate::spread::Draws::values`].
    pub units: Vec<f64>,
}

/// Of one figure, lowest and highest.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Extremes {
    /// Among corners.
    pub corners: [Option<Extreme>; 2],
    /// Among all boards, inside the box too.
    pub boards: [Option<Extreme>; 2],
    /// Boards on which the figure could not be read.
    pub unreadable: u32,
}

/// 1 where larger is further out, −1 where smaller is.
pub const SIDES: [f64; 2] = [-1.0, 1.0];

impl Extremes {
    pub fn see(&mut self, value: f64, units: &[f64], is_corner: bool) {
        if value.is_nan() {
            self.unreadable += 1;
            return;
        }
        for (side, sign) in SIDES.into_iter().enumerate() {
            let places = [&mut self.boards[side], &mut self.corners[side]];
            let count = if is_corner { 2 } else { 1 };
            for place in places.into_iter().take(count) {
                let known = place.as_ref().map(|known| known.value);
                if known.is_none_or(|known| sign * value > sign * known) {
                    *place = Some(Extreme {
                        value,
                        units: units.to_vec(),
                    });
                }
            }
        }
    }

    /// How far apart highest and lowest are; 0 without any.
    pub fn span(&self) -> f64 {
        match &self.boards {
            [Some(low), Some(high)] => high.value - low.value,
            _ => 0.0,
        }
    }

    /// Whether a board inside the box goes further than every corner to this side, by more than a
    /// ten-thousandth of the figure's range.
    pub fn is_inside(&self, side: usize) -> bool {
        match (&self.boards[side], &self.corners[side]) {
            (Some(board), Some(corner)) => {
                SIDES[side] * (board.value - corner.value) > 1e-4 * self.span()
            }
            (board, _) => board.is_some(),
        }
    }
}
