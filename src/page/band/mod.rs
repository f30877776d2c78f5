//! What one watches while an entry is moved: a narrow band at the window's lower edge, each figure with what the
//! present edit did to it, and a link to where it comes from.

mod trail;
mod watched;

use crate::page::prelude::*;

use super::desk::Desk;
use super::fragment;
use super::regions::{Current, REGIONS, Region};
use trail::Trail;
use watched::{Told, WATCHED, Watched};

#[component]
pub fn Band() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let trail = Trail::follow(desk);
    let groups = REGIONS
        .map(|region| {
            let own = (0..WATCHED.len()).filter(|at| WATCHED[*at].region == region.name);
            let figures = own
                .map(|at| view! { <Figure at region trail /> })
                .collect_nodes();
            view! { <Group region figures=figures.into_node() /> }
        })
        .collect_nodes();
    view! {
        <aside
            class="key-figures"
            aria-label="Key figures"
            on:pointerdown=move |_| fragment::write_at_once(desk)
            on:keydown=move |_| fragment::write_at_once(desk)
        >
            <ul>{groups}</ul>
        </aside>
    }
}

/// A region's link and its figures.
#[component]
fn Group(region: Region, figures: Node) -> impl IntoView {
    let current = expect_context::<Current>();
    let desk = expect_context::<Desk>();
    let unstable = move || {
        let is_unstable = watched::is_unstable(desk);
        (region.name == "loop" && is_unstable).then(|| {
            view! {
                <a
                    class="unstable"
                    href=region.address(desk)
                    on:click=move |event| region.follow(&event)
                    data-figure="band-unstable"
                    data-value="1"
                >
                    "unstable"
                </a>
            }
        })
    };
    let is_there = region.is_there(desk);
    view! {
        <li class="group" class:absent=move || !is_there()>
            <a class="region" href=region.address(desk) aria-current=current.mark(region) on:click=move |event| region.follow(&event)>
                {region.label}
            </a>
            {unstable}
            {figures}
        </li>
    }
}

/// One figure, where there is one.
#[component]
fn Figure(at: usize, region: Region, trail: Trail) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let watched: &'static Watched = &WATCHED[at];
    let value = memo(move || trail.now(at).map(|told| told.value));
    let change = memo(move || {
        let (before, now) = trail.both(at)?;
        let text = watched.change(before, now)?;
        Some((text, now > before, (now > before) == watched.more_is_better))
    });
    let text = move || value.get().map(watched.text);
    let moved = move || {
        let (text, is_more, is_better) = change.get()?;
        let arrow = if is_more { "▲" } else { "▼" };
        Some(
            view! { <span class:worse=!is_better><span aria-hidden="true">{arrow}</span>" "{text}</span> },
        )
    };
    let spoken = move || {
        change.get().map(|(_, is_more, _)| match is_more {
            true => " more than before",
            false => " less than before",
        })
    };
    let figure = move || {
        view! {
            <a
                class="key-figure"
                href=region.address(desk)
                title=watched.title
                on:click=move |event| region.follow(&event)
            >
                <span class="label"><span class="long">{watched.label}</span><span class="short">{watched.short}</span></span>
                " "
                <span class="figure" data-figure=watched.name data-value=move || value.get().map(|v| v.to_string())>{text}</span>
                " "
                <span class="change" data-figure=format!("{}-change", watched.name) data-value=move || trail.change(at).map(|v| v.to_string())>{moved}</span>
                <span class="spoken">{spoken}</span>
            </a>
        }
    };
    view! { <Show when=move || value.with(Option::is_some)>{figure()}</Show> }
}

/// All figures as they are now.
fn all(desk: Desk) -> Vec<Option<Told>> {
    WATCHED.iter().map(|watched| (watched.read)(desk)).collect()
}
