//! Where a plot's values lie, once it has a size.

use super::plot::{Axis, Plot};

/// Space round the plot for labels, in CSS pixels: left, right, top, bottom.
pub const MARGINS: (f64, f64, f64, f64) = (58.0, 14.0, 8.0, 24.0);

/// A plot's axes as they lie at a size. Places are CSS pixels from the upper left.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    pub x: Axis,
    pub y: Axis,
    /// Width and height of the box between the axes' ends.
    inner: (f64, f64),
}

impl Frame {
    /// The frame of a plot on so many CSS pixels (width, height), margins included. None where there is no room, or
    /// where an axis has no length.
    pub fn of(plot: &Plot, (width, height): (f64, f64)) -> Option<Frame> {
        let (left, right, top, bottom) = MARGINS;
        let inner = (width - left - right, height - top - bottom);
        let frame = Frame {
            x: plot.x.clone(),
            y: upright(plot, inner),
            inner,
        };
        let has_room = inner.0 > 0.0 && inner.1 > 0.0;
        (has_room && frame.x.has_length() && frame.y.has_length()).then_some(frame)
    }

    /// Where a point lies, inside the axes or not.
    pub fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (left, _, top, _) = MARGINS;
        let (across, down) = self.inner;
        (
            left + self.x.share(x) * across,
            top + (1.0 - self.y.share(y)) * down,
        )
    }

    /// Whether a point lies inside the axes; what is no number does not.
    pub fn holds(&self, (x, y): (f64, f64)) -> bool {
        let inside = |axis: &Axis, at: f64| (axis.low..=axis.high).contains(&at);
        inside(&self.x, x) && inside(&self.y, y)
    }

    /// The point or dot nearest to a place; as its place among the points, the dots after them.
    pub fn nearest(&self, plot: &Plot, (left, top): (f64, f64)) -> Option<usize> {
        let all = plot.points.iter().chain(&plot.dots).copied().enumerate();
        let seen = all.filter(|(_, point)| self.holds(*point));
        let apart = seen.map(|(index, point)| {
            let (u, v) = self.at(point);
            (index, (u - left).hypot(v - top))
        });
        let nearest = apart.min_by(|a, b| a.1.total_cmp(&b.1));
        nearest.map(|(index, _)| index)
    }
}

/// The vertical axis on a box of this size.
fn upright(plot: &Plot, (across, down): (f64, f64)) -> Axis {
    let mut y = plot.y.clone();
    if plot.square {
        let (middle, half) = (
            (y.low + y.high) / 2.0,
            (plot.x.high - plot.x.low) / 2.0 * down / across,
        );
        (y.low, y.high) = (middle - half, middle + half);
        y.ticks.retain(|tick| (tick.at - middle).abs() <= half);
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plot() -> Plot {
        let axis = |low, high| Axis {
            low,
            high,
            ticks: Vec::new(),
        };
        Plot {
            x: axis(0.0, 10.0),
            y: axis(-1.0, 1.0),
            points: vec![(1.0, 0.0), (20.0, 0.0)],
            dots: vec![(9.0, 0.5), (f64::NAN, 0.0)],
            ..Plot::default()
        }
    }

    #[test]
    fn corners_lie_within_the_margins() {
        let frame = Frame::of(&plot(), (372.0, 232.0)).expect("room");
        assert_eq!(frame.at((0.0, 1.0)), (58.0, 8.0));
        assert_eq!(frame.at((10.0, -1.0)), (358.0, 208.0));
        assert!(frame.holds((10.0, 1.0)) && !frame.holds((10.1, 0.0)));
        assert!(!frame.holds((f64::NAN, 0.0)));
    }

    #[test]
    fn the_nearest_is_one_that_is_seen() {
        let plot = plot();
        let frame = Frame::of(&plot, (372.0, 232.0)).expect("room");
        assert_eq!(frame.nearest(&plot, (358.0, 108.0)), Some(2));
        assert_eq!(frame.nearest(&plot, (0.0, 0.0)), Some(0));
    }

    #[test]
    fn a_square_plot_is_as_long_upwards_as_along() {
        let square = Plot {
            square: true,
            ..plot()
        };
        let frame = Frame::of(&square, (372.0, 332.0)).expect("room");
        assert_eq!((frame.y.low, frame.y.high), (-5.0, 5.0));
    }

    #[test]
    fn no_room_and_no_length_make_no_frame() {
        assert_eq!(Frame::of(&plot(), (60.0, 232.0)), None);
        assert_eq!(Frame::of(&Plot::default(), (372.0, 232.0)), None);
        let mut endless = plot();
        endless.y.high = f64::INFINITY;
        assert_eq!(Frame::of(&endless, (372.0, 232.0)), None);
    }
}
