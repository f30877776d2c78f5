//! Variance contributions: which part spends how much of each figure's variance.

use maud::{Markup, html};

use crate::numerics::put_in_order;
use crate::outcome::{ContributionsOutcome, FigureContributions, Outcome};
use crate::quantity::{Unit, rounded};

/// Factors whose shares all lie below this are told together.
const LEAST: f64 = 0.01;

/// One row a factor, one column a figure, the yield last.
pub fn contributions(outcome: &Outcome) -> Markup {
    let Some(found) = &outcome.contributions else {
        return html! { p.sheet-secondary { "Variance contributions are not worked out." } };
    };
    let told: Vec<&FigureContributions> = told(found).collect();
    let largest = |factor: usize| {
        let shares = told.iter().filter_map(|figure| figure.shares.get(factor));
        shares.copied().fold(0.0, f64::max)
    };
    let mut rows: Vec<usize> = (0..found.factors.len())
        .filter(|at| largest(*at) >= LEAST)
        .collect();
    put_in_order(&mut rows, |a, b| largest(*b).total_cmp(&largest(*a)));
    let left = found.factors.len() - rows.len();
    html! {
        @if !told.is_empty() {
            table.sheet-contributions {
                caption { "Variance contributions, % of each figure's variance" }
                thead {
                    tr {
                        th {}
                        @for figure in &told { th.number scope="col" { (figure.label) } }
                    }
                }
                tbody {
                    @for factor in rows {
                        tr {
                            th scope="row" { (found.factors[factor].label) }
                            @for figure in &told { td.number { (share(figure, factor)) } }
                        }
                    }
                }
            }
        }
        p.sheet-secondary {
            @if left > 0 { (left) " more contribute less than " (rounded(LEAST, Unit::Percent, 2)) " to any figure. " }
            @if found.boards > 0 { "Linear shares from " (found.boards) " boards. " }
            @if found.samples > 0 { "Sobol's indices from " (found.samples) " samples. " }
            @if found.misses.shares.is_empty() { (found.misses.told) }
        }
    }
}

/// Figures of which something can be said, the yield last.
pub fn told(found: &ContributionsOutcome) -> impl Iterator<Item = &FigureContributions> {
    let all = found.figures.iter().chain([&found.misses]);
    all.filter(|figure| !figure.shares.is_empty())
}

fn share(figure: &FigureContributions, factor: usize) -> String {
    match figure.shares.get(factor) {
        Some(share) if *share >= LEAST => format!("{:.1}", 100.0 * share),
        _ => "–".to_owned(),
    }
}
