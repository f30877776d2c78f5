//! The Spread region: the yield, and each figure over all boards against its limits.

use leptos::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use super::histogram::Distribution;
use crate::design::Group;
use crate::outcome::SpreadOutcome;

#[component]
pub fn Spread() -> impl IntoView {
    let desk = expect_context::<Desk>();
    // Figures with limits first: they decide the yield.
    let order = Memo::new(move |_| {
        desk.spread.with(|spread| {
            let figures = spread.as_ref().map_or(&[][..], |s| &s.figures);
            let mut order: Vec<usize> = (0..figures.len()).collect();
            order.sort_by_key(|&at| figures[at].held.is_none());
            order
        })
    });
    let figures = move || {
        let figure = |at: usize| {
            Memo::new(move |_| {
                desk.spread
                    .with(|s| s.as_ref().and_then(|s| s.figures.get(at).cloned()))
            })
        };
        let drawn = order
            .get()
            .into_iter()
            .map(|at| view! { <Distribution figure=figure(at) /> });
        drawn.collect_view()
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

pub fn per_cent(share: f64) -> String {
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
