//! Advice in sentences.

use super::otherwise::{ByPhase, LowPass, LowerGain};
use super::{Advice, NotchAdvice, NotchVerdict, NotchWish, Otherwise};
use crate::wording::{decibel, degrees, hertz, number};

/// What is known, loudest first.
pub(super) fn told(advice: &Advice, wish: &NotchWish) -> Vec<String> {
    let (low, high) = advice.range;
    let range = format!("from {} to {}", hertz(low), hertz(high));
    let level = decibel(advice.level_db);
    let mut told = Vec::new();
    if advice.verdict == NotchVerdict::NotNeeded {
        told.push(format!(
            "No notch is needed: over all plants |L| {range} stays at {} or less, and {level} is the limit.",
            decibel(advice.without_db),
        ));
        return told;
    }
    told.push(format!(
        "Without a notch |L| {range} comes up to {} on the worst plant, and {level} is the limit.",
        decibel(advice.without_db),
    ));
    match (advice.verdict, &advice.notch) {
        (NotchVerdict::AtCrossover, _) => told.push(format!(
            "{} lies within the range of the peak, where |L| passes through 1 whatever the notch: \
             put the crossover elsewhere first.",
            match wish.crossover {
                Some(asked) => format!("The target crossover, {},", hertz(asked)),
                None => format!("The crossover, {},", hertz(advice.crossover)),
            },
        )),
        (_, Some(notch)) => told.extend(of_notch(advice, notch, wish.crossover.is_some())),
        _ => told.push(format!(
            "No notch of a Q of {} or more keeps the level on every plant with every notch: the peak is too high, \
             drifts too far or lies too near to the crossover of {}.",
            super::LEAST_Q,
            hertz(advice.crossover),
        )),
    }
    if advice.crossover > high && advice.level_db < 0.0 {
        told.push(
            "The peak lies below the crossover, where |L| is wanted above 1: keeping it below 1 there opens the \
             loop round the peak."
                .to_owned(),
        );
    }
    if let (true, Some(otherwise)) = (advice.verdict != NotchVerdict::Notch, &advice.otherwise) {
        told.extend(of_otherwise(otherwise, wish, advice.crossover));
    }
    told
}

fn of_notch(advice: &Advice, notch: &NotchAdvice, is_asked: bool) -> Vec<String> {
    let depth = match notch.depth_db {
        Some(db) => format!("{} deep", decibel(db)),
        None => "with a full null".to_owned(),
    };
    let mut told = vec![format!(
        "A notch at {} with a pole Q of {}, {depth}, leaves {} at most, on every plant with every notch.",
        hertz(notch.frequency),
        number(notch.q),
        decibel(notch.worst_db),
    )];
    let whose = if is_asked { "target" } else { "loop's own" };
    let at = format!("{whose} crossover of {}", hertz(advice.crossover));
    let spare = advice.spare_deg;
    told.push(if notch.cost_deg < 0.0 {
        format!(
            "It lies below the {at} and gives {} of phase there, instead of taking any.",
            degrees(-notch.cost_deg),
        )
    } else if advice.verdict == NotchVerdict::Notch {
        format!(
            "It costs {} of phase at the {at}, where {} are to spare.",
            degrees(notch.cost_deg),
            degrees(spare),
        )
    } else if spare > 0.0 {
        format!(
            "But it costs {} of phase at the {at}, and only {} are to spare.",
            degrees(notch.cost_deg),
            degrees(spare),
        )
    } else {
        format!(
            "But it costs {} of phase at the {at}, and the phase margin there already falls {} short.",
            degrees(notch.cost_deg),
            degrees(-spare),
        )
    });
    told
}

fn of_otherwise(otherwise: &Otherwise, wish: &NotchWish, crossover: f64) -> Vec<String> {
    let mut told = vec![
        of_lower(otherwise.lower),
        of_phase(otherwise.phase, 1.0 / wish.sensitivity),
    ];
    let low_passes = otherwise.low_passes.iter();
    told.extend(low_passes.map(|low_pass| of_low_pass(low_pass, crossover)));
    told
}

fn of_lower(lower: LowerGain) -> String {
    let factor = decibel(-20.0 * lower.factor.log10());
    match (lower.crossover, lower.phase_margin) {
        (Some(crossover), Some(margin)) => format!(
            "Without a notch the peak stays below the level with {factor} less gain, which puts the crossover at {}, with \
             a phase margin of {}.",
            hertz(crossover),
            degrees(margin),
        ),
        _ => format!(
            "Without a notch the peak stays below the level with {factor} less gain, which leaves no crossover at all."
        ),
    }
}

/// `least` is how near |1 + L| may come to 0.
fn of_phase(phase: ByPhase, least: f64) -> String {
    let turned = format!(
        "On top of the peak the phase of L runs from {} to {} over the drift, and |1 + L| comes down to {} at {}",
        degrees(phase.phase.0),
        degrees(phase.phase.1),
        number(phase.distance),
        hertz(phase.at),
    );
    match (phase.holds, phase.is_stable) {
        (true, _) => format!(
            "{turned}; {} is required: the peak may stay as it is, kept by its phase.",
            number(least)
        ),
        (false, Some(true)) => format!(
            "{turned}; {} is required: its phase does not keep it.",
            number(least)
        ),
        (false, Some(false)) => {
            format!(
                "{turned}; the loop is unstable without a notch, so its phase does not keep it."
            )
        }
        (false, None) => {
            format!("{turned}; whether the loop is stable without a notch cannot be told.")
        }
    }
}

fn of_low_pass(low_pass: &LowPass, crossover: f64) -> String {
    let order = if low_pass.order == 1 {
        "first"
    } else {
        "second"
    };
    let corner = hertz(low_pass.corner);
    if low_pass.corner > crossover {
        format!(
            "A low-pass of {order} order at {corner} keeps the level; at the crossover it takes {} of phase and {} of \
             gain.",
            degrees(low_pass.cost_deg),
            decibel(-low_pass.loss_db),
        )
    } else {
        format!(
            "A low-pass of {order} order would have to lie at {corner}, below the crossover, and does not help."
        )
    }
}
