//! The Spread region: the yield, each figure over all boards against its limits, the worst case, variance contributions,
//! and boards one by one.

mod board;
pub mod contributions;
mod corners;
mod proposals;
mod scatter;
mod straying;
mod widths;

use crate::page::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use super::histogram::Distribution;
use super::saving::Saving;
use crate::design::Group;
use crate::exchange::BoardsSoFar;
use crate::export::Picture;
use crate::outcome::SpreadOutcome;
use crate::plots::{self, histogram};
pub use crate::wording::per_cent;

#[component]
pub fn Spread() -> impl IntoView {
    let desk = expect_context::<Desk>();
    // Figures with limits first: they decide the yield.
    let order = memo(move || {
        desk.spread.with(|spread| {
            spread
                .as_ref()
                .map(|s| plots::scatter::limited_first(s))
                .unwrap_or_default()
        })
    });
    let figures = move || {
        let figure = |at: usize| {
            memo(move || {
                desk.spread
                    .with(|s| s.as_ref().and_then(|s| s.figures.get(at).cloned()))
            })
        };
        let drawn = order
            .get()
            .into_iter()
            .map(|at| view! { <Distribution figure=figure(at) /> });
        drawn.collect_nodes()
    };
    let picture = move || {
        desk.spread.with_untracked(|spread| {
            let spread = spread.as_ref()?;
            let order = plots::scatter::limited_first(spread).into_iter();
            let figures: Vec<_> = order.map(|at| &spread.figures[at]).collect();
            Some(histogram::svg(&Picture::Histograms.label(), &figures))
        })
    };
    let entries = move || {
        desk.form.with(|form| form.spread.clone());
        view! { <Fields fields=desk.group(Group::Spread) /> }
    };
    let has_stage = desk.has_stage();
    let has_plant = move || desk.form.with(|form| form.plant.is_there());
    view! {
        <section class="spread" id="spread" aria-labelledby="spread-title" aria-busy=move || (!desk.spread_is_current.get()).to_string()>
            <h2 id="spread-title">"Spread"</h2>
            <Show
                when=move || has_stage.get()
                fallback=move || view! {
                    <p class="advice" role="note">"No stage to show, and so no parts that vary."</p>
                    <Show when=has_plant>
                        <p class="secondary">"Plants are still drawn for the loop, as many as boards here:"</p>
                        <div class="row">{entries}</div>
                    </Show>
                }
            >
                <div class="spread-grid">
                    <div class="share">
                        {move || desk.spread.get().map(|spread| share(&spread))}
                        <progress
                            max="1"
                            aria-label="Boards drawn"
                            class:done=move || desk.spread_is_current.get()
                            prop:value=move || desk.progress.get()
                        ></progress>
                        <SoFar />
                        {entries}
                    </div>
                    <div class="drawn many">
                        <div class="distributions">{figures}</div>
                        <Saving title=Picture::Histograms.label() file=Picture::Histograms.name() picture=Box::new(picture) />
                    </div>
                </div>
                <div class="worst-grid">
                    {later(|| view! { <corners::Corners /> }.into_node())}
                    {later(|| view! { <contributions::Contributions /> }.into_node())}
                </div>
                {later(|| view! { <proposals::Proposals /> }.into_node())}
                {later(|| view! { <straying::Straying /> }.into_node())}
                <details class="boards-and-limits">
                    <summary>"Limits and boards: yield against a limit's width, two figures against each other, one board"</summary>
                    <div class="boards-and-limits-grid">
                        {later(|| view! { <widths::YieldAgainstWidth /> }.into_node())}
                        {later(|| view! { <scatter::Scatter /> }.into_node())}
                    </div>
                    {later(|| view! { <board::OneBoard /> }.into_node())}
                </details>
            </Show>
        </section>
    }
}

fn share(spread: &SpreadOutcome) -> impl Content + use<> {
    let y = &spread.share;
    let stable = spread.stable.map(|stable| {
        if stable {
            view! { <p class="secondary">"Figures and yield are stable to the required digits (JCGM 101, 7.9)."</p> }.into_node()
        } else {
            view! { <p class="problem">"Not yet stable to the required digits: allow more boards, or fewer digits."</p> }.into_node()
        }
    });
    let band = (spread.band_boards < spread.boards).then(|| {
        format!(
            "The bands on the curves are of the first {} boards.",
            spread.band_boards
        )
    });
    view! {
        <p class="yield">
            <span class="figure" data-figure="yield" data-value=y.fraction.to_string()>{per_cent(y.fraction)}</span>
            <span class="what">"of boards hold every limit"</span>
        </p>
        <p class="interval">
            {format!("{} of ", y.passed)}
            <span data-figure="boards" data-value=spread.boards.to_string()>{spread.boards}</span>
            " boards; "
            <span data-figure="yield-low" data-value=y.low.to_string()>{per_cent(y.low)}</span>
            " to "
            <span data-figure="yield-high" data-value=y.high.to_string()>{per_cent(y.high)}</span>
            {format!(" with {} confidence ({})", per_cent(y.level), y.method)}
        </p>
        {stable}
        <p class="secondary">{band}</p>
    }
}

/// The yield while boards are being drawn.
#[component]
fn SoFar() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = move || {
        let BoardsSoFar { drawn, low, high } = desk.so_far.get()?;
        // Short runs are over before anybody reads this.
        (drawn > 20_000 && !desk.spread_is_current.get()).then(|| {
            view! {
                <p class="interval" aria-live="off">
                    {format!("so far {drawn} boards, {} to {}", per_cent(low), per_cent(high))}
                </p>
            }
        })
    };
    drawn.into_node()
}
