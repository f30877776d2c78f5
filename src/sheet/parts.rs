//! The parts of one stage.

use maud::{Markup, html};

use crate::outcome::StageOutcome;
use crate::quantity::{Unit, exact, rounded};
use crate::wording::deviation;

/// What is bought, beside what would be exact; and what the stage works between.
pub fn parts(stage: &StageOutcome) -> Markup {
    html! {
        table {
            caption { "Parts" }
            thead {
                tr {
                    th scope="col" { "Part" }
                    th.number scope="col" { "Exact" }
                    th.number scope="col" { "Buy" }
                    th.number scope="col" { "Deviation" }
                    th.number scope="col" { "Tolerance" }
                }
            }
            tbody {
                @for part in &stage.parts {
                    tr {
                        th scope="row" { (part.name) @if part.pinned { small { " fixed" } } }
                        td.number { (rounded(part.exact, part.unit, 6)) }
                        td.number.sheet-buy { (exact(part.value, part.unit)) }
                        td.number { (deviation(part.miss)) }
                        td.number { "±" (rounded(part.tolerance, Unit::Percent, 3)) }
                    }
                }
                @for given in &stage.given {
                    tr {
                        th scope="row" { (given.name) small { " given" } }
                        td {}
                        td.number { (exact(given.value, given.unit)) }
                        td {}
                        td {}
                    }
                }
                @if stage.op_amps > 0 {
                    tr {
                        th scope="row" { "Op amps" }
                        td {}
                        td.number.sheet-buy { (stage.op_amps) }
                        td {}
                        td {}
                    }
                }
            }
        }
    }
}
