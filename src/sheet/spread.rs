//! The spread of one stage over boards: its yield, its figures, how far they can get, and what contributes.

use maud::{Markup, html};

use super::figures::limits;
use super::{charts, contributions};
use crate::outcome::{
    CornerBoard, CornersOutcome, FigureCorners, FigureSpread, Outcome, SpreadOutcome,
};
use crate::wording::{figure_text, per_cent};

/// The spread of the stage that is shown, with its worst case.
pub fn spread(outcome: &Outcome) -> Markup {
    let Some(spread) = &outcome.spread else {
        return html! { h2 { "Spread" } p { "The boards are not drawn yet." } };
    };
    let of = match outcome.stages.len() {
        1 => String::new(),
        _ => format!(" of stage {}", outcome.shown + 1),
    };
    html! {
        h2 { "Spread" (of) " over " (spread.boards) " boards" }
        (share(spread))
        @if outcome.stages.len() == 1 { (charts::histograms(spread)) }
        (table(spread, outcome.corners.as_ref()))
        (worst(outcome.corners.as_ref()))
        (contributions::contributions(outcome))
    }
}

fn share(spread: &SpreadOutcome) -> Markup {
    let y = &spread.share;
    html! {
        p {
            strong { (per_cent(y.fraction)) } " of boards hold every limit: " (y.passed) " of " (spread.boards) "; "
            (per_cent(y.low)) " to " (per_cent(y.high)) " with " (per_cent(y.level)) " confidence (" (y.method) ")."
            @match spread.stable {
                Some(true) => " Figures and yield are stable to the required digits (JCGM 101, 7.9).",
                Some(false) => " Not yet stable to the required digits.",
                None => "",
            }
        }
    }
}

/// Every figure over the boards, and its extremes.
fn table(spread: &SpreadOutcome, corners: Option<&CornersOutcome>) -> Markup {
    let of = |figure: &FigureSpread| {
        let all = corners.iter().flat_map(|corners| &corners.figures);
        all.clone().find(|corner| corner.name == figure.name)
    };
    html! {
        table.sheet-spread {
            thead {
                tr {
                    th {}
                    th.number { "Limits" }
                    th.number { "Held" }
                    th.number { "Least" }
                    th.number { "5 %" }
                    th.number { "Median" }
                    th.number { "95 %" }
                    th.number { "Most" }
                    @if corners.is_some() {
                        th.number { "Worst case: low" }
                        th.number { "high" }
                        th { "in limits" }
                    }
                }
            }
            tbody {
                @for figure in &spread.figures {
                    (row(figure, corners.is_some(), of(figure)))
                }
            }
        }
    }
}

fn row(figure: &FigureSpread, has_corners: bool, corner: Option<&FigureCorners>) -> Markup {
    let text = |value: f64| figure_text(value, figure.unit);
    let [low, middle, high] = figure.quantiles;
    let verdict = corner.and_then(|corner| corner.holds);
    html! {
        tr {
            th scope="row" { (figure.label) }
            td.number { (limits(figure.lowest, figure.highest, figure.unit)) }
            td.number { @if let Some(held) = figure.held { (per_cent(held)) } }
            @for value in [figure.least, low, middle, high, figure.most] { td.number { (text(value)) } }
            @if has_corners {
                @match corner {
                    Some(corner) => { (end(&corner.lowest, figure)) (end(&corner.highest, figure)) },
                    None => { td {} td {} },
                }
                td.sheet-verdict-cell { (verdict.map_or("", |holds| if holds { "met" } else { "not met" })) }
            }
        }
        @if figure.unreadable > 0 {
            tr { td colspan=(if has_corners { 11 } else { 8 }) { (figure.label) ": not readable on " (figure.unreadable) " boards." } }
        }
    }
}

fn end(board: &CornerBoard, figure: &FigureSpread) -> Markup {
    html! {
        td.number { (figure_text(board.value, figure.unit)) @if board.is_inside { "*" } }
    }
}

/// How the worst case was looked for.
fn worst(corners: Option<&CornersOutcome>) -> Markup {
    let Some(corners) = corners else {
        return html! { p.sheet-secondary { "The worst case is not worked out." } };
    };
    let is_inside = corners
        .figures
        .iter()
        .any(|f| f.lowest.is_inside || f.highest.is_inside);
    let mut guarantees: Vec<&str> = Vec::new();
    for figure in &corners.figures {
        if !guarantees.contains(&figure.guarantee.as_str()) {
            guarantees.push(&figure.guarantee);
        }
    }
    html! {
        p.sheet-secondary {
            "Worst case: every part at either end of its tolerance, drift and ageing: " (corners.method) "; "
            (corners.boards) " boards were evaluated."
            @if is_inside { " * Not at a corner." }
            @for told in guarantees { " " (told) }
        }
    }
}
