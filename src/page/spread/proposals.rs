//! What would change the yield, each with a button that does it.

use leptos::prelude::*;

use crate::design::Edit;
use crate::outcome::{Proposal, ProposalsOutcome, Single, TrimOutcome};
use crate::page::desk::Desk;
use crate::quantity::{Unit, rounded};

#[component]
pub fn Proposals() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let told = move || {
        desk.proposals.with(|found| {
            let found = found.as_ref()?;
            Some(view! {
                {list(desk, found)}
                {singles(&found.singles)}
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

fn list(desk: Desk, found: &ProposalsOutcome) -> impl IntoView + use<> {
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
                    "Take it"
                </button>
            </li>
        }
    };
    let rows = [
        ("tighten", "Better parts", &found.tighten),
        ("centre", "Other values", &found.centre),
        ("loosen", "Cheaper parts", &found.loosen),
    ];
    let rows = rows
        .into_iter()
        .filter_map(|(name, title, proposal)| Some(one(name, title, proposal.as_ref()?)));
    let told = found
        .told
        .iter()
        .map(|line| view! { <li class="quiet">{line.clone()}</li> });
    view! {
        <ul class="changes">{rows.collect_view()}{told.collect_view()}</ul>
        <p class="quiet">
            {format!("Each is computed by drawing the same {} boards with it.", found.boards)}
        </p>
    }
}

/// What one better class of each part does.
fn singles(singles: &[Single]) -> Option<impl IntoView + use<>> {
    let most = singles.iter().map(|s| s.gain).fold(0.0, f64::max);
    let row = move |single: &Single| {
        let wide = (single.gain / most.max(1e-9)).clamp(0.0, 1.0) * 100.0;
        let gain = format!("{:+.2} %", single.gain * 100.0).replace('-', "−");
        view! {
            <li>
                <span>{format!("{} to {}", single.part, rounded(single.tolerance, Unit::Percent, 3))}</span>
                <span class="bar"><span style=format!("width:{wide:.1}%")></span></span>
                <span class="number" data-figure=format!("single-{}", single.part) data-value=single.gain.to_string()>{gain}</span>
            </li>
        }
    };
    (!singles.is_empty()).then(|| {
        view! {
            <h4>"One class better, one part at a time"</h4>
            <ol class="blame">{singles.iter().map(row).collect_view()}</ol>
        }
    })
}

fn trims(trims: &[TrimOutcome]) -> Option<impl IntoView + use<>> {
    let row = |trim: &TrimOutcome| {
        let share = |moved: f64| format!("{:+.0} %", moved * 100.0).replace('-', "−");
        let others: Vec<String> = trim
            .others
            .iter()
            .map(|(label, moved)| format!("{label} by {}", share(*moved)))
            .collect();
        let follow = if others.is_empty() {
            String::new()
        } else {
            format!("; it takes along {}", others.join(", "))
        };
        view! {
            <li>
                <span data-figure=format!("trim-{}", trim.figure) data-value=trim.yield_after.to_string()>{trim.words.clone()}</span>
                <span class="quiet">
                    {format!(
                        " 1 % of {} moves it by {} of its limit{follow}.",
                        trim.part,
                        share(trim.moves)
                    )}
                </span>
            </li>
        }
    };
    (!trims.is_empty()).then(|| {
        view! {
            <h4>"Trimmers"</h4>
            <ul class="changes">{trims.iter().map(row).collect_view()}</ul>
        }
    })
}
