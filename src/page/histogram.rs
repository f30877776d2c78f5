//! A figure over all boards, drawn: bars, limits and the words round them.

use crate::page::prelude::*;

use super::parts::figure_text;
use crate::outcome::FigureSpread;
use crate::plots::histogram::{self, Bars};

/// What is drawn and written, ready for the page.
#[derive(Clone, Debug, Default, PartialEq)]
struct Shape {
    name: String,
    label: String,
    bars: Bars,
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
    let (width, height) = histogram::SIZE;
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
                <path class="good" d=text(|s| &s.bars.good) />
                <path class="bad" d=text(|s| &s.bars.bad) />
                <path class="limit" d=text(|s| &s.bars.limits) />
                <line class="base" x1="0" x2=width y1=height y2=height />
            </svg>
            <dl>{shown}</dl>
            {move || shape.with(|s| s.unread.clone()).map(|words| view! { <p class="unread">{words}</p> })}
        </figure>
    }
}

fn shape_of(figure: &FigureSpread) -> Shape {
    Shape {
        name: figure.name.clone(),
        label: figure.label.clone(),
        bars: Bars::of(figure),
        held: histogram::held(figure),
        unread: histogram::unread(figure),
        quantiles: figure
            .quantiles
            .map(|q| (q.to_string(), figure_text(q, figure.unit))),
    }
}
