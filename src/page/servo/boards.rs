//! The loop over boards and plants: how many of them hold, what strays, and what contributes to it.

use std::sync::Arc;

use crate::page::prelude::*;

use super::curves::decibels;
use crate::design::Group;
use crate::export::Picture;
use crate::outcome::{LoopSpread, ServoOutcome, WorstBoard, Yield};
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::page::histogram::Distribution;
use crate::page::panel::Panel;
use crate::page::saving::Saving;
use crate::page::spread::per_cent;
use crate::plots::{Chart, Plot, histogram, worst_loop};
use crate::quantity::{Unit, rounded};

#[component]
pub fn Boards() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let spread = move |look: &dyn Fn(&LoopSpread) -> Node| {
        desk.loops
            .with(|loops| loops.as_ref().map(|loops| look(loops)))
    };
    let asked = move || desk.design.with(|design| design.servo.asked);
    let kept = move || match asked().settling {
        Some(_) => "meet every margin, and settle in time",
        None => "meet every margin",
    };
    let shares = move || {
        spread(&|spread| {
            let row = |name: &'static str, y: &Yield, what: String| {
                view! {
                    <p class="yield">
                        <span class="figure" data-figure=name data-value=y.fraction.to_string()>{per_cent(y.fraction)}</span>
                        " "
                        <span class="what">{what}</span>
                    </p>
                    <p class="interval">
                        {format!("{} to {} with {} confidence ({})", per_cent(y.low), per_cent(y.high), per_cent(y.level), y.method)}
                    </p>
                }
            };
            view! {
                {row("loop-phase-yield", &spread.phase_kept, format!("of built loops keep {:.0}° of phase margin", asked().phase_margin))}
                {row("loop-yield", &spread.kept, kept().to_owned())}
                {row("loop-stable", &spread.stable, "are stable".to_owned())}
            }
            .into_node()
        })
    };
    let contributions = move || {
        spread(&|spread| {
            let rows = spread.contributions.iter().map(|contribution| {
                let wide = format!("{:.1}%", 100.0 * contribution.share.min(1.0));
                view! {
                    <li>
                        <span class="factor">{contribution.label.clone()}</span>
                        <span class="bar"><span style:width=wide></span></span>
                        <span class="number">{rounded(contribution.share, Unit::Percent, 2)}</span>
                    </li>
                }
            });
            view! {
                <h3>"Variance contributions to the phase margin"</h3>
                <ol class="bars">{rows.collect_nodes()}</ol>
                <p class="secondary">"Share of its variance, as far as it is linear (squared correlation over the boards)."</p>
            }
            .into_node()
        })
    };
    let count = memo(move || {
        desk.loops
            .with(|loops| loops.as_ref().map_or(0, |loops| loops.figures.len()))
    });
    let figures = move || {
        let figure = |at: usize| {
            memo(move || {
                desk.loops
                    .with(|loops| loops.as_ref()?.figures.get(at).cloned())
            })
        };
        (0..count.get())
            .map(|at| view! { <Distribution figure=figure(at) /> })
            .collect_nodes()
    };
    let picture = Box::new(move || {
        desk.loops.with_untracked(|loops| {
            let figures: Vec<_> = loops.as_ref()?.figures.iter().collect();
            Some(histogram::svg(&Picture::LoopHistograms.label(), &figures))
        })
    });
    let worst = move || {
        spread(&|spread| {
            let Some(worst) = &spread.worst else {
                return Node::Nothing;
            };
            let told = if worst.is_stable {
                format!(
                    "Board {} has the least phase margin, {:.1}°.",
                    worst.number + 1,
                    worst.phase_margin
                )
            } else {
                format!("Board {} is unstable.", worst.number + 1)
            };
            view! { <p data-figure="worst-board" data-value=worst.number.to_string()>{told}</p> }
                .into_node()
        })
    };
    view! {
        <section class="loop-boards" aria-labelledby="loop-boards-title">
            <h3 id="loop-boards-title">"Monte Carlo over boards and plants"</h3>
            <div class="loop-grid">
                <div class="loop-results share">
                    {shares}
                    <Fields fields=desk.group(Group::Drift) />
                    {contributions}
                </div>
                <div>
                    <div class="drawn many">
                        <div class="distributions">{figures}</div>
                        <Saving title=Picture::LoopHistograms.label() file=Picture::LoopHistograms.name() picture />
                    </div>
                    <div class="loop-curves">
                        <Panel title=Chart::WorstMagnitude.title() note=Chart::WorstMagnitude.note() file=Chart::WorstMagnitude.name() legend=Chart::WorstMagnitude.legend() plot=of_worst(desk, worst_loop::magnitude) reading=decibels(desk) />
                        <Panel title=Chart::WorstNyquist.title() file=Chart::WorstNyquist.name() legend=Chart::WorstNyquist.legend() plot=of_worst(desk, worst_loop::nyquist) />
                    </div>
                    {worst}
                </div>
            </div>
        </section>
    }
}

/// What `plot` makes of the worst board and of the loop that it belongs to, which may be newer by then.
fn of_worst(
    desk: Desk,
    plot: fn(&ServoOutcome, &WorstBoard) -> Option<Plot>,
) -> Derived<Option<Arc<Plot>>> {
    memo(move || {
        let loops = desk.loops.get()?;
        desk.servo
            .with_untracked(|servo| plot(servo.as_ref()?, loops.worst.as_ref()?).map(Arc::new))
    })
}
