//! A plot as a picture by itself: SVG 1.1 as text, with attributes alone, so that it may be saved, and stand in any page.

use maud::{Markup, html};

use super::frame::{Frame, MARGINS};
use super::ink::{ACCENT, FAINT, INK, LETTERS, PAPER, RULE};
use super::labels::{Label, SIZE_OF_LETTERS, Side};
use super::plot::{Pen, Plot, Stripe};
use super::runs::runs;
use super::xml::{Px, Words, chain};

/// Width and height of a chart that is saved by itself, CSS pixels.
pub const SIZE: (f64, f64) = (640.0, 400.0);

/// Height of the title's line above a chart, CSS pixels.
const TITLE: f64 = 20.0;
/// Height of each line that tells what the pens mean, CSS pixels.
const LEGEND: f64 = 17.0;
/// Width of a letter there, CSS pixels, about.
const LETTER: f64 = 5.6;
/// Width of a sign there, from there to its words, and from these to the next sign, CSS pixels.
const SIGN: f64 = 22.0;
const GAP: f64 = 5.0;
const APART: f64 = 16.0;
/// Radius of a measured point, CSS pixels.
pub const RING: f64 = 2.2;

/// What the legend explains.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    Line(Pen),
    /// A measured point.
    Point,
    /// A board that misses a limit.
    Dot,
    /// Stripes between curves.
    Band,
}

/// What stands above a chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Caption {
    pub title: String,
    /// Beside the title, smaller.
    pub note: String,
    pub legend: Vec<(Sign, String)>,
}

impl Caption {
    /// A title alone.
    pub fn titled(title: &str) -> Caption {
        Caption {
            title: title.to_owned(),
            ..Caption::default()
        }
    }

    /// With what is drawn on this plot alone in its legend.
    pub fn on(&self, plot: &Plot) -> Caption {
        let mut caption = self.clone();
        caption.legend.retain(|(sign, _)| match sign {
            Sign::Line(pen) => plot.lines.iter().any(|(_, own)| own == pen),
            Sign::Point => !plot.points.is_empty(),
            Sign::Dot => !plot.dots.is_empty(),
            Sign::Band => !plot.bands.is_empty(),
        });
        caption
    }

    /// Where each sign of the legend begins, and its line from 0, on a picture of this width.
    fn lines(&self, width: f64) -> Vec<(f64, usize)> {
        let (mut at, mut line) = (MARGINS.0, 0);
        let place = |(_, text): &(Sign, String)| {
            let wide = SIGN + GAP + LETTER * text.chars().count() as f64;
            if at > MARGINS.0 && at + wide > width {
                (at, line) = (MARGINS.0, line + 1);
            }
            let here = (at, line);
            at += wide + APART;
            here
        };
        self.legend.iter().map(place).collect()
    }

    /// Height of all that stands above a chart of this width, CSS pixels.
    pub fn height(&self, width: f64) -> f64 {
        let lines = self.lines(width).last().map_or(0, |(_, line)| line + 1);
        TITLE + LEGEND * lines as f64
    }
}

/// A picture of a plot on white, `size` CSS pixels wide and high, its caption included. Axes without length, or no room
/// for them, leave the caption alone.
pub fn svg(plot: &Plot, caption: &Caption, size: (f64, f64)) -> String {
    let (width, height) = size;
    let caption = &caption.on(plot);
    let top = caption.height(width);
    let frame = Frame::of(plot, (width, height - top));
    let picture = html! {
        svg xmlns="http://www.w3.org/2000/svg" role="img" width=(Px(width)) height=(Px(height))
            viewBox={ "0 0 " (Px(width)) " " (Px(height)) }
            font-family=(LETTERS) font-size=(Px(SIZE_OF_LETTERS)) fill=(INK)
        {
            title { (Words(&caption.title)) }
            rect width=(Px(width)) height=(Px(height)) fill=(PAPER) {}
            (heading(caption, width))
            @if let Some(frame) = frame {
                g transform={ "translate(0 " (Px(top)) ")" } {
                    (grid(&frame))
                    @for stripe in &plot.bands { (band(stripe, &frame)) }
                    @for (points, pen) in &plot.lines { (line(points, *pen, &frame)) }
                    (circles(plot, &frame))
                    (axes(&frame))
                    @for label in frame.labels() { (written(&label)) }
                }
            }
        }
    };
    picture.0
}

fn heading(caption: &Caption, width: f64) -> Markup {
    let left = MARGINS.0;
    let signs = caption.legend.iter().zip(caption.lines(width));
    html! {
        text x=(Px(left)) y="14" font-size="13" font-weight="600" {
            (Words(&caption.title))
            @if !caption.note.is_empty() {
                tspan dx="12" font-size=(Px(SIZE_OF_LETTERS)) font-weight="400" fill=(FAINT) { (Words(&caption.note)) }
            }
        }
        @for ((sign, text), (x, line)) in signs {
            @let middle = TITLE + LEGEND * (line as f64 + 0.5);
            (shown(*sign, x, middle))
            text x=(Px(x + SIGN + GAP)) y=(Px(middle + 4.0)) fill=(FAINT) font-size="11" { (Words(text)) }
        }
    }
}

/// A sign of the legend, from `x` on, its middle at `y`.
fn shown(sign: Sign, x: f64, y: f64) -> Markup {
    match sign {
        Sign::Line(pen) => stroke(&[(x, y), (x + SIGN, y)], pen),
        Sign::Point => ring((x + SIGN / 2.0, y)),
        Sign::Dot => dot((x + SIGN / 2.0, y)),
        Sign::Band => html! {
            rect x=(Px(x)) y=(Px(y - 5.0)) width=(Px(SIGN)) height="10" fill=(ACCENT) fill-opacity="0.12" {}
            rect x=(Px(x)) y=(Px(y - 2.5)) width=(Px(SIGN)) height="5" fill=(ACCENT) fill-opacity="0.2" {}
        },
    }
}

fn grid(frame: &Frame) -> Markup {
    let (x, y) = (&frame.x, &frame.y);
    let along = x.ticks.iter().map(|t| [(t.at, y.low), (t.at, y.high)]);
    let across = y.ticks.iter().map(|t| [(x.low, t.at), (x.high, t.at)]);
    let ends = across
        .chain(along)
        .map(|ends| ends.map(|end| frame.at(end)));
    let known =
        |[from, to]: &[(f64, f64); 2]| [from.0, from.1, to.0, to.1].iter().all(|v| v.is_finite());
    html! {
        g stroke=(RULE) stroke-width="0.75" {
            @for [from, to] in ends.filter(known) {
                line x1=(Px(from.0)) y1=(Px(from.1)) x2=(Px(to.0)) y2=(Px(to.1)) {}
            }
        }
    }
}

/// The colour of a band.
fn ground(pen: Pen) -> &'static str {
    match pen {
        Pen::Copy => INK,
        _ => ACCENT,
    }
}

fn band(stripe: &Stripe, frame: &Frame) -> Markup {
    let inside = |x: f64, y: f64| {
        let (x, y) = (
            x.clamp(frame.x.low, frame.x.high),
            y.clamp(frame.y.low, frame.y.high),
        );
        frame.at((x, y))
    };
    let known = stripe
        .points
        .iter()
        .filter(|(x, low, high)| !(x.is_nan() || low.is_nan() || high.is_nan()));
    let upper = known.clone().map(|&(x, _, high)| inside(x, high));
    let lower = known.rev().map(|&(x, low, _)| inside(x, low));
    let outline = chain(upper.chain(lower));
    html! {
        @if !outline.is_empty() {
            polygon points=(outline) fill=(ground(stripe.pen)) fill-opacity=(Px(stripe.opacity)) {}
        }
    }
}

fn line(points: &[(f64, f64)], pen: Pen, frame: &Frame) -> Markup {
    html! {
        @for run in runs(points, &frame.x, &frame.y) {
            (stroke(&run.into_iter().map(|point| frame.at(point)).collect::<Vec<_>>(), pen))
        }
    }
}

/// A line through places of the picture.
fn stroke(places: &[(f64, f64)], pen: Pen) -> Markup {
    let (colour, width, opacity, dashes) = match pen {
        Pen::Asked => (FAINT, "4", Some("0.55"), None),
        Pen::Ideal => (INK, "1", None, Some("5 4")),
        Pen::Real => (ACCENT, "1.75", None, None),
        Pen::Guide => (FAINT, "1", None, None),
        Pen::Copy => (INK, "1.25", None, None),
    };
    html! {
        polyline points=(chain(places.iter().copied())) fill="none" stroke=(colour) stroke-width=(width)
            stroke-opacity=[opacity] stroke-dasharray=[dashes] stroke-linejoin="round" {}
    }
}

fn circles(plot: &Plot, frame: &Frame) -> Markup {
    let seen = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
        let held = points.iter().copied().filter(|point| frame.holds(*point));
        held.map(|point| frame.at(point)).collect()
    };
    html! {
        @for at in seen(&plot.points) { (ring(at)) }
        @for at in seen(&plot.dots) { (dot(at)) }
    }
}

fn ring((x, y): (f64, f64)) -> Markup {
    html! {
        circle cx=(Px(x)) cy=(Px(y)) r=(Px(RING)) fill="none" stroke=(INK) stroke-width="0.9" stroke-opacity="0.75" {}
    }
}

fn dot((x, y): (f64, f64)) -> Markup {
    html! {
        circle cx=(Px(x)) cy=(Px(y)) r=(Px(RING)) fill=(ACCENT) {}
    }
}

fn axes(frame: &Frame) -> Markup {
    let (x, y) = (&frame.x, &frame.y);
    let corners = [(x.low, y.high), (x.low, y.low), (x.high, y.low)];
    html! {
        polyline points=(chain(corners.map(|corner| frame.at(corner)))) fill="none" stroke=(FAINT) stroke-width="1" {}
    }
}

fn written(label: &Label) -> Markup {
    // Letters stand on their line: what hangs from it or is centred on it is moved by shares of their height, because
    // not every reader of pictures knows other lines.
    let (anchor, down) = match label.side {
        Side::Below => ("middle", 0.8),
        Side::BelowEndingThere => ("end", 0.8),
        Side::Left => ("end", 0.35),
    };
    let (x, y) = label.at;
    html! {
        text x=(Px(x)) y=(Px(y + down * SIZE_OF_LETTERS)) text-anchor=(anchor) { (Words(&label.text)) }
    }
}
