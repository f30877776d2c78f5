//! A figure over all boards as bars, with its limits; the shapes, the words, and the picture by itself.

use maud::{Markup, html};

use super::ink::{ACCENT, EDGE, FAINT, INK, LETTERS, PAPER};
use super::xml::{Px, Words};
use crate::outcome::FigureSpread;
use crate::quantity::{Unit, rounded};
use crate::wording::figure_text;

/// Width and height of the bars' box, CSS pixels.
pub const SIZE: (f64, f64) = (300.0, 92.0);

/// Pictures side by side.
const COLUMNS: usize = 3;
/// Room round each, CSS pixels.
const ROOM: f64 = 12.0;
/// Height of the words above the bars, and of those below, CSS pixels.
const WORDS: (f64, f64) = (40.0, 52.0);

/// Bars and limits as paths (`d`) in a box of [`SIZE`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bars {
    /// Within the limits.
    pub good: String,
    pub bad: String,
    /// The limits that are in sight.
    pub limits: String,
}

impl Bars {
    pub fn of(figure: &FigureSpread) -> Bars {
        let (width, height) = SIZE;
        let (low, high) = axis(figure);
        let to_x = |v: f64| (v - low) / (high - low) * width;
        let counted = match is_alike(figure) {
            true => (low, high),
            false => (figure.histogram.low, figure.histogram.high),
        };
        let [good, bad] = bars(figure, counted, to_x);
        let in_sight = [figure.lowest, figure.highest]
            .into_iter()
            .flatten()
            .filter(|l| (low..=high).contains(l));
        Bars {
            good,
            bad,
            limits: in_sight
                .map(|l| format!("M{:.2} 0V{height}", to_x(l)))
                .collect(),
        }
    }
}

/// How many boards hold the limits, and what these are; none for a figure without limits.
pub fn held(figure: &FigureSpread) -> Option<String> {
    let share = rounded(figure.held?, Unit::Percent, 4);
    Some(format!("{share} within {}", allowed(figure)))
}

/// On how many boards it could not be read, where there are some.
pub fn unread(figure: &FigureSpread) -> Option<String> {
    let count = figure.unreadable;
    (count > 0).then(|| format!("not readable on {count} boards"))
}

/// A picture of figures on white, three side by side.
pub fn svg(title: &str, figures: &[&FigureSpread]) -> String {
    let (wide, tall) = (SIZE.0 + 2.0 * ROOM, WORDS.0 + SIZE.1 + WORDS.1);
    let columns = figures.len().clamp(1, COLUMNS);
    let rows = figures.len().div_ceil(columns);
    let (width, height) = (wide * columns as f64, tall * rows as f64);
    let placed = figures.iter().enumerate().map(|(index, figure)| {
        let (row, column) = (index / columns, index % columns);
        let at = (wide * column as f64 + ROOM, tall * row as f64);
        (at, *figure)
    });
    let picture = html! {
        svg xmlns="http://www.w3.org/2000/svg" role="img" width=(Px(width)) height=(Px(height))
            viewBox={ "0 0 " (Px(width)) " " (Px(height)) } font-family=(LETTERS) font-size="11.5" fill=(INK)
        {
            title { (Words(title)) }
            rect width=(Px(width)) height=(Px(height)) fill=(PAPER) {}
            @for ((x, y), figure) in placed {
                g transform={ "translate(" (Px(x)) " " (Px(y)) ")" } { (one(figure)) }
            }
        }
    };
    picture.0
}

fn one(figure: &FigureSpread) -> Markup {
    let (width, height) = SIZE;
    let Bars { good, bad, limits } = Bars::of(figure);
    let (good_ink, opacity) = match figure.held {
        Some(_) => (ACCENT, "0.62"),
        None => (EDGE, "1"),
    };
    let foot = WORDS.0 + height;
    let [low, middle, high] = figure.quantiles.map(|q| figure_text(q, figure.unit));
    let quantiles = [
        ("start", 0.0, "5 %", low),
        ("middle", width / 2.0, "median", middle),
        ("end", width, "95 %", high),
    ];
    html! {
        text y="15" font-weight="600" { (Words(&figure.label)) }
        @if let Some(held) = held(figure) {
            text y="31" fill=(FAINT) { (Words(&held)) }
        }
        g transform={ "translate(0 " (Px(WORDS.0)) ")" } {
            path d=(good) fill=(good_ink) fill-opacity=(opacity) {}
            path d=(bad) fill=(INK) {}
            path d=(limits) fill="none" stroke=(INK) stroke-width="1.5" stroke-dasharray="4 3" {}
            line x1="0" y1=(Px(height)) x2=(Px(width)) y2=(Px(height)) stroke=(EDGE) {}
        }
        @for (anchor, x, name, value) in quantiles {
            text x=(Px(x)) y=(Px(foot + 14.0)) text-anchor=(anchor) fill=(FAINT) { (name) }
            text x=(Px(x)) y=(Px(foot + 28.0)) text-anchor=(anchor) { (Words(&value)) }
        }
        @if let Some(unread) = unread(figure) {
            text y=(Px(foot + 43.0)) fill=(FAINT) { (unread) }
        }
    }
}

/// Whether the figure is the same on every board.
fn is_alike(figure: &FigureSpread) -> bool {
    let (low, high) = (figure.histogram.low, figure.histogram.high);
    high.partial_cmp(&low) != Some(std::cmp::Ordering::Greater)
}

/// The ends of the drawing.
fn axis(figure: &FigureSpread) -> (f64, f64) {
    let (mut low, mut high) = (figure.histogram.low, figure.histogram.high);
    // A figure that is the same on every board still has a bar, in the middle.
    if is_alike(figure) {
        let room = if low.is_finite() {
            0.01 * low.abs().max(1e-6)
        } else {
            1.0
        };
        let middle = if low.is_finite() { low } else { 0.0 };
        (low, high) = (middle - room, middle + room);
    }
    // Limits that are not far off are worth seeing.
    let span = high - low;
    for limit in [figure.lowest, figure.highest].into_iter().flatten() {
        if limit > low - 1.5 * span && limit < high + 1.5 * span {
            low = low.min(limit - 0.04 * span);
            high = high.max(limit + 0.04 * span);
        }
    }
    (low, high)
}

/// Paths for the bars within the limits, and for those outside; `first` and `last` are the ends of all bars.
fn bars(
    figure: &FigureSpread,
    (first, last): (f64, f64),
    to_x: impl Fn(f64) -> f64,
) -> [String; 2] {
    let height = SIZE.1;
    let counts = &figure.histogram.counts;
    let tallest = f64::from(counts.iter().copied().max().unwrap_or(1).max(1));
    let bin = (last - first) / counts.len().max(1) as f64;
    let inside =
        |v: f64| figure.lowest.is_none_or(|l| v >= l) && figure.highest.is_none_or(|h| v <= h);
    let mut paths = [String::new(), String::new()];
    for (index, &count) in counts.iter().enumerate() {
        let from = first + bin * index as f64;
        let tall = f64::from(count) / tallest * (height - 6.0);
        let wide = (to_x(from + bin) - to_x(from) - 0.6).max(0.4);
        let path = &mut paths[usize::from(!inside(from + bin / 2.0))];
        path.push_str(&format!(
            "M{:.2} {height}v-{tall:.2}h{wide:.2}v{tall:.2}Z",
            to_x(from)
        ));
    }
    paths
}

fn allowed(figure: &FigureSpread) -> String {
    let text = |v: f64| rounded(v, figure.unit, 5);
    match (figure.lowest, figure.highest) {
        (Some(low), Some(high)) => format!("{} … {}", text(low), text(high)),
        (Some(low), None) => format!("≥ {}", text(low)),
        (None, Some(high)) => format!("≤ {}", text(high)),
        (None, None) => String::new(),
    }
}
