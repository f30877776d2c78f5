//! What is to be bought for a controller of ideal parts: its notches, and its low-pass.

use std::f64::consts::FRAC_1_SQRT_2;

use crate::compensation::whole::bought::Bought;
use crate::compensation::whole::ground::Ground;
use crate::compensation::whole::reading::decibels;
use crate::compensation::whole::trial::Trial;
use crate::compensation::whole::{Dip, Role, WholeWish};
use crate::compensation::{LowPass, NotchAdvice, NotchWish, for_ask};
use crate::stages::{Ask, CornerAsk, Depth, PairAsk};

/// A trial on its way to parts.
pub(super) struct Plan {
    pub trial: Trial,
    /// In signal order.
    pub wants: Vec<Want>,
    /// What was bought for the first of them.
    pub bought: Vec<Bought>,
}

/// A stage beside the controller.
#[derive(Clone)]
pub(super) struct Want {
    pub ask: Ask,
    pub role: Role,
    /// The place of the peak that a notch is there for.
    pub peak: Option<usize>,
}

impl Plan {
    /// Nothing bought yet; `passband` is the gain in the passband of each peak's notch as it was last bought.
    pub fn of(ground: &Ground, trial: Trial, passband: &[f64]) -> Plan {
        let crossover = ground.wish.crossover;
        let dips = trial.dips.iter().enumerate();
        let notch = |(peak, dip): (usize, &Option<Dip>)| {
            Some(Want {
                ask: notch_ask(&ground.wish, dip.as_ref()?, crossover, passband[peak]),
                role: Role::Notch {
                    mode: ground.peaks[peak].mode,
                },
                peak: Some(peak),
            })
        };
        let mut wants: Vec<Want> = dips.filter_map(notch).collect();
        wants.extend(trial.low_pass.map(|low_pass| Want {
            ask: low_pass_ask(&low_pass),
            role: Role::LowPass,
            peak: None,
        }));
        Plan {
            trial,
            wants,
            bought: Vec::new(),
        }
    }

    /// What was bought, each for its want.
    pub fn pairs(&self) -> impl Iterator<Item = (&Want, &Bought)> {
        self.wants.iter().zip(&self.bought)
    }
}

/// A low-pass of Butterworth's.
fn low_pass_ask(low_pass: &LowPass) -> Ask {
    let frequency = for_ask(low_pass.corner);
    match low_pass.order {
        1 => Ask::LowPass1(CornerAsk {
            frequency,
            ..CornerAsk::default()
        }),
        _ => Ask::LowPass2(PairAsk {
            frequency,
            q: for_ask(FRAC_1_SQRT_2),
            ..PairAsk::default()
        }),
    }
}

/// A notch that leaves this relative to its passband gain. Its limits are the spread that was allowed for.
fn notch_ask(wish: &WholeWish, dip: &Dip, crossover: f64, passband: f64) -> Ask {
    let advice = NotchAdvice {
        frequency: dip.frequency,
        q: dip.q,
        depth_db: (dip.gain > 1e-3).then(|| -decibels(dip.gain)),
        cost_deg: dip.cost(crossover),
        loss_db: decibels(dip.size(crossover)),
        worst_db: 0.0,
    };
    let mut ask = advice.ask(&NotchWish {
        mode: 0,
        variations: wish.variations,
        notch_frequency: wish.notch_frequency.max(1e-3),
        notch_q: wish.notch_q.max(1e-3),
        level: 1.0,
        crossover: None,
        phase_margin: wish.phase_margin,
        sensitivity: 1.0,
    });
    // The depth counts from the input, and the passband takes its part of it.
    if let Depth::Decibel(depth) = ask.depth {
        ask.depth = Depth::Decibel(for_ask((depth - decibels(passband)).min(100.0)));
    }
    Ask::Notch(ask)
}
