//! A curve chart on a canvas: axes with ticks that an engineer expects, bands, lines.

mod fine;
mod painter;
mod runs;
mod ticks;

pub use ticks::{linear_ticks, log_ticks};

use wasm_bindgen::JsCast;
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement};

use fine::{FINE, Fine};

use super::theme::Theme;

/// Space round the plot for labels, in CSS pixels: left, right, top, bottom.
pub const MARGINS: (f64, f64, f64, f64) = (58.0, 14.0, 8.0, 24.0);

/// A tick: where, and what is written there.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    pub at: f64,
    pub label: Option<String>,
}

/// An axis from `low` to `high`.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    pub low: f64,
    pub high: f64,
    pub ticks: Vec<Tick>,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pen {
    /// What was asked: a wide grey line under the others.
    Asked,
    /// Bought parts with an ideal op amp: thin, dashed, in ink.
    Ideal,
    /// The real result, in the accent colour.
    Real,
    /// A limit, or a line to judge others by: thin and grey.
    Guide,
}

/// A filled stretch between two curves.
#[derive(Clone, Debug, PartialEq)]
pub struct Stripe {
    /// (x, low, high)
    pub points: Vec<(f64, f64, f64)>,
    pub opacity: f64,
}

/// Everything on a chart.
#[derive(Clone, Debug, PartialEq)]
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

impl Plot {
    /// The vertical axis on a plot of this size, in any unit of length.
    fn upright(&self, across: f64, down: f64) -> Axis {
        let mut y = self.y.clone();
        if self.square {
            let (middle, half) = (
                (y.low + y.high) / 2.0,
                (self.x.high - self.x.low) / 2.0 * down / across,
            );
            (y.low, y.high) = (middle - half, middle + half);
            y.ticks.retain(|tick| (tick.at - middle).abs() <= half);
        }
        y
    }

    /// Where a point stands on its canvas, in CSS pixels from the upper left; none outside the axes.
    pub fn place(&self, canvas: &HtmlCanvasElement, x: f64, y: f64) -> Option<(f64, f64)> {
        let (left, right, top, bottom) = MARGINS;
        let (across, down) = (
            f64::from(canvas.width()) / scale() - left - right,
            f64::from(canvas.height()) / scale() - top - bottom,
        );
        let upright = self.upright(across, down);
        let share = |axis: &Axis, at: f64| (at - axis.low) / (axis.high - axis.low);
        let (u, v) = (share(&self.x, x), share(&upright, y));
        let is_inside = (0.0..=1.0).contains(&u) && (0.0..=1.0).contains(&v);
        is_inside.then_some((left + u * across, top + (1.0 - v) * down))
    }

    /// The point or dot nearest to a place on the canvas, in CSS pixels; as its place among the points, the
    /// dots after them.
    pub fn nearest(&self, canvas: &HtmlCanvasElement, (left, top): (f64, f64)) -> Option<usize> {
        let all = self.points.iter().chain(&self.dots);
        let near = all.enumerate().filter_map(|(index, &(x, y))| {
            let (u, v) = self.place(canvas, x, y)?;
            Some((index, (u - left).hypot(v - top)))
        });
        near.min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(index, _)| index)
    }
}

/// Fits a canvas's pixels to its place on the page. Asking for that place makes the browser lay the
/// page out at once, so this is done only when the place may have changed.
pub fn fit(canvas: &HtmlCanvasElement) {
    let box_ = canvas.get_bounding_client_rect();
    if box_.width() < 80.0 || box_.height() < 60.0 {
        return;
    }
    let scale = scale();
    let (width, height) = (
        (box_.width() * scale) as u32,
        (box_.height() * scale) as u32,
    );
    if canvas.width() != width || canvas.height() != height {
        canvas.set_width(width);
        canvas.set_height(height);
    }
}

/// Draws; a canvas that cannot be drawn on stays as it is.
pub fn draw(canvas: &HtmlCanvasElement, plot: &Plot, theme: &Theme) {
    let scale = scale();
    if f64::from(canvas.width()) < 80.0 {
        return;
    }
    let context = canvas.get_context("2d").ok().flatten();
    let Some(context) = context.and_then(|c| c.dyn_into::<CanvasRenderingContext2d>().ok()) else {
        return;
    };
    if let Some(backend) = Fine::on(canvas, &context) {
        // Drawing on a canvas only fails when the canvas has gone.
        let _ = painter::paint(backend, &context, plot, theme, scale * f64::from(FINE));
    }
}

/// Canvas pixels to a CSS pixel.
fn scale() -> f64 {
    leptos::prelude::window()
        .device_pixel_ratio()
        .clamp(1.0, 4.0)
}
