//! Sentences that stages share: what stands between an ask and a circuit, and what would bring it back.

use std::f64::consts::TAU;

use crate::parts::{Bin, OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
pub(super) use crate::wording::{hertz, number};

/// A gain-bandwidth of this many times what the loop uses up is the least that is followed; below, a
/// solution with the real op amp is not to be had.
const LEAST: f64 = 4.0;
/// And this many times is what the trade asks for, so that figures stay where they are put.
const COMFORTABLE: f64 = 10.0;

/// The bin's largest value over its smallest.
pub(super) fn span(bin: &Bin) -> f64 {
    let values = bin.values();
    match (values.first(), values.last()) {
        (Some(low), Some(high)) => high / low,
        _ => 1.0,
    }
}

/// The op amp against the circuit's inner gain, the noise gain of its loop, at a frequency (Hz).
pub(super) fn too_slow(op_amp: &OpAmp, inner: f64, frequency: f64, else_: &str) -> Option<String> {
    (op_amp.gain_bandwidth < LEAST * inner * frequency).then(|| {
        let else_ = if else_.is_empty() {
            String::new()
        } else {
            format!(", {else_}")
        };
        format!(
            "The op amp is too slow: the circuit's inner gain at {} is {}, so a gain-bandwidth of {} is used up at {}. \
             An op amp of {} or more{else_} or a lower frequency would make it possible.",
            hertz(frequency),
            number(inner),
            hertz(op_amp.gain_bandwidth),
            hertz(op_amp.gain_bandwidth / inner),
            rounded(COMFORTABLE * inner * frequency, Unit::Hertz, 2),
        )
    })
}

/// The op amp against a passband that reaches up to a frequency (Hz), where its own roll-off must not
/// lose more than the fraction `limit`.
pub(super) fn passband_too_slow(
    op_amp: &OpAmp,
    noise_gain: f64,
    frequency: f64,
    limit: f64,
) -> Option<String> {
    let loss = ((1.0 - limit.min(0.9)).powi(-2) - 1.0).sqrt();
    let needed = noise_gain * frequency / loss;
    (op_amp.gain_bandwidth < needed).then(|| {
        format!(
            "The op amp is too slow for the passband: at {}, where the gain is judged, its own roll-off loses more than \
             the limit allows. An op amp of {} or more, a wider gain limit, less gain or a lower frequency would make it possible.",
            hertz(frequency),
            rounded(2.0 * needed, Unit::Hertz, 2),
        )
    })
}

/// A circuit whose passband gain is 1, whatever its parts.
pub(super) fn only_unity(gain: f64, limit: f64, instead: &str) -> Option<String> {
    ((gain - 1.0).abs() > limit * gain).then(|| {
        format!(
            "The gain of this circuit is 1, whatever its parts, and {} is required. {instead}, or a gain stage before or \
             after it, would make it possible.",
            number(gain),
        )
    })
}

/// A non-inverting amplifier, 1 + upper/lower, which a shelf of resistors sets.
pub(super) fn amplifier(gain: f64, shelf: &Shelf, instead: &str) -> Option<String> {
    let span = span(&shelf.resistors);
    if gain - 1.0 < 1.0 / span {
        return Some(format!(
            "A gain of {} is out of reach: this circuit amplifies by 1 + a ratio of two resistors, which is more than 1. \
             {instead} would make it possible.",
            number(gain),
        ));
    }
    (gain - 1.0 > span).then(|| {
        format!(
            "A gain of {} is out of reach: it needs two resistors {} apart, and the shelf's are at most {} apart. Less gain \
             or a wider range of resistors would make it possible.",
            number(gain),
            number(gain - 1.0),
            number(span),
        )
    })
}

/// Two capacitors that must be a ratio apart.
pub(super) fn capacitors_apart(
    shelf: &Shelf,
    needed: f64,
    names: &str,
    why: &str,
    else_: &str,
) -> Option<String> {
    let span = span(&shelf.capacitors);
    (needed > span * (1.0 + 1e-9)).then(|| {
        format!(
            "{why} needs {names} of at least {}, and the shelf's capacitors are at most {} apart. {else_}, or a wider range \
             of capacitors, would make it possible.",
            number(needed),
            number(span),
        )
    })
}

/// Two resistors that must be a ratio apart.
pub(super) fn resistors_apart(
    shelf: &Shelf,
    needed: f64,
    names: &str,
    why: &str,
    else_: &str,
) -> Option<String> {
    let span = span(&shelf.resistors);
    (needed > span * (1.0 + 1e-9)).then(|| {
        format!(
            "{why} needs {names} of at least {}, and the shelf's resistors are at most {} apart. {else_}, or a wider range \
             of resistors, would make it possible.",
            number(needed),
            number(span),
        )
    })
}

/// A frequency (Hz) whose time constant no resistor and capacitor of the shelf have.
pub(super) fn off_the_shelf(shelf: &Shelf, frequency: f64) -> Option<String> {
    let product = |pick: fn(&[f64]) -> Option<&f64>| {
        let (r, c) = (shelf.resistors.values(), shelf.capacitors.values());
        Some(1.0 / (TAU * pick(&r)? * pick(&c)?))
    };
    let (highest, lowest) = (product(<[f64]>::first)?, product(<[f64]>::last)?);
    (!(lowest..=highest).contains(&frequency)).then(|| {
        format!(
            "{} is out of the shelf's reach: its resistors and capacitors make frequencies from {} to {}. A wider range of \
             either would make it possible.",
            hertz(frequency),
            hertz(lowest),
            hertz(highest),
        )
    })
}

/// What the trade asks of the op amp in a Sallen–Key circuit.
pub(super) fn sallen_key_op_amp(
    op_amp: &OpAmp,
    frequency: f64,
    q: f64,
    gain: f64,
) -> Option<String> {
    let wanted = 100.0 * q * frequency * gain;
    (op_amp.gain_bandwidth < wanted).then(|| {
        format!(
            "Common practice gives a Sallen–Key stage a gain-bandwidth of 100·Q·f0·gain, here {}; this op amp has {}. \
             Its share is solved for, but it moves from sample to sample and with temperature.",
            hertz(wanted),
            hertz(op_amp.gain_bandwidth),
        )
    })
}

/// What the trade asks of the op amp in a multiple-feedback circuit.
pub(super) fn multiple_feedback_op_amp(
    op_amp: &OpAmp,
    inner: f64,
    frequency: f64,
) -> Option<String> {
    let wanted = COMFORTABLE * inner * frequency;
    (op_amp.gain_bandwidth < wanted).then(|| {
        format!(
            "Common practice leaves ten times the circuit's inner gain, here {}, which is a gain-bandwidth of {}; this op \
             amp has {}. Its share is solved for, but it moves from sample to sample and with temperature.",
            number(inner),
            hertz(wanted),
            hertz(op_amp.gain_bandwidth),
        )
    })
}

/// What an inverting stage does to a loop.
pub(super) fn inverts() -> String {
    "It inverts: in a loop, restore the sign with another inverting stage or at the summing point."
        .to_owned()
}

/// What a capacitor at the input does to what drives it.
pub(super) fn capacitive_input(name: &str) -> String {
    format!(
        "Far above its corner the input is {name} against a low impedance: whatever drives it must stay stable with that \
         load; 100 Ω or so in series helps (common practice)."
    )
}

/// Of several sets of values, the one whose values lie closest together; none when none has only
/// positive values.
pub(super) fn closest<const N: usize>(
    sets: impl IntoIterator<Item = [f64; N]>,
) -> Option<[f64; N]> {
    let spread = |set: &[f64; N]| {
        let high = set.iter().copied().fold(0.0, f64::max);
        let low = set.iter().copied().fold(f64::INFINITY, f64::min);
        high / low
    };
    sets.into_iter()
        .filter(|set| set.iter().all(|v| *v > 0.0 && v.is_finite()))
        .min_by(|a, b| spread(a).total_cmp(&spread(b)))
}

/// √x, also of an x that is a rounding error below zero when compared with `size`.
pub(super) fn root(x: f64, size: f64) -> f64 {
    if x < 0.0 && x > -1e-9 * size {
        return 0.0;
    }
    x.sqrt()
}
