//! The Spread region: the yield, and each figure over all boards against its limits.

use leptos::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use super::parts::figure_text;
use crate::design::Group;
use crate::outcome::{FigureSpread, SpreadOutcome};
use crate::quantity::{Unit, rounded};

#[component]
pub fn Spread() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let figures = move || {
        desk.spread.get().map(|spread| {
            // Figures with limits first: they decide the yield.
            let mut figures: Vec<&FigureSpread> = spread.figures.iter().collect();
            figures.sort_by_key(|f| f.held.is_none());
            figures
                .into_iter()
                .map(|figure| view! { <Distribution figure=figure.clone() /> })
                .collect_view()
        })
    };
    view! {
        <section class="spread" aria-labelledby="spread-title" aria-busy=move || (!desk.spread_is_current.get()).to_string()>
            <h2 id="spread-title">"Spread"</h2>
            <div class="spread-grid">
                <div class="share">
                    {move || desk.spread.get().map(|spread| share(&spread))}
                    <progress
                        max="1"
                        aria-label="Boards drawn"
                        class:done=move || desk.spread_is_current.get()
                        prop:value=move || desk.progress.get()
                    ></progress>
                    <Fields fields=desk.group(Group::Spread) />
                </div>
                <div class="distributions">{figures}</div>
            </div>
        </section>
    }
}

fn per_cent(share: f64) -> String {
    let text = format!("{:.2}", share * 100.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} %")
}

fn share(spread: &SpreadOutcome) -> impl IntoView + use<> {
    let y = &spread.share;
    view! {
        <p class="yield">
            <span class="figure" data-figure="yield" data-value=y.fraction.to_string()>{per_cent(y.fraction)}</span>
            <span class="what">"of boards hold every limit"</span>
        </p>
        <p class="interval">
            {format!("{} of {} boards; ", y.passed, spread.boards)}
            <span data-figure="yield-low" data-value=y.low.to_string()>{per_cent(y.low)}</span>
            " to "
            <span data-figure="yield-high" data-value=y.high.to_string()>{per_cent(y.high)}</span>
            {format!(" with {} confidence ({})", per_cent(y.level), y.method)}
        </p>
    }
}

/// Width and height of a histogram's drawing.
const SIZE: (f64, f64) = (300.0, 92.0);

/// A histogram with limits and quantiles.
#[component]
fn Distribution(figure: FigureSpread) -> impl IntoView {
    let (width, height) = SIZE;
    let counts = &figure.histogram.counts;
    let tallest = f64::from(counts.iter().copied().max().unwrap_or(1).max(1));
    let (mut low, mut high) = (figure.histogram.low, figure.histogram.high);
    // Limits that are not far off are worth seeing.
    let span = (high - low).max(f64::MIN_POSITIVE);
    for limit in [figure.lowest, figure.highest].into_iter().flatten() {
        if limit > low - 1.5 * span && limit < high + 1.5 * span {
            low = low.min(limit - 0.04 * span);
            high = high.max(limit + 0.04 * span);
        }
    }
    let to_x = move |v: f64| (v - low) / (high - low) * width;
    let bin = (figure.histogram.high - figure.histogram.low) / counts.len().max(1) as f64;
    let inside =
        |v: f64| figure.lowest.is_none_or(|l| v >= l) && figure.highest.is_none_or(|h| v <= h);
    let mut paths = [String::new(), String::new()];
    for (index, &count) in counts.iter().enumerate() {
        let from = figure.histogram.low + bin * index as f64;
        let tall = f64::from(count) / tallest * (height - 6.0);
        let path = &mut paths[usize::from(!inside(from + bin / 2.0))];
        let wide = (to_x(from + bin) - to_x(from) - 0.6).max(0.4);
        path.push_str(&format!(
            "M{:.2} {height}v-{tall:.2}h{wide:.2}v{tall:.2}Z",
            to_x(from)
        ));
    }
    let [good, bad] = paths;
    let limits = [figure.lowest, figure.highest]
        .into_iter()
        .flatten()
        .filter(|l| *l >= low && *l <= high)
        .map(|l| view! { <line class="limit" x1=to_x(l) x2=to_x(l) y1="0" y2=height /> })
        .collect_view();
    let [q05, median, q95] = figure.quantiles;
    let name = figure.name.clone();
    let shown = [("q05", "5 %", q05), ("median", "median", median), ("q95", "95 %", q95)]
        .map(|(key, label, value)| {
            view! {
                <div>
                    <dt>{label}</dt>
                    <dd data-figure=format!("{name}-{key}") data-value=value.to_string()>{figure_text(value, figure.unit)}</dd>
                </div>
            }
        })
        .collect_view();
    let allowed = match (figure.lowest, figure.highest) {
        (Some(l), Some(h)) => format!(
            "{} … {}",
            rounded(l, figure.unit, 5),
            rounded(h, figure.unit, 5)
        ),
        (Some(l), None) => format!("≥ {}", rounded(l, figure.unit, 5)),
        (None, Some(h)) => format!("≤ {}", rounded(h, figure.unit, 5)),
        (None, None) => String::new(),
    };
    let held = figure.held.map(|held| view! { <span class="held">{format!("{} within {allowed}", rounded(held, Unit::Percent, 4))}</span> });
    let unread = (figure.unreadable > 0).then(|| view! { <p class="unread">{format!("not readable on {} boards", figure.unreadable)}</p> });
    view! {
        <figure class="distribution" class:limited=figure.held.is_some()>
            <figcaption><strong>{figure.label.clone()}</strong>{held}</figcaption>
            <svg viewBox=format!("0 0 {width} {height}") preserveAspectRatio="none" aria-hidden="true">
                <path class="good" d=good />
                <path class="bad" d=bad />
                {limits}
                <line class="base" x1="0" x2=width y1=height y2=height />
            </svg>
            <dl>{shown}</dl>
            {unread}
        </figure>
    }
}
