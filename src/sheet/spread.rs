//! The spread of one stage over boards: its yield, its figures, how far they can get, and what contributes.

use maud::{Markup, html};

use super::figures::limits;
use super::{charts, contributions};
use crate::design::Design;
use crate::outcome::{
    CornerBoard, CornersOutcome, FigureCorners, FigureSpread, Outcome, SpreadOutcome,
};
use crate::plots::Chart;
use crate::plots::response::Response;
use crate::quantity::{Unit, rounded};
use crate::wording::{figure_text, per_cent};

/// The spread of the stage that is shown, with its worst case.
pub fn spread(design: &Design, outcome: &Outcome) -> Markup {
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
        @if outcome.stages.len() == 1 {
            (charts::histograms(spread))
        } @else {
            (charts::charts(design, outcome, &[Chart::Stage(Response::Delay), Chart::Stage(Response::Step)], charts::HALF))
        }
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
                        th.number { "Worst low" }
                        th.number { "Worst high" }
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
    let text = |value: f64| briefly(value, figure.unit);
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
        td.number { (briefly(board.value, figure.unit)) @if board.is_inside { "*" } }
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
    let guarantees = guarantees(&corners.figures);
    html! {
        p.sheet-secondary {
            "Worst case: every part at either end of its tolerance, drift and ageing: " (corners.method) "; "
            (corners.boards) " boards were evaluated."
            @if is_inside { " * Not at a corner." }
            @for told in guarantees { " " (told) }
        }
    }
}

/// How far the extremes can be relied on: each sentence once, behind the figures of which it is said where these are not all.
fn guarantees(figures: &[FigureCorners]) -> Vec<String> {
    let mut told: Vec<(&str, Vec<&str>)> = Vec::new();
    for figure in figures {
        for sentence in figure.guarantee.split_inclusive(". ").map(str::trim) {
            match told.iter_mut().find(|(known, _)| *known == sentence) {
                Some((_, of)) => of.push(&figure.label),
                None => told.push((sentence, vec![&figure.label])),
            }
        }
    }
    let count = figures.len();
    let one = |(sentence, of): (&str, Vec<&str>)| match of.len() == count {
        true => sentence.to_owned(),
        false => format!("{}: {sentence}", of.join(", ")),
    };
    told.into_iter().map(one).collect()
}

/// A figure in four digits: as many as boards tell of it.
fn briefly(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Decibel | Unit::Degree => figure_text(value, unit),
        _ if value.is_finite() => rounded(value, unit, 4),
        _ => "none".to_owned(),
    }
}
