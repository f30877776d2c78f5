//! The parts of one stage.

use maud::{Markup, html};

use crate::outcome::StageOutcome;
use crate::quantity::{Unit, exact, rounded};
use crate::wording::deviation;

/// What is bought, beside what would be exact, and what the stage works between: in one table, or in two beside each other.
pub fn parts(stage: &StageOutcome, is_wide: bool) -> Markup {
    let bought = stage.parts.iter().map(|part| {
        html! {
            tr {
                th scope="row" { (part.name) @if part.pinned { small { " fixed" } } }
                td.number { (rounded(part.exact, part.unit, 6)) }
                td.number.sheet-buy { (exact(part.value, part.unit)) }
                td.number { (deviation(part.miss)) }
                td.number { "±" (rounded(part.tolerance, Unit::Percent, 3)) }
            }
        }
    });
    let given = stage.given.iter().map(|given| {
        html! {
            tr {
                th scope="row" { (given.name) small { " given" } }
                td {}
                td.number { (exact(given.value, given.unit)) }
                td {}
                td {}
            }
        }
    });
    let op_amps = (stage.op_amps > 0).then(|| {
        html! {
            tr {
                th scope="row" { "Op amps" }
                td {}
                td.number.sheet-buy { (stage.op_amps) }
                td {}
                td {}
            }
        }
    });
    let rows: Vec<Markup> = bought.chain(given).chain(op_amps).collect();
    let half = match is_wide {
        true => rows.len().div_ceil(2),
        false => rows.len(),
    };
    html! {
        div.sheet-parts {
            @for (place, rows) in rows.chunks(half.max(1)).enumerate() {
                (table(if place == 0 { "Parts" } else { "Parts, continued" }, rows))
            }
        }
    }
}

fn table(caption: &str, rows: &[Markup]) -> Markup {
    html! {
        table {
            caption { (caption) }
            thead {
                tr {
                    th scope="col" { "Part" }
                    th.number scope="col" { "Exact" }
                    th.number scope="col" { "Buy" }
                    th.number scope="col" { "Deviation" }
                    th.number scope="col" { "Tolerance" }
                }
            }
            tbody { @for row in rows { (row) } }
        }
    }
}
