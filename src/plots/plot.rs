//! A chart as data: axes, bands, lines, points.

/// A tick: where, and what is written there.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    pub at: f64,
    pub label: Option<String>,
}

/// An axis from `low` to `high`, in any unit, or in powers of ten of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Axis {
    pub low: f64,
    pub high: f64,
    pub ticks: Vec<Tick>,
}

impl Axis {
    /// Whether it is as long as a chart needs it.
    pub fn has_length(&self) -> bool {
        self.low.is_finite() && self.high.is_finite() && self.low < self.high
    }

    /// How far along it a value lies, from 0 at its low end to 1.
    pub fn share(&self, at: f64) -> f64 {
        (at - self.low) / (self.high - self.low)
    }
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pen {
    /// What was asked: a wide grey line under the others.
    Asked,
    /// Bought parts with an ideal op amp: thin, dashed, in ink.
    Ideal,
    /// The real result, in the accent colour.
    Real,
    /// A limit, or a line to judge others by: thin and grey.
    Guide,
    /// The real result of another design beside this one: in ink.
    Copy,
}

/// A filled stretch between two curves.
#[derive(Clone, Debug, PartialEq)]
pub struct Stripe {
    /// (x, low, high)
    pub points: Vec<(f64, f64, f64)>,
    pub opacity: f64,
    /// Whose it is: [`Pen::Copy`]'s are in ink, all others in the accent colour.
    pub pen: Pen,
}

/// Everything on a chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plot {
    pub x: Axis,
    pub y: Axis,
    /// Under the lines.
    pub bands: Vec<Stripe>,
    pub lines: Vec<(Vec<(f64, f64)>, Pen)>,
    /// What was measured: small open circles.
    pub points: Vec<(f64, f64)>,
    /// Boards that miss a limit: small filled dots.
    pub dots: Vec<(f64, f64)>,
    /// One unit is as long upwards as along: the y axis, centred where it is, reaches as far as that takes.
    pub square: bool,
}
