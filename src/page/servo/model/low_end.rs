//! What the plant does below its modes: what the sweep speaks for, its rivals, and what it cannot see.

use crate::page::prelude::*;

use super::with_doubt;
use crate::design::{PlantUnits, with_unit};
use crate::page::desk::Desk;
use crate::plant::{Decision, Fitted, LowEnd as LowEnds, Rival};
use crate::quantity::{Unit, rounded};
use crate::wording::capital;

#[component]
pub fn LowEnd() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = move || {
        desk.servo.with(|servo| {
            let plant = &servo.as_ref()?.plant;
            let decided = plant
                .fitted
                .as_ref()
                .and_then(|f| Some((f, f.decision.as_ref()?)));
            Some(match decided {
                Some((fitted, decision)) => told(fitted, decision, &desk.units()).into_node(),
                None => given(LowEnds::of(plant.model.as_ref()?)).into_node(),
            })
        })
    };
    drawn.into_node()
}

/// A low end that nothing was held against: of a model that was given, or from which a fit began.
fn given(end: LowEnds) -> impl Content {
    view! {
        <p class="low-end">
            <strong data-figure="low-end" data-value=word(end)>{capital(end.name())}</strong>
            {format!(": {} at DC, as the model has it.", integrators(end))}
        </p>
    }
}

fn integrators(end: LowEnds) -> &'static str {
    match end.integrators_at_rest() {
        0 => "no integrator",
        1 => "one integrator",
        _ => "two integrators",
    }
}

fn told(fitted: &Fitted, decision: &Decision, units: &PlantUnits) -> impl Content + use<> {
    let integrators = integrators(decision.low_end);
    let verdict = match (decision.is_set, decision.is_decided) {
        (true, _) => "as you set it",
        (false, true) => "decided by the sweep",
        (false, false) => "the best fit, not decided by the sweep",
    };
    let name = decision.low_end.name();
    let rivals = decision.rivals.iter().map(rival).collect_nodes();
    let notes = decision.sentences().into_iter();
    let notes = notes.map(|note| view! { <li>{note}</li> }).collect_nodes();
    view! {
        <p class="low-end">
            <strong data-figure="low-end" data-value=word(decision.low_end)>{capital(name)}</strong>
            {format!(": {integrators} at DC, {verdict}.")}
            <span data-figure="low-end-decided" data-value=decision.is_decided.to_string()></span>
            " "
            {rigid(fitted, units)}
        </p>
        <ul class="notes">{notes}</ul>
        <details class="rivals">
            <summary>"Other low-frequency models, fitted to the same points"</summary>
            <table class="figures">
                <thead>
                    <tr>
                        <th scope="col">"Low-frequency model"</th>
                        <th scope="col" class="number">"Residual, rms"</th>
                        <th scope="col" class="number" title="Bayesian information criterion (Schwarz 1978): above 10 is very strong evidence">"BIC difference"</th>
                        <th scope="col"></th>
                    </tr>
                </thead>
                <tbody>
                    <tr>
                        <th scope="row">{capital(name)}</th>
                        <td class="number">{rounded(fitted.rms, Unit::Percent, 3)}</td>
                        <td class="number">"0"</td>
                        <td>"in use"</td>
                    </tr>
                    {rivals}
                </tbody>
            </table>
        </details>
    }
}

fn rival(rival: &Rival) -> impl Content + use<> {
    let verdict = if rival.is_excluded {
        "excluded"
    } else if rival.behind < 0.0 {
        "fits as well"
    } else {
        "possible"
    };
    view! {
        <tr>
            <th scope="row">{capital(rival.low_end.name())}</th>
            <td class="number">{rounded(rival.rms, Unit::Percent, 3)}</td>
            <td class="number">{rounded(rival.behind, Unit::One, 3)}</td>
            <td>{verdict}</td>
        </tr>
    }
}

/// The rigid part's numbers.
fn rigid(fitted: &Fitted, units: &PlantUnits) -> Option<String> {
    let (rigid, doubt) = fitted.model.rigid.zip(fitted.uncertainties.rigid)?;
    let gain = with_unit(
        with_doubt(rigid.gain, doubt.gain, Unit::One),
        &units.ratio_times_rate(rigid.integrators),
    );
    let friction = rigid.friction.zip(doubt.friction).map(|(corner, doubt)| {
        format!(
            " Friction corner {}.",
            with_doubt(corner, doubt, Unit::Hertz)
        )
    });
    Some(format!(
        "Rigid gain {gain}.{}",
        friction.unwrap_or_default()
    ))
}

/// The low end's word in a design.
fn word(end: LowEnds) -> String {
    serde_json::to_value(end)
        .ok()
        .and_then(|word| word.as_str().map(str::to_owned))
        .unwrap_or_default()
}
