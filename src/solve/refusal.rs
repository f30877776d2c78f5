//! What is said where nothing on the shelf holds the limits: by how much, and what would be enough.

use super::loud;
use crate::pick::{Choices, NoiseLimit, Remedy};
use crate::quantity::{Unit, rounded};
use crate::stages::{Figure, Model, Scratch};
use crate::wording::apart;

/// What is said, line by line: that it is so, which limits the nearest set does not hold, what would be enough, and
/// the design equations' own `rules`; the same of its `noise`, where that has a limit.
pub(super) fn told(
    model: &Model,
    choices: &Choices,
    rules: &[String],
    noise: Option<&NoiseLimit>,
) -> String {
    let best = choices.picks.first();
    let loud = best.zip(noise);
    let loud = loud.map_or_else(Vec::new, |(best, noise)| {
        loud::told(model, &best.values, noise)
    });
    let oscillates = best.is_some_and(|best| !is_stable(model, &best.values));
    let miss = match best {
        Some(best) if !oscillates => response_miss(model, &best.values),
        _ => f64::INFINITY,
    };
    if !loud.is_empty() && miss <= 1.0 {
        // The response is as it was asked.
        return loud.join("\n");
    }
    let mut told = vec![
        "No set from the shelf holds every limit, as far as a search over all of it finds."
            .to_owned(),
    ];
    if let Some(best) = best {
        if oscillates {
            told.push(
                "The nearest set oscillates: with this op amp it has poles in the right half plane. Its figures are \
                 those of no board."
                    .to_owned(),
            );
        }
        told.extend(missed(model, &best.values));
        let enough = enough(model, choices, miss);
        if !enough.is_empty() {
            told.push("Each of these alone is enough:".to_owned());
            told.extend(enough.into_iter().map(|one| format!("· {one}")));
        }
    }
    if !rules.is_empty() {
        told.push(format!(
            "By the design equations (common practice): {}",
            rules.join(" ")
        ));
    }
    told.extend(loud);
    told.join("\n")
}

/// The worst miss of a set's response over its limit.
fn response_miss(model: &Model, values: &[f64]) -> f64 {
    let bare = model.with_noise(None);
    let terms = bare.terms(values, None, &mut Scratch::default());
    bare.term_shape().miss(&terms)
}

fn is_stable(model: &Model, values: &[f64]) -> bool {
    model.is_stable(values, &mut Scratch::default())
}

/// Which limits the nearest set does not hold.
fn missed(model: &Model, values: &[f64]) -> Option<String> {
    let read = model.figures(values, None, &mut Scratch::default());
    let figures = model.yardstick.figures().iter().zip(read);
    let all: Vec<String> = figures
        .filter(|(figure, value)| !figure.keeps(*value))
        .map(|(figure, value)| one(figure, value))
        .collect();
    (!all.is_empty()).then(|| format!("Nearest: {}.", all.join(", ")))
}

/// A figure beyond its limits, against the one that it breaks.
fn one(figure: &Figure, value: f64) -> String {
    let label = &figure.label;
    match (figure.lowest, figure.highest) {
        _ if value.is_nan() => format!("{label} cannot be read"),
        (Some(low), _) if value < low => {
            let (value, low) = apart(value, low, figure.unit, 4);
            format!("{label} {value} ({low} is the least)")
        }
        (_, Some(high)) => {
            let (value, high) = apart(value, high, figure.unit, 4);
            format!("{label} {value} ({high} is the most)")
        }
        _ => format!("{label} {}", rounded(value, figure.unit, 4)),
    }
}

/// What would be enough, each by itself.
fn enough(model: &Model, choices: &Choices, miss: f64) -> Vec<String> {
    let mut all: Vec<String> = choices
        .remedies
        .iter()
        .map(|remedy| match remedy {
            Remedy::FinerValues(values) => {
                format!("values between the shelf's, near {}", list(model, values))
            }
            Remedy::Resistors(series) => {
                format!("resistors of the E{} series", series.per_decade())
            }
            Remedy::Capacitors(series) => {
                format!("capacitors of the E{} series", series.per_decade())
            }
            Remedy::GainBandwidth(bandwidth) => format!(
                "an op amp with a gain-bandwidth of {}",
                rounded(*bandwidth, Unit::Hertz, 2)
            ),
            Remedy::OtherOpAmp => {
                "an op amp with more open-loop gain and less output resistance".to_owned()
            }
            Remedy::WiderRange(values) => {
                format!(
                    "values beyond the shelf's ends, near {}",
                    list(model, values)
                )
            }
            Remedy::NoPins => "no fixed values".to_owned(),
        })
        .collect();
    if miss.is_finite() {
        // Rounded up, so that it is enough.
        let wider = (1.02 * miss * 20.0).ceil() / 20.0;
        all.push(format!(
            "limits {} times as wide",
            rounded(wider, Unit::One, 3)
        ));
    }
    all
}

fn list(model: &Model, values: &[f64]) -> String {
    let parts = model.netlist.parts().iter().zip(values).zip(&model.bought);
    let all: Vec<String> = parts
        .filter(|(_, bought)| **bought)
        .filter_map(|((part, &value), _)| {
            let unit = Unit::of(part.kind)?;
            Some(format!("{} {}", part.name, rounded(value, unit, 3)))
        })
        .collect();
    all.join(", ")
}
