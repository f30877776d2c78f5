//! A plot on its canvas, layer by layer.

use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use wasm_bindgen::JsValue;
use web_sys::CanvasRenderingContext2d;

use super::fine::Fine;
use super::runs::runs;
use super::{Axis, MARGINS, Pen, Plot, Stripe};
use crate::page::theme::Theme;

/// Width of a character of an axis's labels, CSS pixels, about.
const CHARACTER: f64 = 6.4;

/// Radius of a measured point, CSS pixels.
const RING: f64 = 2.2;

type Failure = DrawingAreaErrorKind<<Fine as DrawingBackend>::ErrorType>;
type Chart<'a> = ChartContext<'a, Fine, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// A plot, its axes as they stand on this canvas, and what it is drawn with.
struct Painter<'a> {
    context: &'a CanvasRenderingContext2d,
    plot: &'a Plot,
    y: Axis,
    theme: &'a Theme,
    /// Coordinates to a CSS pixel.
    scale: f64,
}

/// `scale` is how many coordinates make a CSS pixel.
pub(super) fn paint(
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
    let painter = Painter {
        context,
        plot,
        y: plot.upright(across, down),
        theme,
        scale,
    };
    let (x, y) = (&plot.x, &painter.y);
    let mut chart = ChartBuilder::on(&root)
        .margin_left(px(left))
        .margin_right(px(right))
        .margin_top(px(top))
        .margin_bottom(px(bottom))
        .build_cartesian_2d(x.low..x.high, y.low..y.high)?;
    painter.grid(&mut chart)?;
    painter.bands(&mut chart)?;
    painter.lines(&mut chart)?;
    painter.points(&mut chart)?;
    painter.frame(&mut chart)?;
    painter.labels(&root, &chart)?;
    root.present()
}

impl Painter<'_> {
    /// CSS pixels in coordinates.
    fn px(&self, css: f64) -> i32 {
        (css * self.scale).round() as i32
    }

    /// A line of this width in CSS pixels.
    fn stroke(&self, color: RGBAColor, width: f64) -> ShapeStyle {
        ShapeStyle {
            color,
            filled: false,
            stroke_width: (width * self.scale).round() as u32,
        }
    }

    fn grid(&self, chart: &mut Chart) -> Result<(), Failure> {
        let (x, y) = (&self.plot.x, &self.y);
        let hair = self.stroke(self.theme.rule.to_rgba(), 0.75);
        let line = |from, to| PathElement::new(vec![from, to], hair);
        let across = y.ticks.iter();
        let across = across.map(|tick| line((x.low, tick.at), (x.high, tick.at)));
        let along = x.ticks.iter();
        let along = along.map(|tick| line((tick.at, y.low), (tick.at, y.high)));
        chart.draw_series(across.chain(along))?;
        Ok(())
    }

    fn bands(&self, chart: &mut Chart) -> Result<(), Failure> {
        let inside = |v: f64| v.clamp(self.y.low, self.y.high);
        for Stripe { points, opacity } in &self.plot.bands {
            let upper = points.iter().map(|&(x, _, high)| (x, inside(high)));
            let lower = points.iter().rev().map(|&(x, low, _)| (x, inside(low)));
            let outline: Vec<(f64, f64)> = upper.chain(lower).collect();
            let fill = self.theme.accent.mix(*opacity).filled();
            chart.draw_series(std::iter::once(Polygon::new(outline, fill)))?;
        }
        Ok(())
    }

    fn lines(&self, chart: &mut Chart) -> Result<(), Failure> {
        let theme = self.theme;
        for (points, pen) in &self.plot.lines {
            let style = match pen {
                Pen::Asked => self.stroke(theme.faint.mix(0.55), 4.0),
                Pen::Ideal => self.stroke(theme.ink.to_rgba(), 1.0),
                Pen::Real => self.stroke(theme.accent.to_rgba(), 1.75),
                Pen::Guide => self.stroke(theme.faint.to_rgba(), 1.0),
            };
            let strokes = [5.0 * self.scale, 4.0 * self.scale];
            self.dash(if *pen == Pen::Ideal { &strokes } else { &[] });
            for run in runs(points, &self.plot.x, &self.y) {
                chart.draw_series(LineSeries::new(run, style))?;
            }
        }
        self.dash(&[]);
        Ok(())
    }

    /// What was measured, and boards that miss a limit.
    fn points(&self, chart: &mut Chart) -> Result<(), Failure> {
        let (x, y) = (&self.plot.x, &self.y);
        let is_inside =
            |(u, v): &&(f64, f64)| (x.low..=x.high).contains(u) && (y.low..=y.high).contains(v);
        let ring = self.stroke(self.theme.ink.mix(0.75), 0.9);
        let filled = self.theme.accent.filled();
        for (points, style) in [(&self.plot.points, ring), (&self.plot.dots, filled)] {
            let circle = |at: &(f64, f64)| Circle::new(*at, self.px(RING), style);
            chart.draw_series(points.iter().filter(is_inside).map(circle))?;
        }
        Ok(())
    }

    fn frame(&self, chart: &mut Chart) -> Result<(), Failure> {
        let (x, y) = (&self.plot.x, &self.y);
        let corners = vec![(x.low, y.high), (x.low, y.low), (x.high, y.low)];
        let style = self.stroke(self.theme.faint.to_rgba(), 1.0);
        chart.draw_series(std::iter::once(PathElement::new(corners, style)))?;
        Ok(())
    }

    fn labels(
        &self,
        root: &DrawingArea<Fine, plotters::coord::Shift>,
        chart: &Chart,
    ) -> Result<(), Failure> {
        let font = ("system-ui, sans-serif", 11.5 * self.scale)
            .into_font()
            .color(&self.theme.ink);
        let corner = (self.plot.x.low, self.y.low);
        let mut written = i32::MIN;
        for tick in &self.plot.x.ticks {
            let Some(label) = &tick.label else { continue };
            let (middle, foot) = chart.backend_coord(&(tick.at, corner.1));
            // On a narrow chart every other label would touch the one before it.
            let half = self.px(CHARACTER * label.chars().count() as f64 / 2.0);
            if middle - half < written {
                continue;
            }
            written = middle + half + self.px(CHARACTER);
            // The outermost labels stay inside the canvas.
            let x = &self.plot.x;
            let is_last = (tick.at - x.low) / (x.high - x.low) > 0.97;
            let (at, side) = match is_last {
                true => (middle + self.px(MARGINS.1 - 2.0), HPos::Right),
                false => (middle, HPos::Center),
            };
            let style = font.pos(Pos::new(side, VPos::Top));
            root.draw(&Text::new(label.clone(), (at, foot + self.px(6.0)), style))?;
        }
        for tick in &self.y.ticks {
            let Some(label) = &tick.label else { continue };
            let (left, middle) = chart.backend_coord(&(corner.0, tick.at));
            let style = font.pos(Pos::new(HPos::Right, VPos::Center));
            root.draw(&Text::new(
                label.clone(),
                (left - self.px(6.0), middle),
                style,
            ))?;
        }
        Ok(())
    }

    /// Strokes and gaps of the lines drawn from now on; none for whole lines.
    fn dash(&self, lengths: &[f64]) {
        let lengths: js_sys::Array = lengths.iter().copied().map(JsValue::from).collect();
        // Only fails on what is not a list.
        let _ = self.context.set_line_dash(&lengths);
    }
}
