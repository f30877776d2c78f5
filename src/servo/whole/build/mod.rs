//! Controller, notches and low-pass off the shelf with the real op amp, corrected until the loop holds the wish.
//!
//! Notches are picked first, then the controller for the loop with these very notches in it
//! ([`Attempt`]); then the loop is read with all of them. What real parts leave more of a peak is
//! asked for on top of its level, and what op amps take of the phase on top of the margin, and all is worked
//! out anew, notches and controller together.

use std::f64::consts::FRAC_1_SQRT_2;

use super::bought::{Bought, Buying, circuits};
use super::ground::Ground;
use super::reading::{Reader, Reading, decibels};
use super::replay::Replay;
use super::search::{Candidate, Known};
use super::trial::{Setting, Trial};
use super::tune::{Tuned, tune};
use super::{Dip, PathStage, Role, WholeLoop, WholeStage, WholeWish};
use crate::parts::{OpAmp, Shelf};
use crate::response::Transfer;
use crate::servo::advice::NotchAdvice;
use crate::servo::shaping::attempt::{Attempt, Made, Nearness, Tried};
use crate::servo::{ControllerForm, KeptLoop, NotchWish, ShapeWish, for_ask};
use crate::stages::{Ask, CornerAsk, Depth, PairAsk};

/// What stages are made of.
#[derive(Clone, Debug, PartialEq)]
pub struct WholeShop {
    pub shelf: Shelf,
    pub op_amp: OpAmp,
}

/// Rounds of one candidate at most.
const ROUNDS: u32 = 6;
/// And of one that does not reach the wish with ideal parts either.
const ROUNDS_SHORT: u32 = 3;
/// Less than what the loop may be off, degrees and a fraction of the crossover: nothing is corrected any more, and
/// it is enough.
const NEAR: (f64, f64) = (0.3, 0.003);
const ENOUGH: (f64, f64) = (0.8, 0.008);
/// Levels are asked for so much lower where real parts left too much, as a ratio.
const HAIR: f64 = 0.99;

/// Stages as they are built, and the loop with them.
#[derive(Clone)]
pub(super) struct BuiltWhole {
    pub stages: Vec<WholeStage>,
    /// What the summing point must do, as in [`crate::servo::OpenLoop`].
    pub sign: f64,
    pub reading: Reading,
    /// The worst miss of the picks, in limits.
    pub parts_miss: f64,
    /// How far off the wish, as [`Reading::miss`] has it.
    pub miss: f64,
    /// Up to where the margin may come, degrees.
    pub most_margin: f64,
}

impl BuiltWhole {
    pub fn holds(&self) -> bool {
        self.miss <= 1.0 && self.parts_miss <= 1.0
    }
}

/// One candidate on its way to parts.
pub(super) struct Building {
    candidate: Candidate,
    /// Margin to build for, degrees.
    target: f64,
    most_margin: f64,
    tighter: Vec<f64>,
    /// Asked for on top of the margin, degrees.
    made_up: f64,
    /// Passband gain of each peak's notch as it was last bought.
    passband: Vec<f64>,
    round: u32,
    bought: Vec<Bought>,
    state: State,
    best: Option<BuiltWhole>,
}

enum State {
    Tuning(Replay<Known>),
    Buying(Trial, Vec<Want>, Vec<Bought>, Option<Box<Buying>>),
    Shaping(Trial, Vec<Want>, Vec<Bought>, Box<Attempt>),
    Reading(Trial, Vec<Want>, Vec<Bought>, Box<Made>, Box<Reader>),
    Done,
}

/// A stage beside the controller.
#[derive(Clone)]
struct Want {
    ask: Ask,
    role: Role,
    /// What is wanted relative to the passband.
    dip: Option<Dip>,
    /// The peak's place.
    peak: usize,
}

impl Building {
    pub fn begin(ground: &Ground, candidate: &Candidate) -> Building {
        let wish = &ground.wish;
        let margin = candidate.trial.margin;
        // The most that there is cannot be asked for to the last bit.
        let target = if candidate.reached {
            wish.phase_margin
        } else {
            margin - 0.3
        };
        Building {
            target: if candidate.is_more { margin } else { target },
            most_margin: if candidate.is_more {
                margin.max(wish.phase_margin) + 1.0
            } else {
                wish.phase_margin
            },
            candidate: candidate.clone(),
            tighter: vec![1.0; ground.peaks.len()],
            made_up: 0.0,
            passband: vec![1.0; ground.peaks.len()],
            round: 0,
            bought: Vec::new(),
            state: State::Tuning(Replay::default()),
            best: None,
        }
    }

    /// What real parts took in the end: degrees of phase, and of levels, as a ratio.
    pub fn reserve(&self) -> (f64, f64) {
        let lowest = self.tighter.iter().copied().fold(1.0, f64::min);
        (self.made_up.max(0.0), lowest)
    }

    /// Works until `go_on` says no; gives what came nearest to the wish, if anything could be built.
    pub fn advance(
        &mut self,
        ground: &Ground,
        shop: &WholeShop,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Option<Option<BuiltWhole>> {
        loop {
            match std::mem::replace(&mut self.state, State::Done) {
                State::Tuning(mut replay) => match self.tuned(ground, &mut replay, go_on) {
                    None => {
                        self.state = State::Tuning(replay);
                        return None;
                    }
                    Some(None) => return Some(self.best.take()),
                    Some(Some(trial)) => {
                        let wants = self.wants(ground, &trial);
                        self.state = State::Buying(trial, wants, Vec::new(), None);
                    }
                },
                State::Buying(trial, wants, mut bought, buying) => {
                    if let Some(mut buying) = buying {
                        match buying.advance(&shop.shelf, go_on) {
                            None => {
                                self.state = State::Buying(trial, wants, bought, Some(buying));
                                return None;
                            }
                            Some(None) => return Some(self.best.take()),
                            Some(Some(new)) => bought.push(new),
                        }
                    }
                    self.state = match wants.get(bought.len()) {
                        None => match self.attempt(ground, shop, &trial, &bought) {
                            Some(attempt) => {
                                State::Shaping(trial, wants, bought, Box::new(attempt))
                            }
                            None => return Some(self.best.take()),
                        },
                        Some(want) => {
                            let same = self.bought.iter().find(|old| old.ask == want.ask);
                            if let Some(same) = same {
                                bought.push(same.clone());
                                State::Buying(trial, wants, bought, None)
                            } else {
                                let ask = want.ask.clone();
                                let buying = Buying::begin(ask, &shop.shelf, &shop.op_amp);
                                State::Buying(trial, wants, bought, Some(Box::new(buying)))
                            }
                        }
                    };
                }
                State::Shaping(trial, wants, bought, mut attempt) => {
                    let kept = with(&ground.kept, &bought);
                    match attempt.advance(&kept, &shop.shelf, go_on) {
                        None => {
                            self.state = State::Shaping(trial, wants, bought, attempt);
                            return None;
                        }
                        Some(Tried::Reached(made) | Tried::Short(Some(made))) => {
                            let of = whole(ground, &wants, &bought, &made);
                            let Ok(reader) = Reader::begin(of, &ground.wish) else {
                                return Some(self.best.take());
                            };
                            let (made, reader) = (Box::new(made), Box::new(reader));
                            self.state = State::Reading(trial, wants, bought, made, reader);
                        }
                        Some(Tried::Short(None)) => return Some(self.best.take()),
                    }
                }
                State::Reading(trial, wants, bought, made, mut reader) => match reader.step() {
                    None => self.state = State::Reading(trial, wants, bought, made, reader),
                    Some(Err(_)) => return Some(self.best.take()),
                    Some(Ok(reading)) => {
                        self.judge(ground, &trial, (&wants, &bought), &made, reading);
                        self.bought = bought;
                        self.round += 1;
                        let holds = self.best.as_ref().is_some_and(BuiltWhole::holds);
                        let rounds = if self.candidate.reached {
                            ROUNDS
                        } else {
                            ROUNDS_SHORT
                        };
                        if holds || self.round == rounds {
                            return Some(self.best.take());
                        }
                        self.state = State::Tuning(Replay::default());
                    }
                },
                State::Done => return Some(self.best.take()),
            }
            if !go_on() {
                return None;
            }
        }
    }

    /// Controller and notches of ideal parts for what is asked by now; the inner none where there are none.
    fn tuned(
        &self,
        ground: &Ground,
        replay: &mut Replay<Known>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Option<Option<Trial>> {
        let crossover = ground.wish.crossover;
        let aimed = ground.aimed(crossover, self.target + self.made_up, 1.0);
        let setting = Setting {
            ground,
            aimed: &aimed,
            form: self.candidate.trial.form,
            way: self.candidate.way,
            tighter: &self.tighter,
        };
        match tune(&setting, &mut replay.run(go_on), true) {
            Err(_) => None,
            Ok(Tuned::Reached(trial, _) | Tuned::Short(Some(trial))) => Some(Some(trial)),
            Ok(Tuned::Short(None)) => Some(None),
        }
    }

    /// What is to be bought beside the controller.
    fn wants(&self, ground: &Ground, trial: &Trial) -> Vec<Want> {
        let crossover = ground.wish.crossover;
        let dips = trial.dips.iter().enumerate();
        let mut wants: Vec<Want> = dips
            .filter_map(|(peak, dip)| {
                let dip = (*dip)?;
                Some(Want {
                    ask: notch_ask(&ground.wish, &dip, crossover, self.passband[peak]),
                    role: Role::Notch {
                        mode: ground.peaks[peak].mode,
                    },
                    dip: Some(dip),
                    peak,
                })
            })
            .collect();
        wants.extend(trial.low_pass.map(|low_pass| {
            let frequency = for_ask(low_pass.corner);
            Want {
                ask: match low_pass.order {
                    1 => Ask::LowPass1(CornerAsk {
                        frequency,
                        ..CornerAsk::default()
                    }),
                    _ => Ask::LowPass2(PairAsk {
                        frequency,
                        q: for_ask(FRAC_1_SQRT_2),
                        ..PairAsk::default()
                    }),
                },
                role: Role::LowPass,
                dip: None,
                peak: 0,
            }
        }));
        wants
    }

    fn attempt(
        &self,
        ground: &Ground,
        shop: &WholeShop,
        trial: &Trial,
        bought: &[Bought],
    ) -> Option<Attempt> {
        let kept = with(&ground.kept, bought);
        let form = trial.form;
        let steep = steepness(ground, trial);
        let mut nearness = Nearness {
            near: (NEAR.0, NEAR.1 * steep),
            enough: (ENOUGH.0, ENOUGH.1 * steep),
        };
        // What cannot be had is not waited for.
        let margin = self.target.min(trial.margin - self.made_up);
        if !form.turns() {
            (nearness.near.0, nearness.enough.0) = (f64::INFINITY, f64::INFINITY);
        }
        let wish = ShapeWish {
            crossover: ground.wish.crossover,
            phase_margin: margin,
            form,
        };
        let usual = crate::servo::Controller::of(form, 420.0, trial.phase, 1.0).ask()?;
        let controller = circuits(&usual, preferred(form), &shop.shelf, &shop.op_amp);
        let controller = controller.into_iter().next()?;
        let amplifier = crate::stages::by_id("gain-non-inverting")?;
        let pair = [controller, amplifier];
        // At the end of the form's reach real notches leave too little: then for as much as there is.
        let less = [0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0].map(|less| ShapeWish {
            phase_margin: margin - less,
            ..wish
        });
        let mut attempts = less
            .iter()
            .map(|wish| Attempt::of(pair, &kept, wish, &shop.op_amp, nearness));
        attempts.find_map(|attempt| attempt)
    }

    /// Keeps what is better, and takes what is off into the next round.
    fn judge(
        &mut self,
        ground: &Ground,
        trial: &Trial,
        (wants, bought): (&[Want], &[Bought]),
        made: &Made,
        reading: Reading,
    ) {
        let crossover = ground.wish.crossover;
        let miss = reading.miss(&ground.wish, self.most_margin);
        let parts = bought.iter().map(|b| b.miss).fold(made.miss, f64::max);
        let built = BuiltWhole {
            stages: stages(trial, wants, bought, made, crossover),
            sign: made.sign,
            parts_miss: parts,
            miss,
            most_margin: self.most_margin,
            reading,
        };
        for peak in &built.reading.peaks {
            let place = ground.peaks.iter().position(|p| p.mode == peak.mode);
            let over = peak.worst_db - peak.level_db;
            if let Some(place) = place
                && over > 0.0
            {
                self.tighter[place] *= 10f64.powf(-over / 20.0) * HAIR;
            }
        }
        for (want, bought) in wants.iter().zip(bought) {
            if want.dip.is_some() {
                let passband = bought.transfer.at(0.0).norm();
                if passband.is_normal() {
                    self.passband[want.peak] = passband.clamp(0.1, 1.0);
                }
            }
        }
        // An ideal loop with the phase that the controller was asked for would have so much more margin.
        if trial.form.turns() && made.phase_margin.is_finite() {
            let ideal = trial.margin + made.asked_phase - trial.phase;
            self.made_up = (ideal - made.phase_margin).clamp(-10.0, 40.0);
        }
        let order = |b: &BuiltWhole| (b.miss.max(b.parts_miss), b.stages.len());
        let is_better = self.best.as_ref().is_none_or(|best| {
            let (own, other) = (order(&built), order(best));
            own.0.total_cmp(&other.0).then(own.1.cmp(&other.1)).is_lt()
        });
        if is_better {
            self.best = Some(built);
        }
    }
}

/// By how many nepers |L| falls a neper of frequency at the crossover; not less than half.
fn steepness(ground: &Ground, trial: &Trial) -> f64 {
    const STEP: f64 = 0.005;
    let crossover = ground.wish.crossover;
    let all = trial.transfers(crossover);
    let size = |f: f64| {
        let stages: f64 = all.iter().map(|t| t.at(f).norm()).product();
        ground.kept.open().at(f).norm() * stages
    };
    let fall = (size(crossover * (1.0 - STEP)) / size(crossover * (1.0 + STEP))).ln();
    (fall / (2.0 * STEP)).clamp(0.5, 3.0)
}

/// The circuit that a form opens with, where the catalogue has several.
fn preferred(form: ControllerForm) -> Option<&'static str> {
    match form {
        ControllerForm::Pid { .. } => Some("pid-parallel"),
        ControllerForm::Lead { .. } => Some("lead"),
        _ => None,
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
        strays: wish.strays,
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

/// The loop with these stages in it.
fn with(kept: &KeptLoop, bought: &[Bought]) -> KeptLoop {
    let mut kept = kept.clone();
    kept.stages
        .extend(bought.iter().map(|b| b.transfer.clone()));
    kept
}

fn whole(ground: &Ground, wants: &[Want], bought: &[Bought], made: &Made) -> WholeLoop {
    let mut of = ground.of.clone();
    let mut add = |transfer: &Transfer, notch| {
        of.stages.push(PathStage {
            transfer: transfer.clone(),
            notch,
        });
    };
    made.transfers.iter().for_each(|t| add(t, None));
    for (want, bought) in wants.iter().zip(bought) {
        add(&bought.transfer, Dip::of(&want.ask));
    }
    of.sign = made.sign;
    of
}

/// In signal order: the controller, its amplifiers, notches, low-pass.
fn stages(
    trial: &Trial,
    wants: &[Want],
    bought: &[Bought],
    made: &Made,
    crossover: f64,
) -> Vec<WholeStage> {
    let of = |circuit: &str, ask: &Ask, transfer: &Transfer, role| WholeStage {
        circuit: circuit.to_owned(),
        ask: ask.clone(),
        role,
        gain_db: transfer.magnitude_db(crossover),
        phase_deg: match transfer.low_sign() {
            sign if sign < 0.0 => super::ground::wrapped(transfer.phase_deg(crossover) + 180.0),
            _ => transfer.phase_deg(crossover),
        },
    };
    let own = made.asks.iter().zip(&made.transfers).enumerate();
    let mut all: Vec<WholeStage> = own
        .map(|(at, (ask, transfer))| {
            let (circuit, role) = match at {
                0 => (
                    made.circuits[0],
                    Role::Controller(trial.form.name().to_owned()),
                ),
                _ => (made.circuits[1], Role::Amplifier),
            };
            of(circuit, ask, transfer, role)
        })
        .collect();
    all.extend(wants.iter().zip(bought).map(|(want, bought)| {
        of(
            bought.circuit,
            &bought.ask,
            &bought.transfer,
            want.role.clone(),
        )
    }));
    all
}
