//! What is wrong with a loop that was shaped at one frequency.

use super::{BuiltShort, MOST_AMPLIFIERS, ShapeWish};
use crate::feedback::Margins;
use crate::quantity::{Unit, rounded};
use crate::wording::{degrees, hertz};

/// Sentences, loudest first; `own` is the crossover that was made, Hz.
pub(super) fn warnings(
    margins: &Margins,
    unstable: Option<usize>,
    own: f64,
    wish: &ShapeWish,
    has_model: bool,
) -> Vec<String> {
    let mut told: Vec<String> = of_stability(unstable, has_model).into_iter().collect();
    told.extend(of_crossings(margins, own, wish));
    // Less than 6 dB, the least that is in use (Franklin and others, ch. 6).
    if let Some(near) = margins.gain_margin()
        && near.gain_margin < 2.0
        && unstable == Some(0)
    {
        told.push(format!(
            "The gain margin is only {}, at {}.",
            rounded(20.0 * near.gain_margin.log10(), Unit::Decibel, 3),
            hertz(near.frequency),
        ));
    }
    told
}

fn of_stability(unstable: Option<usize>, has_model: bool) -> Option<String> {
    match unstable {
        Some(0) => None,
        Some(1) => Some(
            "With this controller the closed loop is unstable: one of its poles lies in the right half plane."
                .to_owned(),
        ),
        Some(count) => Some(format!(
            "With this controller the closed loop is unstable: {count} of its poles lie in the right half plane."
        )),
        None if has_model => {
            Some("Whether the closed loop is stable cannot be told from its curve.".to_owned())
        }
        None => None,
    }
}

/// What is wrong where |L| is 1.
fn of_crossings(margins: &Margins, own: f64, wish: &ShapeWish) -> Vec<String> {
    let mut told = Vec::new();
    let is_wanted = |f: f64| (f / own - 1.0).abs() < 1e-6;
    let crossings = &margins.gain_crossings;
    if let Some(own) = crossings.iter().find(|c| is_wanted(c.frequency))
        && !own.falls
    {
        told.push(format!(
            "At {} |L| rises through 1 instead of falling.",
            hertz(own.frequency)
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
    if let Some(last) = margins.crossover()
        && last.frequency > own * (1.0 + 1e-6)
    {
        told.push(format!(
            "|L| falls through 1 for the last time at {}, above the target crossover.",
            hertz(last.frequency)
        ));
    }
    told
}

/// Why real parts do not make the loop, and what would.
pub(super) fn too_slow(short: &BuiltShort) -> String {
    let wish = &short.wish;
    let form = wish.form.name();
    let wanted = format!(
        "a phase margin of {} at {}",
        degrees(wish.phase_margin),
        hertz(wish.crossover)
    );
    let nearest = match short.nearest {
        Some((margin, decibel)) => format!(
            "; what comes nearest, limits aside, has {} there, with |L| at {}",
            degrees(margin),
            rounded(decibel, Unit::Decibel, 2),
        ),
        None => String::new(),
    };
    let Some(enough) = short.enough else {
        return format!(
            "However fast the op amp is, no parts of this shelf keep the {form}'s limits and make {wanted}{nearest}. Another \
             crossover, a wider range or a finer series would make it possible."
        );
    };
    let lower = match short.lower {
        Some(crossover) => format!(", or a crossover of {}", hertz(crossover)),
        None => String::new(),
    };
    format!(
        "The op amp is too slow: with its {} no {form} with up to {MOST_AMPLIFIERS} amplifiers behind it keeps its limits and makes \
         {wanted}{nearest}. An op amp of {}{lower} would make it possible.",
        hertz(short.gain_bandwidth),
        hertz(enough),
    )
}
