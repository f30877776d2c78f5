//! A stage's transfer function in numbers, so that any other tool can draw it.

use std::f64::consts::TAU;

use crate::outcome::{Outcome, ZeroPoleGain};
use crate::quantity::{Unit, rounded};

/// Roots are told so closely, digits.
const DIGITS: usize = 5;

/// Gain, zeros and poles of the stage at this place, with the bought parts and the real op amp.
pub fn of_stage(outcome: &Outcome, index: usize) -> String {
    let told = outcome.transfer.as_ref();
    let Some(told) = told.and_then(|told| told.stages.get(index)) else {
        return String::new();
    };
    format!(
        "Transfer function with these parts and the real op amp, k·Π(s − z)/Π(s − p), roots as frequency and Q: {}.",
        written(told)
    )
}

fn written(told: &ZeroPoleGain) -> String {
    let gain = match told.gain.is_finite() {
        true => format!("k = {:.5e}", told.gain).replace('-', "−"),
        false => "k beyond double precision".to_owned(),
    };
    format!(
        "{gain}; zeros {}; poles {}",
        roots(&told.zeros),
        roots(&told.poles)
    )
}

/// Each pair once.
fn roots(all: &[[f64; 2]]) -> String {
    let one = |[re, im]: &[f64; 2]| {
        let size = re.hypot(*im);
        let frequency = rounded(size / TAU, Unit::Hertz, DIGITS);
        let side = if *re > 0.0 { ", right half plane" } else { "" };
        match (*im, size) {
            (_, 0.0) => "at 0".to_owned(),
            (0.0, _) => format!("{frequency} (real{side})"),
            _ => {
                let q = size / (2.0 * re.abs());
                let q = match q.is_finite() {
                    true => rounded(q, Unit::One, DIGITS),
                    false => "∞".to_owned(),
                };
                format!("{frequency} (Q {q}{side})")
            }
        }
    };
    let told: Vec<String> = all.iter().filter(|[_, im]| *im >= 0.0).map(one).collect();
    match told.is_empty() {
        true => "none".to_owned(),
        false => told.join(", "),
    }
}
