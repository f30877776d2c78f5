//! Lines of switching converters on the plant's modes.

use maud::{Markup, html};

use super::cautions;
use crate::design::Design;
use crate::outcome::{Outcome, SupplyHit};
use crate::quantity::{Unit, rounded};
use crate::supply::{Source, Supply};
use crate::wording::figure_text;

/// Most lines that are told one by one, the loudest.
const MOST: usize = 12;

/// Nothing where there is no supply.
pub fn supply(design: &Design, outcome: &Outcome) -> Markup {
    let Some((supply, found)) = design.servo.supply.as_ref().zip(outcome.supply.as_ref()) else {
        return Markup::default();
    };
    let left = found.hits.len().saturating_sub(MOST);
    html! {
        section.sheet-block {
            h3 { "Supply lines" }
            ul.sheet-told { @for told in &found.told { li { (told) } } }
            @if !found.hits.is_empty() {
                table {
                    thead {
                        tr {
                            th scope="col" { "Converter" }
                            th scope="col" { "Line" }
                            th.number scope="col" { "From" }
                            th.number scope="col" { "To" }
                            th.number scope="col" { "Mode" }
                            th.number scope="col" { "Worst at" }
                            th.number scope="col" { "Path, plant and 1/(1 + L)" }
                        }
                    }
                    tbody { @for hit in found.hits.iter().take(MOST) { (row(supply, hit)) } }
                }
            }
            p.sheet-secondary {
                @if left > 0 { (left) " more lines are weaker by that rule of thumb. " }
                (cautions::SUPPLY)
            }
        }
    }
}

fn row(supply: &Supply, hit: &SupplyHit) -> Markup {
    let (line, passage) = (hit.hit.line, &hit.passage);
    let hertz = |value: f64| rounded(value, Unit::Hertz, 3);
    html! {
        tr {
            th scope="row" { (supply.names(line.source)) }
            td { (which(line.source)) }
            td.number { (hertz(line.range.0)) }
            td.number { (hertz(line.range.1)) }
            td.number { (hit.hit.mode + 1) }
            td.number { (hertz(passage.frequency)) }
            td.number { (figure_text(passage.through_db, Unit::Decibel)) }
        }
    }
}

fn which(source: Source) -> String {
    match source {
        Source::Harmonic { order, .. } => format!("harmonic {order}"),
        Source::Subharmonic { order, divisor, .. } => format!("subharmonic {order}/{divisor}"),
        Source::Burst { order, .. } => format!("burst {order}"),
        Source::Modulation { order, .. } => format!("modulation {order}"),
        Source::Beat { orders, .. } => format!("beat {} : {}", orders.0, orders.1),
    }
}
