//! A controller's gain shared out among op amps.

use super::{Controller, ControllerForm};

/// A gain-bandwidth of this many times noise gain times frequency leaves a stage what it is asked for
/// (common practice; the stages' own guidance asks for the same).
const ROOM: f64 = 10.0;
/// Amplifiers beside a controller at most.
pub const MOST_AMPLIFIERS: usize = 4;
/// A further amplifier that would have less gain than this in an even share is none.
const LEAST_GAIN: f64 = 2.0;
/// And none amplifies by less than this.
const AMPLIFIES: f64 = 1.1;
/// Where no even share is enough, the controller's is cut down or raised so: inside, its circuit may work at more
/// than its own gain, or at less.
const UNEVEN: [f64; 8] = [0.5, 2.0, 0.25, 4.0, 0.125, 8.0, 0.0625, 16.0];

/// The highest gain of a controller from its crossover on, over that at its crossover (Hz).
fn rise(controller: &Controller, crossover: f64) -> f64 {
    let transfer = controller.transfer();
    let top = match (transfer.num.last(), transfer.den.last()) {
        (Some(num), Some(den)) if transfer.num.len() == transfer.den.len() => num / den,
        _ => 0.0,
    };
    (top / transfer.at(crossover).norm()).max(1.0)
}

/// How a gain is shared out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Split {
    pub amplifiers: usize,
    /// The controller's own gain at the crossover.
    pub own: f64,
}

/// Splits in the order in which they are worth trying. First even ones, in which every op amp works at the same
/// noise gain at the controller's roll-off; this costs little phase, too, as the sum of so many numbers whose
/// product is given is least where all are one size. They begin with as few amplifiers as leave each op amp
/// ten times what it uses up at the roll-off (Hz), given its gain-bandwidth (Hz). Those with fewer, and uneven
/// ones, follow when `all` are wanted.
pub(super) fn splits(
    controller: &Controller,
    crossover: f64,
    gain: f64,
    roll_off: f64,
    gain_bandwidth: f64,
    all: bool,
) -> Vec<Split> {
    let rise = rise(controller, crossover);
    // The highest gain of each stage in an even share.
    let highest = |amplifiers: usize| (gain * rise).powf(1.0 / (amplifiers + 1) as f64);
    let even = |amplifiers: usize| Split {
        amplifiers,
        own: highest(amplifiers) / rise,
    };
    let last = (1..=MOST_AMPLIFIERS)
        .take_while(|amplifiers| highest(*amplifiers) >= LEAST_GAIN)
        .last()
        .unwrap_or(0);
    let has_room =
        |amplifiers: &usize| ROOM * (1.0 + highest(*amplifiers)) * roll_off <= gain_bandwidth;
    let first = (0..last).find(has_room).unwrap_or(last);
    let mut splits: Vec<Split> = (first..=last).map(even).collect();
    if all {
        splits.extend((0..first).rev().map(even));
        for share in UNEVEN {
            let uneven = (1..=last).rev().map(|amplifiers| Split {
                amplifiers,
                own: even(amplifiers).own * share,
            });
            let amplifies =
                |split: &Split| gain > split.own * AMPLIFIES.powi(split.amplifiers as i32);
            splits.extend(uneven.filter(amplifies));
        }
    }
    splits
}

/// Amplifiers beside a controller that makes this phase (degrees) and gain at the crossover (Hz), as they are first
/// tried with an op amp of this gain-bandwidth (Hz).
pub(in crate::compensation) fn amplifiers(
    form: ControllerForm,
    crossover: f64,
    phase: f64,
    gain: f64,
    gain_bandwidth: f64,
) -> usize {
    let controller = Controller::of(form, crossover, phase, gain);
    let top = controller.top();
    let all = splits(&controller, crossover, gain, top, gain_bandwidth, false);
    all.first().map_or(0, |split| split.amplifiers)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_high_gain_is_shared_out_evenly() {
        let controller = Controller::of(ControllerForm::PID, 420.0, 50.0, 1.0);
        let first = |gain, band| splits(&controller, 420.0, gain, 4200.0, band, false)[0];
        assert_eq!(first(1.0, 10e6).amplifiers, 0);
        let shared = first(280.0, 10e6);
        assert_eq!(shared.amplifiers, 1);
        assert!((shared.own * rise(&controller, 420.0) - 280.0 / shared.own).abs() < 1e-9);
        assert_eq!(first(280.0, 1e3).amplifiers, MOST_AMPLIFIERS);
        assert!(first(280.0, 1e6).amplifiers > 1);
        let all = splits(&controller, 420.0, 280.0, 4200.0, 1e3, true);
        assert!(all.len() > 15 && all.iter().any(|split| split.amplifiers == 0));
    }
}
