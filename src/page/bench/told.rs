//! What the bench says of the board: verdict, causes, values, repairs, margins.

use crate::page::prelude::*;
use serde_json::json;

use crate::bench::{
    Action, FigureValue, Likely, OpAmpNumber, PartValue, Repair, RepairVerdict, Report, Step,
    Verdict,
};
use crate::design::LogEntry;
use crate::feedback::Margins;
use crate::json;
use crate::outcome::BenchOutcome;
use crate::page::desk::Desk;
use crate::page::table::figures as table;
use crate::quantity::{Unit, rounded};
use crate::wording::{deviation, figure_text, in_stage, per_cent};

#[component]
pub fn Told() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = move || {
        let Some(found) = desk.bench.get() else {
            return Node::Nothing;
        };
        if let Some(error) = &found.error {
            return view! { <p class="problem" role="alert">{error.clone()}</p> }.into_node();
        }
        let Some(report) = &found.report else {
            return view! { <p class="secondary" role="status">"Being looked at …"</p> }
                .into_node();
        };
        view! {
            <div class="bench-told" data-figure="bench-verdict" data-value=verdict(report.verdict)>
                {sentences(&found)}
                {margins(&found)}
                {(report.verdict != Verdict::Unexplained).then(|| view! { {causes(report)} {repairs(&found, report)} {values(&found, report)} {blocks(report)} })}
            </div>
        }
        .into_node()
    };
    drawn.into_node()
}

/// As scripts read it.
fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Healthy => "healthy",
        Verdict::Undecided => "undecided",
        Verdict::Found => "found",
        Verdict::OneOf => "one-of",
        Verdict::Unexplained => "unexplained",
    }
}

fn many(found: &BenchOutcome) -> bool {
    found.stage.is_none()
}

/// The first two are what one looks for: where it lies, and what it is.
fn sentences(found: &BenchOutcome) -> Node {
    let line = |(place, words): (usize, &String)| {
        let is_first = place < 2;
        view! { <p class:strong=is_first>{words.clone()}</p> }
    };
    let lines = found.words.iter().enumerate().map(line).collect_nodes();
    view! { <div class="bench-words">{lines}</div> }.into_node()
}

/// Causes and how likely each is.
fn causes(report: &Report) -> Node {
    if report.causes.len() < 2 {
        return Node::Nothing;
    }
    let row = |(place, likely): (usize, &Likely)| {
        let deviation = likely.deviation.map_or_else(String::new, |(by, sd)| {
            format!("{} ± {}", deviation(by), rounded(sd, Unit::Percent, 2))
        });
        let figure = format!("bench-cause-{}", place + 1);
        view! {
            <tr>
                <th scope="row">{crate::wording::capital(&likely.words)}</th>
                <td class="number" data-figure=figure data-value=likely.probability.to_string()>{per_cent(likely.probability)}</td>
                <td class="number">{deviation}</td>
            </tr>
        }
    };
    let rows = report.causes.iter().enumerate().map(row).collect_nodes();
    view! {
        <h3>"Causes that cannot be told apart"</h3>
        {table(&["Cause", "Probability", "Deviation"], rows)}
    }
    .into_node()
}

/// Figures now, and what each repair makes of them.
fn repairs(found: &BenchOutcome, report: &Report) -> Node {
    let many = many(found);
    let now = figures(&report.figures, many, false);
    let each = |(place, repair): (usize, &Repair)| one_repair(place, repair, many);
    let each = report.repairs.iter().enumerate().map(each).collect_nodes();
    let list = view! { <ol class="repairs">{each}</ol> };
    let list = match report.repair {
        _ if report.repairs.is_empty() => Node::Nothing,
        RepairVerdict::NothingToDo(_) => view! {
            <details>
                <summary>"Changes that would bring the figures nearer to the middle"</summary>
                {list}
            </details>
        }
        .into_node(),
        _ => view! { <h3>"Repairs, the best first"</h3> {list} }.into_node(),
    };
    view! {
        <h3>"Figures of this board"</h3>
        {now}
        {list}
    }
    .into_node()
}

fn one_repair(place: usize, repair: &Repair, many: bool) -> Node {
    let desk = expect_context::<Desk>();
    let words = repair.words(many);
    let said = words.clone();
    let log = move |_| {
        desk.edit_about(|about| {
            let date = String::from(js_sys::Date::new_0().to_iso_string());
            about.log.push(LogEntry {
                date: date.chars().take(10).collect(),
                change: said.chars().take(crate::design::About::CHANGE).collect(),
            });
        });
    };
    let figure = format!("bench-repair-{}", place + 1);
    let table = figures(&repair.figures, many, true);
    let label = format!("Enter in the log of the board, repair {}", place + 1);
    view! {
        <li>
            <p data-figure=figure data-value=repair.probability.to_string() data-steps=steps(repair)>{words}</p>
            <details>
                <summary>"Predicted figures"</summary>
                {table}
            </details>
            <button type="button" aria-label=label on:click=log>"Enter in the log of the board"</button>
        </li>
    }
    .into_node()
}

/// What is done, for scripts: a list of parts with what is done to each.
fn steps(repair: &Repair) -> String {
    let one = |step: &Step| {
        let (what, value) = match step.action {
            Action::Replace(value) => ("replace", Some(value)),
            Action::Parallel(value) => ("parallel", Some(value)),
            Action::Series(value) => ("series", Some(value)),
            Action::PutRight => ("put-right", None),
            Action::Turn(value) => ("turn", Some(value)),
        };
        json!({ "stage": step.at.stage + 1, "part": step.at.part, "do": what, "value": value })
    };
    json::written(&repair.steps.iter().map(one).collect())
}

/// Figures that have limits, now and where wanted after a repair.
fn figures(all: &[FigureValue], many: bool, is_after: bool) -> Node {
    let limited = all
        .iter()
        .filter(|figure| figure.lowest.is_some() || figure.highest.is_some());
    let row = |figure: &FigureValue| {
        let text = |value: f64| figure_text(value, figure.unit);
        let limits =
            [figure.lowest, figure.highest].map(|limit| limit.map_or("…".to_owned(), text));
        let value = match is_after {
            true => figure.after,
            false => figure.before,
        };
        let missed = figure.lowest.is_some_and(|limit| value < limit)
            || figure.highest.is_some_and(|limit| value > limit);
        view! {
            <tr>
                <th scope="row">{in_stage(many, figure.stage, &figure.label)}</th>
                <td class="number secondary">{limits.join(" to ")}</td>
                {is_after.then(|| view! { <td class="number">{text(figure.before)}</td> })}
                <td class="number" class:missed=missed>{text(value)}</td>
            </tr>
        }
    };
    let rows = limited.map(row).collect_nodes();
    let heads: &[&str] = match is_after {
        true => &["Figure", "Limits", "Now", "After the repair"],
        false => &["Figure", "Limits", "Now"],
    };
    view! { <div class:bench-figures=!is_after>{table(heads, rows)}</div> }.into_node()
}

/// Values of all parts under the likeliest cause.
fn values(found: &BenchOutcome, report: &Report) -> Node {
    let many = many(found);
    let row = |part: &PartValue| {
        let name = part.at.words(many);
        let what = match part.what {
            None => name.clone(),
            Some(OpAmpNumber::OpenLoopGain) => format!("{name}, open-loop gain"),
            Some(OpAmpNumber::GainBandwidth) => format!("{name}, gain-bandwidth"),
        };
        let by = match part.is_measured {
            true => format!(
                "{} ± {}",
                deviation(part.deviation),
                rounded(part.standard_deviation, Unit::Percent, 2)
            ),
            false => "not seen".to_owned(),
        };
        let figure = format!("bench-value-{name}");
        view! {
            <tr>
                <th scope="row">{what}</th>
                <td class="number">{rounded(part.marked, part.unit, 4)}</td>
                <td class="number" data-figure=figure data-value=part.value.to_string()>{rounded(part.value, part.unit, 4)}</td>
                <td class="number">{by}</td>
            </tr>
        }
    };
    let rows = report.parts.iter().map(row).collect_nodes();
    view! {
        <details>
            <summary>"Most probable values of all parts"</summary>
            <div class="scroll" tabindex="0" role="region" aria-label="Most probable values">
                {table(&["Part", "Marked", "Most probable", "Deviation"], rows)}
            </div>
            <p class="secondary">
                {format!(
                    "Maximum a posteriori over the parts' distributions, with one standard deviation. Noise of a point {}, read off the points or \
                     as entered; what is left is {} times that.",
                    rounded(report.noise, Unit::Percent, 2),
                    rounded(report.misfit, Unit::One, 2)
                )}
            </p>
        </details>
    }
    .into_node()
}

/// How likely each block is what differs.
fn blocks(report: &Report) -> Node {
    if report.blocks.len() < 2 {
        return Node::Nothing;
    }
    let row = |block: &crate::bench::BlockShare| {
        let name = match block.stage {
            Some(stage) => format!("Stage {}: {}", stage + 1, block.name),
            None => crate::wording::capital(&block.name),
        };
        view! {
            <tr>
                <th scope="row">{name}</th>
                <td class="number">{per_cent(block.probability)}</td>
            </tr>
        }
    };
    let rows = report.blocks.iter().map(row).collect_nodes();
    view! {
        <h3>"Which block differs"</h3>
        <table class="figures"><tbody>{rows}</tbody></table>
    }
    .into_node()
}

/// A loop's margins, as measured and as predicted.
fn margins(found: &BenchOutcome) -> Node {
    let Some([measured, predicted]) = &found.margins else {
        return Node::Nothing;
    };
    let row = |label: &'static str,
               figure: &'static str,
               unit,
               read: fn(&Margins) -> Option<f64>| {
        let cells = [(measured, "measured"), (predicted, "predicted")].map(|(margins, of)| {
            let value = read(margins);
            let text = value.map_or("none".to_owned(), |value| figure_text(value, unit));
            let figure = format!("bench-{figure}-{of}");
            view! {
                <td class="number" data-figure=figure data-value=value.map(|value| value.to_string())>{text}</td>
            }
        });
        view! { <tr><th scope="row">{label}</th>{cells.into_iter().collect_nodes()}</tr> }
    };
    let rows = view! {
        {row("Crossover", "crossover", Unit::Hertz, |m| m.crossover().map(|c| c.frequency))}
        {row("Phase margin", "phase-margin", Unit::Degree, |m| m.phase_margin().map(|c| c.phase_margin))}
        {row("Gain margin", "gain-margin", Unit::Decibel, |m| m.gain_margin().map(|c| 20.0 * c.gain_margin.log10()))}
    };
    view! {
        <h3>"Margins"</h3>
        {table(&["", "Measured", "Predicted"], rows)}
    }
    .into_node()
}
