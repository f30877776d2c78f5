//! What is written at a plot's axes, and where there is room for it.

use super::frame::{Frame, MARGINS};

/// Height of the letters, CSS pixels.
pub const SIZE_OF_LETTERS: f64 = 11.5;

/// Width of a character of the labels, CSS pixels, about.
const CHARACTER: f64 = 6.4;

/// Between an axis and its labels, CSS pixels.
const GAP: f64 = 6.0;

/// How a label lies at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Below the place, its middle there.
    Below,
    /// Below the place, its end there.
    BelowEndingThere,
    /// To the left, at half its height.
    Left,
}

/// A label at its place, CSS pixels from the upper left.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    pub text: String,
    pub at: (f64, f64),
    pub side: Side,
}

impl Frame {
    /// The labels of both axes that have room.
    pub fn labels(&self) -> Vec<Label> {
        let (x, y) = (&self.x, &self.y);
        let mut labels = Vec::new();
        let mut written = f64::NEG_INFINITY;
        for tick in &x.ticks {
            let Some(text) = tick.label.clone().filter(|_| tick.at.is_finite()) else {
                continue;
            };
            let (middle, foot) = self.at((tick.at, y.low));
            let width = CHARACTER * text.chars().count() as f64;
            // The outermost label stays inside.
            let is_last = x.share(tick.at) > 0.97;
            let (along, side, left) = if is_last {
                let end = middle + MARGINS.1 - 2.0;
                (end, Side::BelowEndingThere, end - width)
            } else {
                (middle, Side::Below, middle - width / 2.0)
            };
            // On a narrow chart every other label would touch the one before it.
            if left < written {
                continue;
            }
            written = left + width + CHARACTER;
            labels.push(Label {
                text,
                at: (along, foot + GAP),
                side,
            });
        }
        let upright = y.ticks.iter().filter(|tick| tick.at.is_finite());
        labels.extend(upright.filter_map(|tick| {
            let (left, middle) = self.at((x.low, tick.at));
            Some(Label {
                text: tick.label.clone()?,
                at: (left - GAP, middle),
                side: Side::Left,
            })
        }));
        labels
    }
}
