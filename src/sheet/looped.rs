//! The loop: its verdict, margins, phase budget, and what boards and plants make of it.

use maud::{Markup, html};

use super::cautions;
use super::entries::{Entries, listed};
use super::figures::limits;
use crate::design::{Group, with_unit};
use crate::outcome::{
    Budget, LoopOutcome, LoopSpread, MARGIN_ROWS, MarginRow, Outcome, ServoOutcome, Share, Yield,
};
use crate::quantity::{Unit, rounded};
use crate::wording::{figure_text, per_cent};

/// Contributions below this are not told one by one.
const LEAST: f64 = 0.005;

/// The loop round the plant.
pub fn looped(entries: &Entries, outcome: &Outcome, servo: &ServoOutcome) -> Markup {
    // In a whole outcome they stand with the loop.
    let boards = servo.spread.as_ref().or(outcome.loops.as_ref());
    html! {
        h2 { "Loop" }
        (verdict(servo, boards))
        p.sheet-caution { strong { "Caution. " } (cautions::LOOP) }
        section.sheet-block {
            h3 { "Required" }
            (listed(entries.within(|group| *group == Group::Loop)))
        }
        div.sheet-tables {
            (margins(servo))
            @if let Some(budget) = &servo.budget { (phase_budget(budget)) }
        }
        @match boards {
            Some(spread) => (over_boards(spread)),
            None => p.sheet-secondary { "No loops are drawn over boards and plants." },
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

/// Margins with the model and as measured.
fn margins(servo: &ServoOutcome) -> Markup {
    let ways = [&servo.modelled, &servo.measured];
    html! {
        table {
            caption { "Margins" }
            thead {
                tr {
                    th {}
                    th.number scope="col" { "Required" }
                    th.number scope="col" { "With the model" }
                    th.number scope="col" { "As measured" }
                }
            }
            tbody {
                @for row in &MARGIN_ROWS {
                    tr {
                        th scope="row" { (row.label) @if row.name == "rejection" { " at " (rounded(servo.asked.reject_at, Unit::Hertz, 4)) } }
                        td.number { (required(row, servo)) }
                        @for way in ways { td.number { (read(row, way.as_ref())) } }
                    }
                }
            }
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

fn read(row: &MarginRow, told: Option<&LoopOutcome>) -> String {
    let Some(told) = told else {
        return String::new();
    };
    let Some(value) = (row.read)(told) else {
        return "none".to_owned();
    };
    let value = figure_text(value, row.unit);
    match (row.place)(&told.margins) {
        Some(place) => format!("{value} at {}", rounded(place, Unit::Hertz, 3)),
        None => value,
    }
}

/// Who spends the phase at the crossover.
fn phase_budget(budget: &Budget) -> Markup {
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
        table {
            caption { "Phase budget at the crossover, " (rounded(budget.crossover, Unit::Hertz, 4)) }
            thead { tr { th {} th.number scope="col" { "Phase" } th.number scope="col" { "Gain" } } }
            tbody {
                @for share in &budget.shares {
                    tr {
                        th scope="row" { (label(share)) }
                        td.number { (figure_text(share.phase_deg, Unit::Degree)) }
                        td.number { (gain(share)) }
                    }
                }
            }
        }
    }
}

/// Boards and plants together.
fn over_boards(spread: &LoopSpread) -> Markup {
    let share = |y: &Yield, what: &str| {
        html! {
            li {
                strong { (per_cent(y.fraction)) } " " (what) " (" (per_cent(y.low)) " to " (per_cent(y.high)) " with "
                (per_cent(y.level)) " confidence, " (y.method) ")"
            }
        }
    };
    let worst = spread.worst.as_ref().map(|worst| match worst.is_stable {
        true => format!(
            "Board {} has the least phase margin, {:.1}°.",
            worst.number + 1,
            worst.phase_margin
        ),
        false => format!("Board {} is unstable.", worst.number + 1),
    });
    html! {
        section.sheet-block {
            h3 { "Over boards and plants" }
            ul.sheet-told {
                (share(&spread.kept, "of built loops meet every requirement"))
                (share(&spread.phase_kept, "keep the phase margin"))
                (share(&spread.stable, "are stable"))
            }
        }
        (figures(spread))
        p {
            @if let Some(worst) = worst { (worst) " " }
            (contributions(spread))
        }
    }
}

fn figures(spread: &LoopSpread) -> Markup {
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
                }
            }
            tbody {
                @for figure in &spread.figures {
                    tr {
                        th scope="row" {
                            (figure.label)
                            @if figure.unreadable > 0 { small { " (none on " (figure.unreadable) " boards)" } }
                        }
                        td.number { (limits(figure.lowest, figure.highest, figure.unit)) }
                        td.number { @if let Some(held) = figure.held { (per_cent(held)) } }
                        td.number { (figure_text(figure.least, figure.unit)) }
                        @for value in figure.quantiles { td.number { (figure_text(value, figure.unit)) } }
                        td.number { (figure_text(figure.most, figure.unit)) }
                    }
                }
            }
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
            "Variance contributions to the phase margin, as far as they are linear: {}.",
            all.join(", ")
        ),
    }
}
