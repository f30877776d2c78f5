//! What is wrong with a loop that was shaped at one frequency.

use super::wish::{degrees, hertz};
use super::{ShapeWish, Shaped};
use crate::quantity::{Unit, rounded};

/// Sentences, loudest first.
pub(super) fn warnings(shaped: &Shaped, wish: &ShapeWish, has_model: bool) -> Vec<String> {
    let mut told = Vec::new();
    match shaped.unstable_poles {
        Some(0) => {}
        Some(1) => told.push(
            "With this controller the closed loop is unstable: one of its poles lies in the right half plane."
                .to_owned(),
        ),
        Some(count) => told.push(format!(
            "With this controller the closed loop is unstable: {count} of its poles lie in the right half plane."
        )),
        None if has_model => told
            .push("Whether the closed loop is stable cannot be told from its curve.".to_owned()),
        None => {}
    }
    let is_wanted = |f: f64| (f / wish.crossover - 1.0).abs() < 1e-6;
    let crossings = &shaped.margins.gain_crossings;
    if let Some(own) = crossings.iter().find(|c| is_wanted(c.frequency))
        && !own.falls
    {
        told.push(format!(
            "At {} |L| rises through 1 instead of falling.",
            hertz(wish.crossover)
        ));
    }
    for crossing in crossings.iter().filter(|c| !is_wanted(c.frequency)) {
        if crossing.phase_margin.abs() < wish.phase_margin {
            told.push(format!(
                "|L| is 1 again at {}, where the phase margin is {}.",
                hertz(crossing.frequency),
                degrees(crossing.phase_margin),
            ));
        }
    }
    if let Some(last) = shaped.margins.crossover()
        && last.frequency > wish.crossover * (1.0 + 1e-6)
    {
        told.push(format!(
            "|L| falls through 1 for the last time at {}, above the wanted crossover.",
            hertz(last.frequency)
        ));
    }
    // Less than 6 dB, the least that is in use (Franklin and others, ch. 6).
    if let Some(near) = shaped.margins.gain_margin()
        && near.gain_margin < 2.0
        && shaped.unstable_poles == Some(0)
    {
        told.push(format!(
            "The gain margin is only {}, at {}.",
            rounded(20.0 * near.gain_margin.log10(), Unit::Decibel, 3),
            hertz(near.frequency),
        ));
    }
    told
}
