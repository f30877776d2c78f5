//! The plant's model: its low end beside the rivals, its numbers with their uncertainties, its peaks, and the user's
//! hand in the fit.

mod fitted;
mod low_end;
mod own;

use crate::page::prelude::*;

use crate::design::Group;
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::quantity::{Unit, rounded};

#[component]
pub fn Model() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let is_own = memo(move || desk.form.with(|form| form.plant.modes.is_some()));
    // What decides which fields there are; it must be read, since a memo that nobody reads follows nothing.
    let kind = memo(move || {
        desk.design.with(|design| {
            let servo = &design.servo;
            (servo.sweep.is_empty(), servo.fit.start.is_some())
        })
    });
    let fields = move || {
        kind.get();
        view! {
            <Fields fields=desk.group(Group::Units) />
            <Fields fields=desk.group(Group::Fit) />
        }
    };
    view! {
        <div class="model" id="model">
            <h3>"The plant's model"</h3>
            <low_end::LowEnd />
            <Show when=move || is_own.get() fallback=move || view! { <fitted::FittedModel /> }>
                <own::OwnModel />
            </Show>
            <div class="row">{fields}</div>
            <Zeros />
        </div>
    }
}

/// A number and its standard uncertainty.
fn with_doubt(value: f64, doubt: f64, unit: Unit) -> String {
    let text = rounded(value, unit, 5);
    if doubt > 1e300 {
        return format!("{text}, not determined by the sweep");
    }
    if doubt > 0.0 {
        format!("{text} ± {}", rounded(doubt, unit, 2))
    } else {
        text
    }
}

/// Where the plant's answer nearly vanishes.
#[component]
fn Zeros() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = move || {
        desk.servo.with(|servo| {
            let zeros = &servo.as_ref()?.plant.antiresonances;
            let list: Vec<String> = zeros
                .iter()
                .map(|zero| {
                    format!(
                        "{} (ζ {})",
                        rounded(zero.frequency, Unit::Hertz, 4),
                        rounded(zero.damping, Unit::One, 2)
                    )
                })
                .collect();
            (!list.is_empty()).then(
                || view! { <p class="zeros">{format!("Antiresonances: {}", list.join(", "))}</p> },
            )
        })
    };
    drawn.into_node()
}
