//! A controller made of parts off the shelf with a real op amp, corrected until the loop is as wished.

use std::collections::BTreeMap;
use std::task::Poll;

use super::split::{Split, splits};
use super::{Aim, Controller, ControllerForm, ShapeWish, aim};
use crate::compensation::for_ask;
use crate::feedback::{KeptLoop, OpenLoop};
use crate::parts::{OpAmp, Shelf};
use crate::pick::{IN_A_LOOP, Search};
use crate::response::Transfer;
use crate::stages::{Ask, GainAsk, Model, Stage};

/// What stages can be made of.
#[derive(Clone)]
pub struct Workshop {
    pub shelf: Shelf,
    pub op_amp: OpAmp,
    /// The circuit of a PID.
    pub pid: &'static dyn Stage,
    /// The circuit of a lead.
    pub lead: &'static dyn Stage,
    /// The circuit of each amplifier beside it.
    pub amplifier: &'static dyn Stage,
}

impl Workshop {
    /// The circuit of a controller.
    fn controller(&self, form: ControllerForm) -> Option<&'static dyn Stage> {
        match form {
            ControllerForm::Pid { .. } => Some(self.pid),
            ControllerForm::Lead { .. } => Some(self.lead),
            _ => None,
        }
    }
}

/// How near to the wish is near, degrees and ln |L|.
#[derive(Clone, Copy)]
pub(in crate::compensation) struct Nearness {
    /// Nearer than this nothing is corrected any more.
    pub near: (f64, f64),
    /// And this near is near enough, where the shelf comes no nearer.
    pub enough: (f64, f64),
}

/// The shelf is no finer.
const USUAL: Nearness = Nearness {
    near: (0.5, 0.005),
    enough: (1.5, 0.015),
};
/// What an amplifier amplifies by that is there for a gain's last per cent.
const TRIMMED: f64 = 2.0;
/// Corrections of one split at most.
const ROUNDS: u32 = 5;
/// Kept from the ends of what the form can make, degrees: there a PID's zero runs away to 0 or on to the roll-off.
const FROM_ENDS: f64 = 0.3;

/// One set of stages: the controller and its amplifiers, in signal order.
#[derive(Clone, Debug)]
pub(in crate::compensation) struct Made {
    pub asks: Vec<Ask>,
    /// The controller's and the amplifiers' circuits.
    pub circuits: [&'static str; 2],
    /// With the bought parts and the real op amp.
    pub transfers: Vec<Transfer>,
    /// The worst miss of their picks, in limits.
    pub miss: f64,
    /// What the summing point must do for negative feedback, as in [`OpenLoop`].
    pub sign: f64,
    /// ln |L| at the wanted crossover.
    pub gain_error: f64,
    /// Phase margin there, degrees.
    pub phase_margin: f64,
    /// Phase that an ideal controller of this ask would make, degrees.
    pub asked_phase: f64,
}

impl Made {
    /// How far off the wish, in units of these tolerances.
    fn off(&self, wish: &ShapeWish, near: (f64, f64)) -> f64 {
        let phase = (self.phase_margin - wish.phase_margin).abs() / near.0;
        phase.max(self.gain_error.abs() / near.1)
    }
}

/// How an attempt ended.
pub(in crate::compensation) enum Tried {
    Reached(Made),
    /// What came nearest, if parts could be picked at all.
    Short(Option<Made>),
}

/// One wish with one op amp, in slices.
pub(in crate::compensation) struct Attempt {
    pub wish: ShapeWish,
    pub(super) aim: Aim,
    nearness: Nearness,
    controller: Model,
    amplifier: Model,
    split: Split,
    /// To be tried next, best last.
    others: Vec<Split>,
    /// Added to what an ideal controller makes: degrees, and a factor.
    correction: (f64, f64),
    round: u32,
    making: Made,
    /// For the next of its stages.
    search: Option<Box<Search>>,
    /// Of this split, and of all splits.
    best: Option<Made>,
    nearest: Option<Made>,
}

impl Attempt {
    /// None where the wish is beyond the ideal form, and where a circuit cannot be analysed.
    pub fn begin(kept: &KeptLoop, wish: &ShapeWish, workshop: &Workshop) -> Option<Attempt> {
        let circuits = [workshop.controller(wish.form)?, workshop.amplifier];
        Attempt::of(circuits, kept, wish, &workshop.op_amp, USUAL)
    }

    /// The same with the circuits of a controller and of amplifiers, and as near as is wanted. An ask for the
    /// controller that is no circuit's ends the attempt.
    pub fn of(
        circuits: [&'static dyn Stage; 2],
        kept: &KeptLoop,
        wish: &ShapeWish,
        op_amp: &OpAmp,
        nearness: Nearness,
    ) -> Option<Attempt> {
        let model =
            |circuit: &'static dyn Stage| Model::new(circuit, &circuit.default_ask(), op_amp).ok();
        let circuits = (model(circuits[0])?, model(circuits[1])?);
        let mut attempt = Attempt::with(circuits, kept, wish, op_amp, (true, nearness))?;
        // Where the controller's few parts come no nearer to the gain, an amplifier behind it does.
        let is_alone = |split: &Split| split.amplifiers == 0;
        if is_alone(&attempt.split) && attempt.others.iter().all(is_alone) {
            let own = attempt.aim.gain / TRIMMED;
            attempt.others.insert(0, Split { amplifiers: 1, own });
        }
        Some(attempt)
    }

    /// The same for another wish or op amp; circuits stay expanded, and only even splits are tried.
    pub fn again(&self, kept: &KeptLoop, wish: &ShapeWish, op_amp: &OpAmp) -> Option<Attempt> {
        let models = [&self.controller, &self.amplifier];
        let [controller, amplifier] = models.map(|model| model.with_op_amp(op_amp));
        Attempt::with(
            (controller, amplifier),
            kept,
            wish,
            op_amp,
            (false, self.nearness),
        )
    }

    fn with(
        (controller, amplifier): (Model, Model),
        kept: &KeptLoop,
        wish: &ShapeWish,
        op_amp: &OpAmp,
        (all, nearness): (bool, Nearness),
    ) -> Option<Attempt> {
        let aim = aim(&kept.open(), wish).ok()?;
        let ideal = Controller::of(wish.form, wish.crossover, aim.needed, aim.gain);
        let mut splits = splits(
            &ideal,
            wish.crossover,
            aim.gain,
            ideal.top(),
            op_amp.gain_bandwidth,
            all,
        );
        splits.reverse();
        Some(Attempt {
            wish: *wish,
            nearness,
            controller,
            amplifier,
            split: splits.pop()?,
            others: splits,
            aim,
            correction: (0.0, 1.0),
            round: 0,
            making: Made::nothing(),
            search: None,
            best: None,
            nearest: None,
        })
    }

    /// Works until the attempt has ended or `go_on` says no.
    pub fn advance(
        &mut self,
        kept: &KeptLoop,
        shelf: &Shelf,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<Tried> {
        loop {
            let done = self.making.asks.len();
            if done == self.split.amplifiers + 1 {
                if let Some(tried) = self.judge(kept) {
                    return Poll::Ready(tried);
                }
            } else if let Some(search) = &mut self.search {
                let model = if done == 0 {
                    &self.controller
                } else {
                    &self.amplifier
                };
                if search.advance(model, go_on).is_pending() {
                    return Poll::Pending;
                }
                let picks = search.take().picks;
                self.search = None;
                if let Some(best) = picks.first() {
                    self.making.asks.push(model.ask.clone());
                    self.making.transfers.push(model.transfer(&best.values));
                    self.making.miss = self.making.miss.max(best.rank.miss);
                } else if let Some(tried) = self.give_up() {
                    return Poll::Ready(tried);
                }
            } else if let Some(ask) = self.next_ask() {
                let model = if done == 0 {
                    &mut self.controller
                } else {
                    &mut self.amplifier
                };
                *model = model.with_ask(&ask);
                self.search = Some(Box::new(Search::new(
                    model,
                    shelf,
                    &BTreeMap::new(),
                    IN_A_LOOP,
                )));
            } else if let Some(tried) = self.give_up() {
                return Poll::Ready(tried);
            }
            if !go_on() {
                return Poll::Pending;
            }
        }
    }

    /// What the next stage is asked for; none where no circuit could be.
    fn next_ask(&mut self) -> Option<Ask> {
        let ShapeWish {
            form, crossover, ..
        } = self.wish;
        let done = self.making.asks.len();
        if done == 0 {
            let phase = self.phase();
            let gain = self.split.own * self.correction.1;
            let controller = Controller::of(form, crossover, phase, gain);
            let ask = controller.for_ask().ask()?;
            self.making.asked_phase = phase;
            let is_sound = ask.asked().conflicts().is_empty();
            return is_sound.then_some(ask);
        }
        // What the stages before have left over or taken away is made up for here.
        let made = self.making.transfers.iter();
        let made: f64 = made.map(|stage| stage.at(crossover).norm()).product();
        let left = (self.split.amplifiers + 1 - done) as f64;
        Some(Ask::Gain(GainAsk {
            gain: for_ask((self.aim.gain / made).powf(1.0 / left)),
            frequency: crossover,
            ..GainAsk::default()
        }))
    }

    /// Phase to ask of the controller, degrees.
    fn phase(&self) -> f64 {
        let (low, high) = ControllerForm::reach(&self.wish.form);
        // Near its ends the aim itself may lie closer.
        let apart = match self.wish.form {
            ControllerForm::Lead { .. } | ControllerForm::Pd { .. } => ControllerForm::LEAST_LEAD,
            ControllerForm::Integral => 0.0,
            _ => FROM_ENDS,
        };
        let low = (low + apart).min(self.aim.needed);
        let high = (high - FROM_ENDS).max(self.aim.needed).max(low);
        (self.aim.needed + self.correction.0).clamp(low, high)
    }

    /// Reads the loop with the stages that were made; corrects, or ends.
    fn judge(&mut self, kept: &KeptLoop) -> Option<Tried> {
        let mut made = std::mem::replace(&mut self.making, Made::nothing());
        made.circuits = [&self.controller, &self.amplifier].map(|model| model.stage.id());
        let stages = made.transfers.iter();
        made.sign = stages.fold(self.aim.sign, |sign, stage| sign * stage.low_sign());
        let open = made.open(kept);
        let there = open.at(self.wish.crossover);
        let (gain_error, margin) = (there.norm().ln(), (-there).arg().to_degrees());
        (made.gain_error, made.phase_margin) = (gain_error, margin);
        let lacks = self.wish.phase_margin - margin;
        let holds = made.miss <= 1.0;
        if holds && made.off(&self.wish, self.nearness.near) <= 1.0 {
            return Some(Tried::Reached(made));
        }
        let (wish, nearness) = (self.wish, self.nearness);
        let off = |made: &Made| (made.miss > 1.0, made.off(&wish, nearness.near));
        if (self.best.as_ref()).is_none_or(|best| off(&made) < off(best)) {
            self.best = Some(made);
        }
        let before = self.phase();
        self.round += 1;
        self.correction.0 += lacks;
        if self.split.amplifiers == 0 {
            self.correction.1 *= (-gain_error).exp();
        }
        // At its end the controller has no more to give.
        let is_spent = lacks > nearness.enough.0 && self.phase() <= before + 1e-6;
        if self.round < ROUNDS && holds && !is_spent {
            return None;
        }
        if let Some(best) = self
            .best
            .take_if(|best| best.miss <= 1.0 && best.off(&wish, nearness.enough) <= 1.0)
        {
            return Some(Tried::Reached(best));
        }
        self.give_up()
    }

    /// On to another split, or the end.
    fn give_up(&mut self) -> Option<Tried> {
        let (wish, nearness) = (self.wish, self.nearness);
        let both = self.best.take().into_iter().chain(self.nearest.take());
        let off = |made: &Made| (made.miss > 1.0, made.off(&wish, nearness.near));
        self.nearest = both.min_by(|a, b| {
            let (a, b) = (off(a), off(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        (self.making, self.round, self.correction) = (Made::nothing(), 0, (0.0, 1.0));
        match self.others.pop() {
            Some(next) => {
                self.split = next;
                None
            }
            None => Some(Tried::Short(self.nearest.take())),
        }
    }
}

impl Made {
    fn nothing() -> Made {
        Made {
            asks: Vec::new(),
            circuits: [""; 2],
            transfers: Vec::new(),
            miss: 0.0,
            sign: 1.0,
            gain_error: f64::NAN,
            phase_margin: f64::NAN,
            asked_phase: f64::NAN,
        }
    }

    /// The loop with these stages in it.
    pub fn open<'a>(&'a self, kept: &'a KeptLoop) -> OpenLoop<'a> {
        let mut open = kept.open();
        open.sign = self.sign * kept.sign.abs();
        open.stages.extend(&self.transfers);
        open
    }
}
