//! The loop: its verdict, margins, phase budget, and what boards and plants make of it.

use maud::{Markup, html};

use super::cautions;
use super::charts::{LOW, THIRD, charts};
use super::entries::{Entries, listed};
use super::figures::limits;
use crate::design::{Group, with_unit};
use crate::outcome::{
    Budget, FigureSpread, LoopOutcome, LoopSpread, MARGIN_ROWS, MarginRow, Outcome, ServoOutcome,
    Share, Yield,
};
use crate::plots::Chart;
use crate::quantity::{Unit, rounded};
use crate::wording::{figure_text, per_cent};

/// Contributions below this are not told one by one.
const LEAST: f64 = 0.005;

/// What the table of margins tells beside what is asked.
const TOLD: [&str; 3] = [
    "/servo/asked/phase_margin",
    "/servo/asked/gain_margin_db",
    "/servo/asked/sensitivity",
];

/// The loop round the plant, up to its charts.
pub fn looped(entries: &Entries, outcome: &Outcome, servo: &ServoOutcome) -> Markup {
    // In a whole outcome they stand with the loop.
    let boards = servo.spread.as_ref().or(outcome.loops.as_ref());
    let asked = entries.within(|group| *group == Group::Loop);
    let asked = asked.filter(|entry| !TOLD.contains(&entry.path.as_str()));
    let draw = |of: &[Chart], size| charts(entries.design, outcome, of, size);
    html! {
        h2 { "Loop" }
        (verdict(servo, boards))
        p.sheet-caution { strong { "Caution. " } (cautions::LOOP) }
        (listed(asked))
        (margins(servo, boards))
        (over_boards(boards))
        (draw(&[Chart::OpenMagnitude, Chart::OpenPhase, Chart::Nyquist], THIRD))
        (draw(&[Chart::Sensitivity, Chart::Position, Chart::Drive], LOW))
        p.sheet-secondary.sheet-legend {
            "Circles: measured points. Solid: with the model. Thin: required limits; in the Nyquist chart the largest sensitivity \
             allowed. Position: the reference wide and grey."
        }
    }
}

fn verdict(servo: &ServoOutcome, boards: Option<&LoopSpread>) -> Markup {
    let unstable = servo.modelled.as_ref().and_then(|told| told.unstable_poles);
    let told = match unstable {
        Some(0) if servo.warnings.is_empty() => "Stable, and every requirement is met.",
        Some(0) => "Stable, but not every requirement is met.",
        Some(_) => "Unstable.",
        None => "Not known to be stable.",
    };
    html! {
        p.sheet-verdict {
            strong { (told) }
            @if let Some(boards) = boards {
                " " (per_cent(boards.kept.fraction)) " of built loops meet every requirement."
            }
        }
        @if !servo.warnings.is_empty() {
            ul.sheet-told { @for warning in &servo.warnings { li.sheet-missed { (warning) } } }
        }
    }
}

/// Margins with the model, as measured, and over boards and plants.
fn margins(servo: &ServoOutcome, boards: Option<&LoopSpread>) -> Markup {
    let ways = [&servo.modelled, &servo.measured];
    let figures = boards.map_or(&[][..], |boards| &boards.figures);
    let name = |row: &MarginRow| format!("loop-{}", row.name);
    let of = |row: &MarginRow| figures.iter().find(|figure| figure.name == name(row));
    let is_told = |figure: &&FigureSpread| !MARGIN_ROWS.iter().any(|row| name(row) == figure.name);
    html! {
        table.sheet-spread {
            caption { "Margins" }
            thead {
                tr {
                    th {}
                    th.number scope="col" { "Required" }
                    th.number scope="col" { "With the model" }
                    th.number scope="col" { "As measured" }
                    @if boards.is_some() { (heads()) }
                }
            }
            tbody {
                @for row in &MARGIN_ROWS {
                    tr {
                        th scope="row" {
                            (row.label)
                            @if row.name == "rejection" { " at " (rounded(servo.asked.reject_at, Unit::Hertz, 4)) }
                        }
                        td.number { (required(row, servo)) }
                        @for way in ways { td.number { (read(row, way.as_ref())) } }
                        @if boards.is_some() { (over(of(row))) }
                    }
                }
                @for figure in figures.iter().filter(is_told) {
                    tr {
                        th scope="row" { (figure.label) }
                        td.number { (limits(figure.lowest, figure.highest, figure.unit)) }
                        td {}
                        td {}
                        (over(Some(figure)))
                    }
                }
            }
        }
    }
}

/// Headings of what is told over boards and plants.
fn heads() -> Markup {
    html! {
        th.number scope="col" { "Built loops: 5 %" }
        th.number scope="col" { "median" }
        th.number scope="col" { "95 %" }
        th.number scope="col" { "within limit" }
    }
}

fn over(figure: Option<&FigureSpread>) -> Markup {
    html! {
        @match figure {
            Some(figure) => {
                @for value in figure.quantiles { td.number { (figure_text(value, figure.unit)) } }
                td.number {
                    @if let Some(held) = figure.held { (per_cent(held)) }
                    @if figure.unreadable > 0 { small { " none on " (figure.unreadable) } }
                }
            },
            None => { td {} td {} td {} td {} },
        }
    }
}

/// What a margin must be.
fn required(row: &MarginRow, servo: &ServoOutcome) -> String {
    let asked = &servo.asked;
    match row.name {
        "phase-margin" => format!("≥ {}", rounded(asked.phase_margin, Unit::Degree, 4)),
        "gain-margin" | "gain-reduction-margin" => {
            format!("≥ {}", rounded(asked.gain_margin_db, Unit::Decibel, 4))
        }
        "sensitivity-peak" => format!("≤ {}", rounded(asked.sensitivity, Unit::One, 4)),
        _ => String::new(),
    }
}

fn read(row: &MarginRow, told: Option<&LoopOutcome>) -> Markup {
    let Some(told) = told else {
        return Markup::default();
    };
    let value = (row.read)(told).map(|value| figure_text(value, row.unit));
    let place = (row.place)(&told.margins).map(|place| rounded(place, Unit::Hertz, 3));
    html! {
        (value.as_deref().unwrap_or("none"))
        @if let Some(place) = place { small { " at " (place) } }
    }
}

/// Who spends the phase at the crossover.
pub fn phase_budget(budget: &Budget) -> Markup {
    let label = |share: &Share| match share.stage {
        Some(stage) => format!("{} {}", stage + 1, share.label),
        None => share.label.clone(),
    };
    let gain = |share: &Share| {
        let gain = figure_text(share.gain_db, Unit::Decibel);
        match share.gain_unit.strip_prefix("dB ") {
            Some(reference) => with_unit(gain, reference),
            None => gain,
        }
    };
    html! {
        section.sheet-block {
            h3 { "Phase budget at the crossover, " (rounded(budget.crossover, Unit::Hertz, 4)) }
            dl.sheet-facts {
                @for share in &budget.shares {
                    div {
                        dt { (label(share)) }
                        dd { (figure_text(share.phase_deg, Unit::Degree)) ", " (gain(share)) }
                    }
                }
            }
        }
    }
}

/// Boards and plants together.
fn over_boards(boards: Option<&LoopSpread>) -> Markup {
    let Some(spread) = boards else {
        return html! { p.sheet-secondary { "No loops are drawn over boards and plants." } };
    };
    let share = |y: &Yield, what: &str| {
        html! { strong { (per_cent(y.fraction)) } " " (what) " (" (per_cent(y.low)) " to " (per_cent(y.high)) ")" }
    };
    let worst = spread.worst.as_ref().map(|worst| match worst.is_stable {
        true => format!(
            " Board {} has the least phase margin, {:.1}°.",
            worst.number + 1,
            worst.phase_margin
        ),
        false => format!(" Board {} is unstable.", worst.number + 1),
    });
    html! {
        p {
            "Built loops, boards and plants drawn together: "
            (share(&spread.kept, "meet every requirement")) ", "
            (share(&spread.phase_kept, "keep the phase margin")) ", "
            (share(&spread.stable, "are stable"))
            "; in brackets " (per_cent(spread.kept.level)) " confidence, " (spread.kept.method) "."
            (worst.unwrap_or_default())
            (contributions(spread))
        }
    }
}

/// What contributes to the phase margin's variance.
fn contributions(spread: &LoopSpread) -> String {
    let all = spread.contributions.iter().filter(|one| one.share >= LEAST);
    let all: Vec<String> = all
        .map(|one| format!("{} {}", one.label, rounded(one.share, Unit::Percent, 2)))
        .collect();
    match all.is_empty() {
        true => String::new(),
        false => format!(
            " Variance contributions to the phase margin, as far as they are linear: {}.",
            all.join(", ")
        ),
    }
}
