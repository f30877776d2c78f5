//! Variance contributions: each part's share of a figure's variance.

use crate::numerics::put_in_order;
use crate::page::prelude::*;

use crate::outcome::FigureContributions;
use crate::page::desk::Desk;
use crate::quantity::{Unit, rounded};
use crate::sheet::contributions::told;

/// Shares below this are not worth a line.
const LEAST: f64 = 1e-3;

/// The figure whose shares are shown: the chosen one, or else the one whose limits most boards miss.
pub fn shown(desk: &Desk) -> Option<FigureContributions> {
    let chosen = desk.contributions_of.get();
    let worst = desk.spread.with(|spread| {
        let figures = spread.as_ref()?.figures.iter();
        let missed = figures.filter_map(|f| Some((f.held.filter(|held| *held < 1.0)?, &f.name)));
        let worst = missed.min_by(|a, b| a.0.total_cmp(&b.0));
        worst.map(|(_, name)| name.clone())
    });
    desk.contributions.with(|found| {
        let found = found.as_ref()?;
        let named = |name: Option<String>| {
            let name = name?;
            told(found).find(|figure| figure.name == name)
        };
        let taken = named(chosen).or_else(|| named(worst));
        taken.or_else(|| told(found).next()).cloned()
    })
}

/// What a part of the drawing has of it, from 0 to 1; none for what does not stray.
pub fn share_of(desk: &Desk, part: &str) -> Option<f64> {
    let figure = shown(desk)?;
    desk.contributions.with(|found| {
        let factors = &found.as_ref()?.factors;
        let pairs = factors.iter().zip(&figure.shares);
        let own = pairs.filter(|(factor, _)| factor.part.as_deref() == Some(part));
        let sum = own.fold(None, |sum, (_, share)| Some(sum.unwrap_or(0.0) + share));
        sum.map(|sum: f64| sum.clamp(0.0, 1.0))
    })
}

#[component]
pub fn Contributions() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let now = memo(move || shown(&desk));
    let names = memo(move || {
        desk.contributions.with(|found| {
            let all = found.as_ref().map(|found| {
                let pair =
                    |figure: &FigureContributions| (figure.name.clone(), figure.label.clone());
                told(found).map(pair).collect::<Vec<_>>()
            });
            all.unwrap_or_default()
        })
    });
    let options = move || {
        let taken = now.with(|now| now.as_ref().map(|figure| figure.name.clone()));
        let option = |(name, label): (String, String)| {
            let is_now = taken.as_ref() == Some(&name);
            view! { <option value=name selected=is_now>{label}</option> }
        };
        names.get().into_iter().map(option).collect_nodes()
    };
    let list = move || {
        let figure = now.get()?;
        let factors = desk
            .contributions
            .with(|found| Some(found.as_ref()?.factors.clone()))?;
        let mut rows: Vec<_> = factors
            .into_iter()
            .zip(figure.shares.iter().zip(&figure.errors))
            .filter(|(_, (share, _))| **share > LEAST)
            .collect();
        put_in_order(&mut rows, |a, b| b.1.0.total_cmp(a.1.0));
        let rows = rows.into_iter().map(|(factor, (share, error))| {
            let wide = format!("{:.1}%", 100.0 * share.min(1.0));
            let name = format!("contribution-{}-{}", figure.name, factor.label.replace(' ', "-"));
            view! {
                <li>
                    <span class="factor">{factor.label}</span>
                    <span class="bar"><span style:width=wide></span></span>
                    <span class="number" data-figure=name data-value=share.to_string()>{rounded(*share, Unit::Percent, 2)}</span>
                    <span class="number secondary">{format!("± {}", rounded(*error, Unit::Percent, 1))}</span>
                </li>
            }
        });
        Some(view! {
            <ol class="bars with-errors">{rows.collect_nodes()}</ol>
            <p class="secondary">{figure.told.clone()}</p>
        })
    };
    // Where the yield has no shares, its sentence says why.
    let of_yield = move || {
        desk.contributions.with(|found| {
            let misses = &found.as_ref()?.misses;
            misses.shares.is_empty().then(|| misses.told.clone())
        })
    };
    view! {
        <section class="variance-contributions" aria-labelledby="contributions-title" aria-busy=move || (!desk.contributions_are_current.get()).to_string()>
            <h3 id="contributions-title">"Variance contributions"</h3>
            <Show when=move || names.with(|names| !names.is_empty())>
                <div class="field">
                    <label for="contributions-figure">"Share of the variance of"</label>
                    <select id="contributions-figure" on:change=move |event| desk.contributions_of.set(Some(event_target_value(&event)))>{options}</select>
                </div>
            </Show>
            {list}
            <p class="secondary">{of_yield}</p>
            <p class="secondary">"± is one standard error. The bars beside the schematic's symbols are the same shares."</p>
        </section>
    }
}
