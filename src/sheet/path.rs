//! The whole path: its yield stage by stage, what its product leaves out, and what one board takes.

use maud::{Markup, html};

use super::asked::asked;
use super::charts::{HALF, charts};
use super::entries::Entries;
use crate::design::Design;
use crate::outcome::{Loading, Outcome, PathOutcome, Purchase};
use crate::plots::Chart;
use crate::plots::response::Response;
use crate::quantity::exact;
use crate::stages::catalogued;
use crate::wording::{in_stage, per_cent};

/// The path; nothing where it is one stage.
pub fn path(design: &Design, outcome: &Outcome) -> Markup {
    let several = outcome.path.as_ref().filter(|_| outcome.stages.len() > 1);
    let Some(path) = several else {
        return Markup::default();
    };
    html! {
        h2 { "Whole path" }
        (share(outcome))
        (charts(design, outcome, &[Chart::Path(Response::Magnitude), Chart::Path(Response::Phase)], HALF))
        (bill(path))
        (loadings(&path.loadings))
    }
}

/// What is said of a path that has no stage on the sheet: what is asked, where its parts are not picked.
pub fn without_parts(entries: &Entries) -> Markup {
    let stages = &entries.design.stages;
    html! {
        @if stages.is_empty() {
            p { "The path holds no stage: it is a wire." }
        } @else {
            p.sheet-missed { "No parts are picked for the path's stages: nothing of them can be built from this sheet." }
        }
        @for (index, stage) in stages.iter().enumerate() {
            section.sheet-block {
                h3 { "Required of stage " (index + 1) ": " (catalogued(&stage.circuit).map_or("", |known| known.title())) }
                (asked(entries, index))
            }
        }
    }
}

fn share(outcome: &Outcome) -> Markup {
    let spread = outcome.spread.as_ref();
    let Some(path) = spread.and_then(|spread| spread.path.as_ref()) else {
        return Markup::default();
    };
    let y = &path.share;
    let each: Vec<String> = path.stages.iter().map(|share| per_cent(*share)).collect();
    html! {
        p {
            strong { (per_cent(y.fraction)) }
            " of boards hold every limit of every stage; "
            (per_cent(y.low)) " to " (per_cent(y.high)) " with " (per_cent(y.level)) " confidence (" (y.method) "). Stage by stage: "
            (each.join(", ")) "."
        }
    }
}

/// What to buy for one board, each value once.
fn bill(path: &PathOutcome) -> Markup {
    let one = |purchase: &Purchase| {
        let places = purchase.places.iter();
        let places: Vec<String> = places
            .map(|(stage, name)| in_stage(true, *stage, name))
            .collect();
        html! {
            span.sheet-purchase {
                b { (purchase.places.len()) " × " (exact(purchase.value, purchase.unit)) }
                " " (places.join(" "))
            }
        }
    };
    html! {
        section.sheet-block {
            h3 { "Bill of materials for one board (stage·part)" }
            p.sheet-bill {
                @for purchase in &path.buy { (one(purchase)) " " }
                span.sheet-purchase { b { (path.op_amps) " × op amp" } }
            }
        }
    }
}

fn loadings(loadings: &[Loading]) -> Markup {
    let told = |loading: &Loading| {
        format!(
            "{} to {}: {:.2} dB, {:.2}°",
            loading.stage + 1,
            loading.stage + 2,
            loading.decibel,
            loading.degrees
        )
    };
    let all: Vec<String> = loadings.iter().map(told).collect();
    html! {
        @if !all.is_empty() {
            p.sheet-secondary {
                "Left out of the product of the stages, at most, computed with both circuits joined: " (all.join("; ")) "."
            }
        }
    }
}
