//! What would change the yield, each with a button that does it.

use crate::page::prelude::*;

use crate::design::Edit;
use crate::outcome::{Effect, Proposal, ProposalsOutcome, Single, TrimOutcome};
use crate::page::desk::Desk;
use crate::page::parts::figure_text;
use crate::quantity::{Unit, rounded};
use crate::wording::{per_cent, points};

#[component]
pub fn Proposals() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let told = move || {
        desk.proposals.with(|found| {
            let found = found.as_ref()?;
            Some(view! {
                {list(desk, found)}
                {singles(found)}
                {trims(&found.trims)}
            })
        })
    };
    view! {
        <section class="proposals" aria-labelledby="proposals-title" aria-busy=move || (!desk.proposals_are_current.get()).to_string()>
            <h3 id="proposals-title">"What would change the yield"</h3>
            {told}
        </section>
    }
}

fn list(desk: Desk, found: &ProposalsOutcome) -> impl Content + use<> {
    let one = |name: &'static str, title: &'static str, proposal: &Proposal| {
        let edits: Vec<Edit> = proposal.edits.clone();
        let take = move |_| {
            let changed = desk.design.with_untracked(|design| design.edited(&edits));
            // Edits are made for the design that is shown; another one in the meantime takes them or not.
            if let Ok(design) = changed {
                desk.replace(design);
            }
        };
        view! {
            <li>
                <strong>{title}</strong>
                <span data-figure=format!("proposal-{name}") data-value=proposal.share.to_string()>{proposal.words.clone()}</span>
                <button
                    type="button"
                    disabled=move || !desk.proposals_are_current.get()
                    on:click=take
                >
                    "Apply"
                </button>
                {side_effects(&proposal.effects, "Before", "After")}
            </li>
        }
    };
    let rows = [
        ("tighten", "Tighter tolerances", &found.tighten),
        ("centre", "Other values", &found.centre),
        ("loosen", "Looser tolerances", &found.loosen),
    ];
    let rows = rows
        .into_iter()
        .filter_map(|(name, title, proposal)| Some(one(name, title, proposal.as_ref()?)));
    let told = found
        .told
        .iter()
        .map(|line| view! { <li class="secondary">{line.clone()}</li> });
    view! {
        <ul class="changes">{rows.collect_nodes()}{told.collect_nodes()}</ul>
        <p class="secondary">
            {format!(
                "Each yield is computed by drawing the same {} boards with the change. Differences of yields are in percentage points \
                 (pp): from 50 % to 60 % is +10 pp.",
                found.boards
            )}
        </p>
    }
}

/// What a change does to the stage's figures, parts nominal; nothing where it does nothing.
fn side_effects(
    effects: &[Effect],
    before: &'static str,
    after: &'static str,
) -> Option<impl Content + use<>> {
    let row = |effect: &Effect| {
        view! {
            <tr>
                <th scope="row">{effect.label.clone()}</th>
                <td class="number">{figure_text(effect.before, effect.unit)}</td>
                <td class="number">{figure_text(effect.after, effect.unit)}</td>
            </tr>
        }
    };
    (!effects.is_empty()).then(|| {
        view! {
            <table class="figures side-effects">
                <thead>
                    <tr>
                        <th scope="col">"Side effects"</th>
                        <th scope="col" class="number">{before}</th>
                        <th scope="col" class="number">{after}</th>
                    </tr>
                </thead>
                <tbody>{effects.iter().map(row).collect_nodes()}</tbody>
            </table>
        }
    })
}

/// What one tighter class of each part does.
fn singles(found: &ProposalsOutcome) -> Option<impl Content + use<>> {
    let (singles, before) = (&found.singles, found.share);
    let most = singles.iter().map(|s| s.gain).fold(0.0, f64::max);
    let row = move |single: &Single| {
        let wide = (single.gain / most.max(1e-9)).clamp(0.0, 1.0) * 100.0;
        view! {
            <li>
                <span title=format!("Yield {}", per_cent(single.share))>
                    {format!("{} to {}", single.part, rounded(single.tolerance, Unit::Percent, 3))}
                </span>
                <span class="bar"><span style:width=format!("{wide:.1}%")></span></span>
                <span class="number" data-figure=format!("single-{}", single.part) data-value=single.gain.to_string()>{points(before, single.share)}</span>
            </li>
        }
    };
    (!singles.is_empty()).then(|| {
        view! {
            <h4>"One tolerance class better, one part at a time"</h4>
            <ol class="bars">{singles.iter().map(row).collect_nodes()}</ol>
        }
    })
}

fn trims(trims: &[TrimOutcome]) -> Option<impl Content + use<>> {
    let row = |trim: &TrimOutcome| {
        view! {
            <li>
                <span data-figure=format!("trim-{}", trim.figure) data-value=trim.yield_after.to_string()>{trim.words.clone()}</span>
                {side_effects(&trim.effects, "Nominal", "Part +1 %")}
            </li>
        }
    };
    (!trims.is_empty()).then(|| {
        view! {
            <h4>"Trimmers"</h4>
            <ul class="changes">{trims.iter().map(row).collect_nodes()}</ul>
        }
    })
}
