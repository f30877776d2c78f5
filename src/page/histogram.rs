//! A figure over all boards, drawn: bars, limits and the words round them.

use crate::page::prelude::*;

use super::parts::figure_text;
use crate::outcome::FigureSpread;
use crate::quantity::{Unit, rounded};

/// Width and height of the drawing.
const SIZE: (f64, f64) = (300.0, 92.0);

/// What is drawn and written, ready for the page.
#[derive(Clone, Debug, Default, PartialEq)]
struct Shape {
    name: String,
    label: String,
    good: String,
    bad: String,
    /// A path for the limits that are in sight.
    limits: String,
    held: Option<String>,
    unread: Option<String>,
    /// The quantiles: as numbers for scripts and as text.
    quantiles: [(String, String); 3],
}

/// A histogram with limits and quantiles. Stays on the page while its figure changes.
#[component]
pub fn Distribution(figure: Derived<Option<FigureSpread>>) -> impl IntoView {
    let shape =
        memo(move || figure.with(|figure| figure.as_ref().map(shape_of).unwrap_or_default()));
    let text = move |part: fn(&Shape) -> &String| move || shape.with(|shape| part(shape).clone());
    let (width, height) = SIZE;
    let shown = [
        (0, "q05", "5 %"),
        (1, "median", "median"),
        (2, "q95", "95 %"),
    ]
    .map(|(index, key, label)| {
        view! {
            <div>
                <dt>{label}</dt>
                <dd
                    data-figure=move || shape.with(|s| format!("{}-{key}", s.name))
                    data-value=move || shape.with(|s| s.quantiles[index].0.clone())
                >
                    {move || shape.with(|s| s.quantiles[index].1.clone())}
                </dd>
            </div>
        }
    })
    .collect_nodes();
    view! {
        <figure class="distribution" class:limited=move || shape.with(|s| s.held.is_some())>
            <figcaption>
                <strong>{text(|s| &s.label)}</strong>
                <span class="held">{move || shape.with(|s| s.held.clone())}</span>
            </figcaption>
            <svg viewBox=format!("0 0 {width} {height}") preserveAspectRatio="none" aria-hidden="true">
                <path class="good" d=text(|s| &s.good) />
                <path class="bad" d=text(|s| &s.bad) />
                <path class="limit" d=text(|s| &s.limits) />
                <line class="base" x1="0" x2=width y1=height y2=height />
            </svg>
            <dl>{shown}</dl>
            {move || shape.with(|s| s.unread.clone()).map(|words| view! { <p class="unread">{words}</p> })}
        </figure>
    }
}

fn shape_of(figure: &FigureSpread) -> Shape {
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
    Shape {
        name: figure.name.clone(),
        label: figure.label.clone(),
        good,
        bad,
        limits: in_sight
            .map(|l| format!("M{:.2} 0V{height}", to_x(l)))
            .collect(),
        held: figure.held.map(|held| {
            format!(
                "{} within {}",
                rounded(held, Unit::Percent, 4),
                allowed(figure)
            )
        }),
        unread: (figure.unreadable > 0)
            .then(|| format!("not readable on {} boards", figure.unreadable)),
        quantiles: figure
            .quantiles
            .map(|q| (q.to_string(), figure_text(q, figure.unit))),
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
