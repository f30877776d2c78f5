//! A curve chart on a canvas: axes with ticks that an engineer expects, bands, lines.

mod fine;
mod runs;
mod ticks;

pub use ticks::{linear_ticks, log_ticks};

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement};

use fine::{FINE, Fine};
use runs::runs;

use super::theme::Theme;

/// Space round the plot for labels, in CSS pixels: left, right, top, bottom.
pub const MARGINS: (f64, f64, f64, f64) = (58.0, 14.0, 8.0, 24.0);

/// Width of a character of an axis's labels, CSS pixels, about.
const CHARACTER: f64 = 6.4;

/// Radius of a measured point, CSS pixels.
const RING: f64 = 2.2;

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
        let _ = paint(backend, &context, plot, theme, scale * f64::from(FINE));
    }
}

/// Canvas pixels to a CSS pixel.
fn scale() -> f64 {
    leptos::prelude::window()
        .device_pixel_ratio()
        .clamp(1.0, 4.0)
}

type Failure = DrawingAreaErrorKind<<Fine as DrawingBackend>::ErrorType>;

/// `scale` is how many coordinates make a CSS pixel.
fn paint(
    backend: Fine,
    context: &CanvasRenderingContext2d,
    plot: &Plot,
    theme: &Theme,
    scale: f64,
) -> Result<(), Failure> {
    let root = backend.into_drawing_area();
    let px = |css: f64| (css * scale).round() as i32;
    let (left, right, top, bottom) = MARGINS;
    let (width, height) = root.dim_in_pixel();
    let across = f64::from(width) - f64::from(px(left + right));
    let down = f64::from(height) - f64::from(px(top + bottom));
    let (x, y) = (&plot.x, &plot.upright(across, down));
    let mut chart = ChartBuilder::on(&root)
        .margin_left(px(left))
        .margin_right(px(right))
        .margin_top(px(top))
        .margin_bottom(px(bottom))
        .build_cartesian_2d(x.low..x.high, y.low..y.high)?;

    let hair = ShapeStyle {
        color: theme.rule.to_rgba(),
        filled: false,
        stroke_width: (scale * 0.75).round() as u32,
    };
    let across = y
        .ticks
        .iter()
        .map(|t| PathElement::new(vec![(x.low, t.at), (x.high, t.at)], hair));
    let along = x
        .ticks
        .iter()
        .map(|t| PathElement::new(vec![(t.at, y.low), (t.at, y.high)], hair));
    chart.draw_series(across.chain(along))?;

    let inside = |v: f64| v.clamp(y.low, y.high);
    for Stripe { points, opacity } in &plot.bands {
        let upper = points.iter().map(|&(x, _, high)| (x, inside(high)));
        let lower = points.iter().rev().map(|&(x, low, _)| (x, inside(low)));
        let outline: Vec<(f64, f64)> = upper.chain(lower).collect();
        chart.draw_series(std::iter::once(Polygon::new(
            outline,
            theme.accent.mix(*opacity).filled(),
        )))?;
    }
    for (points, pen) in &plot.lines {
        let (colour, width) = match pen {
            Pen::Asked => (theme.faint.mix(0.55), 4.0),
            Pen::Ideal => (theme.ink.to_rgba(), 1.0),
            Pen::Real => (theme.accent.to_rgba(), 1.75),
            Pen::Guide => (theme.faint.to_rgba(), 1.0),
        };
        let style = ShapeStyle {
            color: colour,
            filled: false,
            stroke_width: (width * scale).round() as u32,
        };
        let strokes = [5.0 * scale, 4.0 * scale];
        dash(context, if *pen == Pen::Ideal { &strokes } else { &[] });
        for run in runs(points, x, y) {
            chart.draw_series(LineSeries::new(run, style))?;
        }
    }
    dash(context, &[]);
    let inside_both =
        |(u, v): &&(f64, f64)| (x.low..=x.high).contains(u) && (y.low..=y.high).contains(v);
    let ring = ShapeStyle {
        color: theme.ink.mix(0.75),
        filled: false,
        stroke_width: (scale * 0.9).round() as u32,
    };
    let circle = |at: &(f64, f64)| Circle::new(*at, px(RING), ring);
    chart.draw_series(plot.points.iter().filter(inside_both).map(circle))?;
    let filled = ShapeStyle {
        color: theme.accent.to_rgba(),
        filled: true,
        stroke_width: 0,
    };
    let dot = |at: &(f64, f64)| Circle::new(*at, px(RING), filled);
    chart.draw_series(plot.dots.iter().filter(inside_both).map(dot))?;
    let frame = ShapeStyle {
        color: theme.faint.to_rgba(),
        filled: false,
        stroke_width: scale.round() as u32,
    };
    chart.draw_series(std::iter::once(PathElement::new(
        vec![(x.low, y.high), (x.low, y.low), (x.high, y.low)],
        frame,
    )))?;

    let font = ("system-ui, sans-serif", 11.5 * scale)
        .into_font()
        .color(&theme.ink);
    for (axis, horizontal) in [(x, true), (y, false)] {
        let mut written = i32::MIN;
        for tick in &axis.ticks {
            let Some(label) = &tick.label else { continue };
            if horizontal {
                // On a narrow chart every other label would touch the one before it.
                let half = px(CHARACTER * label.chars().count() as f64 / 2.0);
                let (middle, _) = chart.backend_coord(&(tick.at, y.low));
                if middle - half < written {
                    continue;
                }
                written = middle + half + px(CHARACTER);
            }
            let (at, pos) = if horizontal {
                let (cx, cy) = chart.backend_coord(&(tick.at, y.low));
                // The outermost labels stay inside the canvas.
                let share = (tick.at - x.low) / (x.high - x.low);
                let hpos = if share > 0.97 {
                    HPos::Right
                } else {
                    HPos::Center
                };
                let cx = if share > 0.97 {
                    cx + px(right - 2.0)
                } else {
                    cx
                };
                ((cx, cy + px(6.0)), Pos::new(hpos, VPos::Top))
            } else {
                let (cx, cy) = chart.backend_coord(&(x.low, tick.at));
                ((cx - px(6.0), cy), Pos::new(HPos::Right, VPos::Center))
            };
            root.draw(&Text::new(label.clone(), at, font.pos(pos)))?;
        }
    }
    root.present()
}

/// Strokes and gaps of the lines drawn from now on; none for whole lines.
fn dash(context: &CanvasRenderingContext2d, lengths: &[f64]) {
    let lengths: js_sys::Array = lengths.iter().copied().map(JsValue::from).collect();
    // Only fails on what is not a list.
    let _ = context.set_line_dash(&lengths);
}
