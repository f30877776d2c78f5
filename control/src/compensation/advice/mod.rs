//! Advice on one resonance: the notch that keeps it down on every plant and costs least phase, or what
//! else would.
//!
//! The plant is a sum over modes, and one of them drifts: L = a + b/z, where z holds the mode's frequency and
//! damping and nothing else. So the largest and the smallest |L| over the whole box of the drift are found at
//! each frequency by circle geometry ([`extreme`]), not by sampling; and as plants and notches stray apart
//! from each other, the worst case of both together is the product of both worst cases ([`notch`]).
//! Gain and phase stabilisation of resonances: Franklin, Powell and Emami-Naeini, "Feedback Control of
//! Dynamic Systems", 10.2, from memory.

use std::task::Poll;

mod crossing;
mod extreme;
mod followed;
mod notch;
mod otherwise;
mod peak;
mod told;
mod top;
mod wish;
mod work;

use serde::{Deserialize, Serialize};

pub(in crate::compensation) use followed::followed;
pub use notch::NotchAdvice;
pub(in crate::compensation) use notch::transfer as notch_transfer;
pub use otherwise::{ByPhase, LowPass, LowerGain, Otherwise};
pub(in crate::compensation) use peak::PeakBox;
pub(in crate::compensation) use top::Topping;
pub use wish::{AdviceError, NotchWish};
pub use work::AdviceWork;

use crate::feedback::OpenLoop;

/// No notch of a lower Q is advised: it would be as wide as the loop.
pub(in crate::compensation) const LEAST_Q: f64 = 0.3;
/// And none of a higher: parts do not hold it.
pub(in crate::compensation) const MOST_Q: f64 = 100.0;

/// What can be done about one resonance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// Where the notch's phase is counted, Hz.
    pub crossover: f64,
    /// Phase margin there without the notch, less that which must be left, degrees.
    pub spare_deg: f64,
    /// From where to where |L| counts as the peak's: the drift and three half-widths more, Hz.
    pub range: (f64, f64),
    /// The level below which |L| must stay there, dB.
    pub level_db: f64,
    /// The largest |L| there without a notch, of all plants, dB.
    pub without_db: f64,
    pub verdict: NotchVerdict,
    /// The notch of the least phase; none where none is needed or none does.
    pub notch: Option<NotchAdvice>,
    /// The complete notch of the least phase.
    pub full_null: Option<NotchAdvice>,
    /// What else would do; none where nothing is needed.
    pub otherwise: Option<Otherwise>,
    /// All of it in sentences.
    pub told: Vec<String>,
}

/// How it stands with a notch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NotchVerdict {
    /// The peak stays below the level as it is.
    NotNeeded,
    /// The notch does, and there is phase enough for it.
    Notch,
    /// The notch does, but costs more phase than there is to spare.
    TooDear,
    /// No notch of a sensible Q does.
    None,
    /// The crossover lies within the peak's range: the level cannot be kept where |L| passes through 1.
    AtCrossover,
}

/// Advice for the loop without the notch, all other stages in place.
///
/// # Errors
/// [`AdviceError`] when the plant is no model, the mode none of its, a number out of range, or the loop
/// without a crossover.
pub fn advise(open: &OpenLoop, wish: &NotchWish) -> Result<Advice, AdviceError> {
    let mut work = AdviceWork::begin(open, wish)?;
    loop {
        if let Poll::Ready(found) = work.step() {
            return found;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feedback::PlantVariations;
    use crate::plant::{Mode, Model, Plant, Rigid};
    use std::f64::consts::TAU;

    pub(super) fn wish() -> NotchWish {
        NotchWish {
            mode: 0,
            variations: PlantVariations {
                frequency: 0.03,
                damping: 0.3,
                gain: 0.1,
            },
            notch_frequency: 0.01,
            notch_q: 0.05,
            level: NotchWish::level_of(6.0),
            crossover: None,
            phase_margin: 45.0,
            sensitivity: 2.0,
        }
    }

    /// An integrator that crosses at 100 Hz with a mode of this height above it, at 1 kHz.
    fn plant(height: f64) -> Model {
        let omega = TAU * 1000.0;
        Model {
            rigid: Some(Rigid::new(1, TAU * 100.0)),
            modes: vec![Mode {
                frequency: 1000.0,
                damping: 0.01,
                residue: height * 0.02 * omega * omega,
                slope: 0.0,
            }],
            ..Model::default()
        }
    }

    fn advice(model: &Model, wish: &NotchWish) -> Result<Advice, AdviceError> {
        let open = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Model(model),
            sign: 1.0,
        };
        advise(&open, wish)
    }

    #[test]
    fn a_low_peak_needs_no_notch_and_a_high_one_gets_it() {
        let low = advice(&plant(0.1), &wish()).expect("advice");
        assert_eq!(low.verdict, NotchVerdict::NotNeeded, "{:?}", low.told);
        let high = advice(&plant(3.0), &wish()).expect("advice");
        assert_eq!(high.verdict, NotchVerdict::Notch, "{:?}", high.told);
        let notch = high.notch.expect("a notch");
        assert!((notch.worst_db - high.level_db).abs() < 1e-3);
        assert!(notch.cost_deg > 0.0 && notch.cost_deg < 20.0);
        assert!(high.full_null.expect("one").cost_deg >= notch.cost_deg);
    }

    #[test]
    fn wishes_out_of_range_are_told_as_such() {
        let model = plant(3.0);
        let with = |change: fn(&mut NotchWish)| {
            let mut wish = wish();
            change(&mut wish);
            advice(&model, &wish).expect_err("refused").to_string()
        };
        assert!(with(|w| w.mode = 7).contains("no mode 8"));
        assert!(with(|w| w.level = f64::NAN).contains("Level"));
        assert!(with(|w| w.notch_q = -1.0).contains("Q"));
        assert!(with(|w| w.variations.damping = 1.0).contains("damping"));
    }
}
