//! What is demanded of each op amp, levels at the nodes, offset and supply.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::demands::{Demand, Quantity, When, times};
use crate::design::Enters;
use crate::outcome::{DemandsOutcome, NodeLevel, OpAmpDemands, PathOffset, StageOffset};
use crate::page::desk::Desk;
use crate::page::table::figures;
use crate::quantity::{Unit, rounded};
use crate::wording::{capital, in_stage};

/// The table's columns.
const COLUMNS: [Quantity; 6] = [
    Quantity::GainBandwidth,
    Quantity::SlewRate,
    Quantity::OutputCurrent,
    Quantity::OutputSwing,
    Quantity::InputHigh,
    Quantity::InputLow,
];

#[component]
pub fn Demands() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = move || match desk.demands.get() {
        Some(found) => told(&found),
        None => Node::Nothing,
    };
    drawn.into_node()
}

fn told(found: &Arc<DemandsOutcome>) -> Node {
    let notes = found.notes.iter();
    let notes = notes.map(|note| view! { <p class="problem" role="alert">{note.clone()}</p> });
    let notes = notes.collect_nodes();
    view! {
        {notes}
        {verdict(found)}
        {table(found)}
        {errors(found)}
        {levels(found)}
    }
    .into_node()
}

/// Whether all hold, and which is the tightest.
fn verdict(found: &DemandsOutcome) -> Node {
    let Some((op_amp, demand)) = found.tightest() else {
        return view! { <p>"This path has no op amp."</p> }.into_node();
    };
    let place = place_of(found, op_amp.stage, &op_amp.name);
    let has = |value| rounded(value, demand.quantity.unit(), 3);
    let holds = demand.holds();
    let words = match holds {
        true => format!(
            "Every op amp has what is demanded of it. The tightest: {} of {place}, {} of {}.",
            demand.quantity.title(),
            has(demand.needed),
            has(demand.has)
        ),
        false => format!(
            "{place} falls short: its {} must be {}, and is {}.",
            demand.quantity.title(),
            has(demand.needed),
            has(demand.has)
        ),
    };
    view! {
        <p class="verdict" class:bad=!holds data-figure="demands-tightest" data-value=demand.ratio().to_string()>{words}</p>
    }
    .into_node()
}

fn table(found: &DemandsOutcome) -> Node {
    if found.op_amps.is_empty() {
        return Node::Nothing;
    }
    let heads = COLUMNS.iter();
    let heads = heads.map(|quantity| {
        let title = capital(quantity.title());
        view! { <th scope="col" class="number">{title}</th> }
    });
    let heads = heads.collect_nodes();
    let rows = found.op_amps.iter().map(|own| row(found, own));
    let rows = rows.collect_nodes();
    let signal = match found.signal {
        Some(Enters::Path) => "the largest sine at the path's input",
        Some(Enters::Reference) => "the largest sine as the loop's reference, by its error",
        Some(Enters::Motion) => "the error of the loop's time response",
        None => "no signal",
    };
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label="Demands on op amps">
            <table class="modes demands">
                <thead>
                    <tr>
                        <th scope="col">"Op amp"</th>
                        <th scope="col">"Data sheet"</th>
                        {heads}
                    </tr>
                </thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
        <p class="secondary">
            {format!(
                "Needed with {signal}, of what the op amp has between these rails; further inputs of a stage are grounded. Gain-bandwidth: \
                 the least with which the stage holds its limits, its resistors worked out anew."
            )}
        </p>
    }
    .into_node()
}

fn row(found: &DemandsOutcome, own: &OpAmpDemands) -> impl Content + use<> {
    let place = place_of(found, own.stage, &own.name);
    let sheet = match own.sheet.is_empty() {
        true => "usual".to_owned(),
        false => own.sheet.clone(),
    };
    let cell = |quantity: &Quantity| {
        let demand = own
            .demands
            .iter()
            .find(|demand| demand.quantity == *quantity);
        match demand {
            Some(demand) => cell(own, demand),
            None => view! { <td class="number">"—"</td> }.into_node(),
        }
    };
    let cells = COLUMNS.iter().map(cell).collect_nodes();
    view! {
        <tr>
            <th scope="row">{place}</th>
            <td>{sheet}</td>
            {cells}
        </tr>
    }
}

fn cell(own: &OpAmpDemands, demand: &Demand) -> Node {
    let unit = demand.quantity.unit();
    let figure = format!(
        "demand-{}-{}-{}",
        own.stage + 1,
        own.name,
        demand.quantity.name()
    );
    let when = at(demand.when);
    let share = demand.ratio();
    let has = format!(" of {}", rounded(demand.has, unit, 3));
    let short = (!demand.holds()).then(|| match share.is_finite() {
        true => format!("{} times too little", rounded(share, Unit::One, 2)),
        false => "has none".to_owned(),
    });
    view! {
        <td class="number" title=when data-figure=figure data-value=demand.needed.to_string()>
            <span class:missed=short.is_some()>{rounded(demand.needed, unit, 3)}</span>
            <span class="secondary">{has}</span>
            {short.map(|words| view! { <span class="why">{words}</span> })}
        </td>
    }
    .into_node()
}

/// When a peak is reached, in words.
fn at(when: When) -> String {
    match when {
        When::Always => String::new(),
        When::Sine(frequency) => format!("at {}", rounded(frequency, Unit::Hertz, 3)),
        When::Moved(time) => format!("after {}", rounded(time, Unit::Second, 3)),
    }
}

/// How much signal is allowed, offset and supply current.
fn errors(found: &DemandsOutcome) -> Node {
    let offset = &found.offset;
    let line = |label: &'static str, figure: &'static str, value: Option<f64>, text: String| {
        let value = value.map(|value| value.to_string());
        view! {
            <tr>
                <th scope="row">{label}</th>
                <td class="number" data-figure=figure data-value=value>{text}</td>
            </tr>
        }
    };
    let volts =
        |value: Option<f64>| value.map_or("none".to_owned(), |value| rounded(value, Unit::Volt, 3));
    let allowed = found.signal_allowed();
    let allowed =
        allowed.map(|share| line("All op amps allow", "signal-allowed", allowed, times(share)));
    let output = match offset.at_rail {
        true => "beyond a rail".to_owned(),
        false => volts(offset.output),
    };
    let (current, power) = (found.supply_current, found.supply_power);
    view! {
        <table class="figures">
            <tbody>
                {allowed}
                {line("Offset at the output, at most ±", "output-offset", offset.output, output)}
                {line("Referred to the path's input ±", "input-offset", offset.input, volts(offset.input))}
                {line("Supply current of a board", "supply-current", Some(current), rounded(current, Unit::Ampere, 3))}
                {line("Its power between the rails", "supply-power", Some(power), rounded(power, Unit::Watt, 3))}
            </tbody>
        </table>
        {offsets(offset)}
        <p class="secondary">
            "Offsets are all of one sign. An output that integrates goes to a rail by itself: in the loop what counts is the offset \
             referred to the path's input. Supply current without load."
        </p>
    }
    .into_node()
}

/// What each stage adds to the offset: at the path's output, or at its input where the output is at a rail.
fn offsets(offset: &PathOffset) -> Node {
    if offset.stages.is_empty() {
        return Node::Nothing;
    }
    let (to, place) = match (offset.at_rail, offset.input, offset.output) {
        (true, Some(input), Some(output)) if output > 0.0 => (input / output, "the path's input"),
        _ => (1.0, "the path's output"),
    };
    let row = |(stage, own): (usize, &StageOffset)| {
        let share = |value: f64| rounded(value * own.behind.abs() * to, Unit::Volt, 3);
        view! {
            <tr>
                <th scope="row">{format!("Stage {}", stage + 1)}</th>
                <td class="number">{share(own.voltage)}</td>
                <td class="number">{share(own.bias)}</td>
            </tr>
        }
    };
    let rows = offset.stages.iter().enumerate().map(row).collect_nodes();
    view! {
        <h3>{format!("Offset by stage, at {place}")}</h3>
        {figures(&["", "Offset voltages with drift", "Bias currents"], rows)}
    }
    .into_node()
}

/// The largest voltage of every node.
fn levels(found: &DemandsOutcome) -> Node {
    if found.nodes.is_empty() {
        return Node::Nothing;
    }
    let row = |level: &NodeLevel| {
        let place = place_of(found, level.stage, &level.node);
        let figure = format!("level-{}-{}", level.stage + 1, level.node.replace(' ', "-"));
        view! {
            <tr>
                <th scope="row">{place}</th>
                <td class="number" data-figure=figure data-value=level.peak.value.to_string()>
                    {rounded(level.peak.value, Unit::Volt, 3)}
                </td>
                <td class="number">{at(level.peak.when)}</td>
            </tr>
        }
    };
    let rows = found.nodes.iter().map(row).collect_nodes();
    view! {
        <details>
            <summary>"Largest voltage at every node"</summary>
            {figures(&["Node", "Peak", "Reached"], rows)}
        </details>
    }
    .into_node()
}

/// A part or node with its stage where there are several.
fn place_of(found: &DemandsOutcome, stage: usize, name: &str) -> String {
    in_stage(found.stages > 1, stage, name)
}
