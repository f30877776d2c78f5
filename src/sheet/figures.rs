//! The figures of one stage's response against what was asked.

use maud::{Markup, html};

use crate::outcome::FigureOutcome;
use crate::quantity::{Unit, rounded};
use crate::wording::figure_text;

/// All figures, with an ideal op amp and with the real one.
pub fn figures(figures: &[FigureOutcome]) -> Markup {
    html! {
        table {
            caption { "Figures of the response" }
            thead {
                tr {
                    th {}
                    th.number scope="col" { "Required" }
                    th.number scope="col" { "Limits" }
                    th.number scope="col" { "Ideal op amp" }
                    th.number scope="col" { "Real op amp" }
                }
            }
            tbody {
                @for figure in figures {
                    tr {
                        th scope="row" { (figure.label) }
                        td.number { (wanted(figure)) }
                        td.number { (limits(figure.lowest, figure.highest, figure.unit)) }
                        td.number { (figure_text(figure.ideal, figure.unit)) }
                        td.number.sheet-buy { (figure_text(figure.value, figure.unit)) }
                    }
                }
            }
        }
    }
}

fn wanted(figure: &FigureOutcome) -> String {
    figure
        .wanted
        .map_or(String::new(), |wanted| rounded(wanted, figure.unit, 6))
}

/// The limits of a figure; nothing where it has none.
pub fn limits(lowest: Option<f64>, highest: Option<f64>, unit: Unit) -> String {
    let text = |value: f64| rounded(value, unit, 5);
    match (lowest, highest) {
        (Some(low), Some(high)) => range(&text(low), &text(high)),
        (Some(low), None) => format!("≥ {}", text(low)),
        (None, Some(high)) => format!("≤ {}", text(high)),
        (None, None) => String::new(),
    }
}

/// From one value to another, their unit once where it is the same.
fn range(low: &str, high: &str) -> String {
    match (low.rsplit_once(' '), high.rsplit_once(' ')) {
        (Some((number, unit)), Some((_, other))) if unit == other => format!("{number} … {high}"),
        _ => format!("{low} … {high}"),
    }
}
