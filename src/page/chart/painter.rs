//! A plot on its canvas, layer by layer.

use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use wasm_bindgen::JsValue;
use web_sys::CanvasRenderingContext2d;

use super::fine::Fine;
use crate::page::theme::Theme;
use crate::plots::{Frame, MARGINS, Pen, Plot, RING, SIZE_OF_LETTERS, Side, Stripe, runs};

type Failure = DrawingAreaErrorKind<<Fine as DrawingBackend>::ErrorType>;
type Chart<'a> = ChartContext<'a, Fine, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// A plot, its frame on this canvas, and what it is drawn with.
struct Painter<'a> {
    context: &'a CanvasRenderingContext2d,
    plot: &'a Plot,
    frame: Frame,
    theme: &'a Theme,
    /// Coordinates to a CSS pixel.
    scale: f64,
}

/// `scale` is how many coordinates make a CSS pixel.
pub(super) fn paint(
    backend: Fine,
    context: &CanvasRenderingContext2d,
    plot: &Plot,
    frame: Frame,
    theme: &Theme,
    scale: f64,
) -> Result<(), Failure> {
    let root = backend.into_drawing_area();
    let px = |css: f64| (css * scale).round() as i32;
    let (left, right, top, bottom) = MARGINS;
    let painter = Painter {
        context,
        plot,
        frame,
        theme,
        scale,
    };
    let (x, y) = (&painter.frame.x, &painter.frame.y);
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
    painter.labels(&root)?;
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
        let (x, y) = (&self.frame.x, &self.frame.y);
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
        let inside = |v: f64| v.clamp(self.frame.y.low, self.frame.y.high);
        for Stripe {
            points,
            opacity,
            pen,
        } in &self.plot.bands
        {
            let upper = points.iter().map(|&(x, _, high)| (x, inside(high)));
            let lower = points.iter().rev().map(|&(x, low, _)| (x, inside(low)));
            let outline: Vec<(f64, f64)> = upper.chain(lower).collect();
            let ground = match pen {
                Pen::Copy => self.theme.ink,
                _ => self.theme.accent,
            };
            let fill = ground.mix(*opacity).filled();
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
                Pen::Copy => self.stroke(theme.ink.to_rgba(), 1.25),
            };
            let strokes = [5.0 * self.scale, 4.0 * self.scale];
            self.dash(if *pen == Pen::Ideal { &strokes } else { &[] });
            for run in runs(points, &self.frame.x, &self.frame.y) {
                chart.draw_series(LineSeries::new(run, style))?;
            }
        }
        self.dash(&[]);
        Ok(())
    }

    /// What was measured, and boards that miss a limit.
    fn points(&self, chart: &mut Chart) -> Result<(), Failure> {
        let is_inside = |point: &&(f64, f64)| self.frame.holds(**point);
        let ring = self.stroke(self.theme.ink.mix(0.75), 0.9);
        let filled = self.theme.accent.filled();
        for (points, style) in [(&self.plot.points, ring), (&self.plot.dots, filled)] {
            let circle = |at: &(f64, f64)| Circle::new(*at, self.px(RING), style);
            chart.draw_series(points.iter().filter(is_inside).map(circle))?;
        }
        Ok(())
    }

    fn frame(&self, chart: &mut Chart) -> Result<(), Failure> {
        let (x, y) = (&self.frame.x, &self.frame.y);
        let corners = vec![(x.low, y.high), (x.low, y.low), (x.high, y.low)];
        let style = self.stroke(self.theme.faint.to_rgba(), 1.0);
        chart.draw_series(std::iter::once(PathElement::new(corners, style)))?;
        Ok(())
    }

    fn labels(&self, root: &DrawingArea<Fine, plotters::coord::Shift>) -> Result<(), Failure> {
        let font = ("system-ui, sans-serif", SIZE_OF_LETTERS * self.scale)
            .into_font()
            .color(&self.theme.ink);
        for label in self.frame.labels() {
            let (across, down) = match label.side {
                Side::Below => (HPos::Center, VPos::Top),
                Side::BelowEndingThere => (HPos::Right, VPos::Top),
                Side::Left => (HPos::Right, VPos::Center),
            };
            let at = (self.px(label.at.0), self.px(label.at.1));
            root.draw(&Text::new(label.text, at, font.pos(Pos::new(across, down))))?;
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
