//! What is read off the loop: margins with measured plant and model side by side, the phase budget,
//! and what is wrong.

use crate::page::prelude::*;

use crate::design::with_unit;
use crate::outcome::{LoopOutcome, MARGIN_ROWS, ServoOutcome, Share};
use crate::page::desk::Desk;
use crate::page::parts::figure_text;
use crate::page::spread::per_cent;
use crate::quantity::Unit;

#[component]
pub fn Margins() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let cell =
        move |index: usize, of: fn(&ServoOutcome) -> &Option<LoopOutcome>, suffix: &'static str| {
            let row = &MARGIN_ROWS[index];
            let value = memo(move || {
                desk.servo.with(|servo| {
                    let told = of(servo.as_ref()?).as_ref()?;
                    Some(((row.read)(told), (row.place)(&told.margins)))
                })
            });
            let data = move || {
                value
                    .get()
                    .and_then(|(v, _)| v)
                    .unwrap_or(f64::NAN)
                    .to_string()
            };
            let text = move || match value.get() {
                None => String::new(),
                Some((None, _)) => "none".to_owned(),
                Some((Some(v), _)) => figure_text(v, row.unit),
            };
            let place = move || {
                let at = value.get().and_then(|(_, place)| place)?;
                Some(format!(
                    "at {}",
                    crate::quantity::rounded(at, Unit::Hertz, 3)
                ))
            };
            view! {
                <td class="number" data-figure=format!("{}{suffix}", row.name) data-value=data>
                    {text} <span class="at">{place}</span>
                </td>
            }
        };
    let rows = (0..MARGIN_ROWS.len())
        .map(|index| {
            let row = &MARGIN_ROWS[index];
            view! {
                <tr title=row.meaning>
                    <th scope="row">{row.label}</th>
                    {cell(index, |servo| &servo.modelled, "")}
                    {cell(index, |servo| &servo.measured, "-measured")}
                </tr>
            }
        })
        .collect_nodes();
    view! {
        <table class="margins">
            <thead>
                <tr>
                    <th scope="col"></th>
                    <th scope="col" class="number">"With the model"</th>
                    <th scope="col" class="number">"As measured"</th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
        </table>
    }
}

/// Whether the loop holds, how many built loops keep what is asked, and all that speaks against it.
#[component]
pub fn Verdict() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let verdict = move || {
        desk.servo.with(|servo| {
            let servo = servo.as_ref()?;
            let unstable = servo.modelled.as_ref().and_then(|l| l.unstable_poles);
            let verdict = match unstable {
                Some(0) if servo.warnings.is_empty() => "Stable, and every requirement is met.",
                Some(0) => "Stable, but not every requirement is met.",
                Some(_) => "Unstable.",
                None => "Not known to be stable.",
            };
            let is_good = unstable == Some(0) && servo.warnings.is_empty();
            let count = unstable.map_or("NaN".to_owned(), |n| n.to_string());
            Some(view! {
                <p class="verdict" class:bad=!is_good data-figure="unstable-poles" data-value=count>
                    {verdict}
                </p>
            })
        })
    };
    let warnings = move || {
        desk.servo.with(|servo| {
            let warnings = servo.iter().flat_map(|servo| &servo.warnings);
            warnings
                .map(|warning| view! { <li>{warning.clone()}</li> })
                .collect_nodes()
        })
    };
    let kept = move || {
        desk.loops.with(|loops| {
            let share = loops.as_ref()?.kept.fraction;
            Some(view! {
                <p class="yield">
                    <span class="figure" data-figure="verdict-loop-yield" data-value=share.to_string()>{per_cent(share)}</span>
                    <span class="what">"of built loops meet every requirement"</span>
                </p>
            })
        })
    };
    view! {
        <div class="verdict-line">
            {verdict}
            {kept}
        </div>
        <div role="status">
            <ul class="warnings">{warnings}</ul>
        </div>
    }
}

/// A share's gain with what it is relative to.
fn gain(share: &Share) -> String {
    let gain = figure_text(share.gain_db, Unit::Decibel);
    match share.gain_unit.strip_prefix("dB ") {
        Some(reference) => with_unit(gain, reference),
        None => gain,
    }
}

/// Who spends the phase at the crossover.
#[component]
pub fn Budget() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let told = move || {
        desk.servo.with(|servo| {
            let budget = servo.as_ref()?.budget.as_ref()?;
            let rows = budget
                .shares
                .iter()
                .map(|share| {
                    let label = match share.stage {
                        Some(stage) => format!("{} {}", stage + 1, share.label),
                        None => share.label.clone(),
                    };
                    let name = share.stage.map(|stage| format!("phase-share-{}", stage + 1));
                    view! {
                        <tr>
                            <th scope="row">{label}</th>
                            <td class="number" data-figure=name data-value=share.phase_deg.to_string()>
                                {figure_text(share.phase_deg, Unit::Degree)}
                            </td>
                            <td class="number">{gain(share)}</td>
                        </tr>
                    }
                })
                .collect_nodes();
            let at = crate::quantity::rounded(budget.crossover, Unit::Hertz, 4);
            Some(view! {
                <table class="budget">
                    <caption>{format!("Phase budget at the crossover, {at}")}</caption>
                    <thead>
                        <tr>
                            <th scope="col"></th>
                            <th scope="col" class="number">"Phase"</th>
                            <th scope="col" class="number">"Gain"</th>
                        </tr>
                    </thead>
                    <tbody>{rows}</tbody>
                </table>
            })
        })
    };
    view! { <div>{told}</div> }
}
