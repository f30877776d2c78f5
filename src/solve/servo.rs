//! The plant and the loop round it.

mod boards;
mod help;
mod kept;
mod looped;
mod motion;
mod plant;
mod supply;
mod whole;

use crate::design::{Design, ServoDesign, Summing};
use crate::outcome::{HelpOutcome, MotionOutcome, PlantOutcome, ServoOutcome, SupplyOutcome};
use crate::response::Transfer;
use crate::servo::{
    FitWork, Fitted, LoopRun, Model, OpenLoop, Plant, PlantUnits, Sweep, Traced, sweep, trace_whole,
};

use super::line::Line;
use help::Helper;

pub(super) use boards::{models, summarise};

/// What the summing point makes of the loop's sign.
fn sign(design: &Design) -> f64 {
    match design.servo.summing {
        Summing::Subtracts => 1.0,
        Summing::Adds => -1.0,
    }
}

/// The path's stages with the bought parts and the real op amp; none before all are described.
fn as_built(lines: &[Line]) -> Option<Vec<&Transfer>> {
    let stages = lines.iter();
    stages
        .map(|line| Some(&line.found.as_ref()?.transfers[2]))
        .collect()
}

/// The plant while it is worked on: read and fitted once, not at every keystroke.
pub(super) struct Bench {
    /// What it was read and fitted from.
    key: ServoDesign,
    sweep: Option<Sweep>,
    fit: Fit,
    helper: Helper,
    /// The whole curve of the loop with the model, from [`Bench::describe`] on.
    traced: Option<Vec<Traced>>,
}

enum Fit {
    /// No sweep, or a model that is used as it stands.
    None,
    Working(Box<FitWork>),
    Fitted(Box<Fitted>),
    /// Why there is no model.
    Failed(String),
}

impl Bench {
    /// Reads a design's plant, taking over from `before` what still holds; none where there is no plant.
    pub fn new(design: &Design, before: Option<Bench>) -> Option<Bench> {
        let servo = &design.servo;
        if !servo.has_plant() {
            return None;
        }
        let same = |key: &ServoDesign| {
            key.sweep == servo.sweep && key.fit == servo.fit && key.model == servo.model
        };
        if let Some(before) = before.filter(|bench| same(&bench.key)) {
            return Some(before);
        }
        let sweep = (!servo.sweep.is_empty()).then(|| sweep::read(&servo.sweep, None).sweep);
        let fit = match &sweep {
            Some(sweep) if servo.model.is_none() => match FitWork::begin(sweep, &servo.fit) {
                Ok(work) => Fit::Working(Box::new(work)),
                Err(error) => Fit::Failed(error.to_string()),
            },
            _ => Fit::None,
        };
        Some(Bench {
            key: servo.clone(),
            sweep,
            fit,
            helper: Helper::default(),
            traced: None,
        })
    }

    /// Fits on until that is done or `go_on` says no. Returns whether it is done.
    pub fn advance(&mut self, go_on: &mut dyn FnMut() -> bool) -> bool {
        let Fit::Working(work) = &mut self.fit else {
            return true;
        };
        while work.step() {
            if !go_on() {
                return false;
            }
        }
        if let Fit::Working(work) = std::mem::replace(&mut self.fit, Fit::None) {
            self.fit = Fit::Fitted(Box::new(work.into_fitted()));
        }
        true
    }

    /// The model in use.
    pub fn model(&self) -> Option<&Model> {
        match (&self.key.model, &self.fit) {
            (Some(model), _) => Some(model),
            (None, Fit::Fitted(fitted)) => Some(&fitted.model),
            _ => None,
        }
    }

    /// Plant and loop, with stages that are all described. What comes after reads the curve that is traced here.
    pub fn describe(&mut self, design: &Design, lines: &[Line]) -> ServoOutcome {
        let found: Vec<_> = lines
            .iter()
            .filter_map(|line| line.found.as_ref())
            .collect();
        let sign = sign(design);
        let open = |plant| OpenLoop {
            stages: found.iter().map(|found| &found.transfers[2]).collect(),
            plant,
            sign,
        };
        let measured = self.sweep.as_ref().map(|sweep| open(Plant::Sweep(sweep)));
        let modelled = self.model().map(|model| open(Plant::Model(model)));
        let traced = [&measured, &modelled].map(|open| open.as_ref().map(trace_whole));
        let outcome = |open: &Option<OpenLoop>, traced: &Option<Vec<Traced>>| {
            let both = open.as_ref().zip(traced.as_ref());
            both.map(|(open, traced)| looped::describe(open, traced, &design.servo.asked))
        };
        let measured_outcome = outcome(&measured, &traced[0]);
        let modelled_outcome = outcome(&modelled, &traced[1]);
        let told = modelled_outcome.as_ref().or(measured_outcome.as_ref());
        let best = modelled.as_ref().or(measured.as_ref());
        let titles: Vec<&str> = found.iter().map(|f| f.outcome.title.as_str()).collect();
        let outcome = ServoOutcome {
            plant: self.plant(&design.servo.units),
            asked: design.servo.asked,
            budget: best
                .zip(told)
                .and_then(|(open, told)| looped::budget(open, told, &titles, &design.servo.units)),
            warnings: best.zip(told).map_or_else(Vec::new, |(open, told)| {
                looped::warnings(open, told, &design.servo.asked)
            }),
            spread: None,
            measured: measured_outcome,
            modelled: modelled_outcome,
        };
        let [_, modelled] = traced;
        self.traced = modelled;
        outcome
    }

    /// The closed loop in time; none without a model.
    pub fn motion(&self, design: &Design, lines: &[Line]) -> Option<MotionOutcome> {
        let open = OpenLoop {
            stages: as_built(lines)?,
            plant: Plant::Model(self.model()?),
            sign: sign(design),
        };
        let traced = self.traced.as_ref()?;
        let decision = match &self.fit {
            Fit::Fitted(fitted) => fitted.decision.as_ref(),
            _ => None,
        };
        Some(motion::describe(&open, traced, &design.servo, decision))
    }

    /// Works on help with the loop until it is there or `go_on` says no. Returns whether it is, or none is to
    /// be had.
    pub fn advance_help(
        &mut self,
        design: &Design,
        lines: &[Line],
        go_on: &mut dyn FnMut() -> bool,
    ) -> bool {
        let (Some(stages), Some(model)) = (as_built(lines), self.model().cloned()) else {
            return true;
        };
        let sign = sign(design);
        self.helper.advance(design, &stages, &model, sign, go_on)
    }

    /// The help that was worked out, where it is asked for and there is a model.
    pub fn help(&self, design: &Design) -> Option<HelpOutcome> {
        let servo = &design.servo;
        if servo.advice.is_none() && servo.shape.is_none() && servo.whole.is_none() {
            return None;
        }
        Some(self.helper.told(design, self.model()?))
    }

    /// The supply's lines on the plant's modes, where there is a supply and a model; `is_stable` says whether the
    /// loop with the model is.
    pub fn supply(
        &self,
        design: &Design,
        lines: &[Line],
        is_stable: bool,
    ) -> Option<SupplyOutcome> {
        let (supply, model) = (design.servo.supply.as_ref()?, self.model()?);
        let open = OpenLoop {
            stages: as_built(lines)?,
            plant: Plant::Model(model),
            sign: sign(design),
        };
        let drift = design.servo.drift.frequency;
        let units = &design.servo.units;
        Some(supply::describe(
            supply, &open, model, drift, is_stable, units,
        ))
    }

    /// The run over boards and plants; none without a model.
    pub fn run(&self, design: &Design, lines: &[Line]) -> Option<LoopRun> {
        boards::prepare(design, lines, self.model()?, self.traced.as_ref()?)
    }

    fn plant(&self, units: &PlantUnits) -> PlantOutcome {
        let (fitted, unfitted) = match &self.fit {
            Fit::Fitted(fitted) => (Some((**fitted).clone()), None),
            Fit::Failed(why) => (None, Some(why.clone())),
            _ => (None, None),
        };
        plant::describe(self.sweep.as_ref(), self.model(), fitted, unfitted, units)
    }
}
