//! Advice on a resonance: the notch of least phase that keeps it quiet.

use std::task::Poll;

use super::put_in::Search;
use crate::compensation::{Advice, AdviceError, AdviceWork, NotchWish, acts_on};
use crate::design::{AdviceAsk, Design, InputError, StageDesign};
use crate::feedback::{KeptLoop, PlantStrays};
use crate::outcome::{NotchHelp, Outcome};
use crate::plant::Model;
use crate::solve::feedback::{LoopOf, sign};
use crate::solve::task::{Asked, Before, Blocked, Task, Turn};
use crate::stages::Ask;

/// All that the advice reads.
#[derive(PartialEq)]
pub(in crate::solve) struct NotchReads {
    /// What the search reads.
    kept: KeptLoop,
    wish: NotchWish,
    /// The stage of the path that is left out.
    replaces: Option<usize>,
}

/// The search for a notch.
pub(in crate::solve) struct NotchAdvice(Search<AdviceWork, Advice, AdviceError>);

impl Task for NotchAdvice {
    const FIELD: &'static str = "help";
    type Reads = NotchReads;
    type Finds = NotchHelp;

    fn reads(asked: &Asked) -> Result<Option<NotchReads>, Blocked> {
        let of = LoopOf::with_model(asked)?;
        let both = of.zip(asked.design.servo.advice);
        Ok(both.and_then(|(of, ask)| {
            let replaces = notch_near(asked.design, of.plant.model.as_ref()?, ask);
            let left_out: Vec<usize> = replaces.into_iter().collect();
            Some(NotchReads {
                kept: of.without(&left_out, sign(of.summing))?,
                wish: notch_wish(asked.design, ask),
                replaces,
            })
        }))
    }

    fn begin(
        reads: &NotchReads,
        before: Option<Before<NotchAdvice>>,
    ) -> Result<NotchAdvice, Vec<InputError>> {
        let same = before
            .filter(|before| before.reads.kept == reads.kept && before.reads.wish == reads.wish);
        if let Some(work) = same.and_then(|before| before.work) {
            return Ok(work);
        }
        let begun = AdviceWork::begin(&reads.kept.open(), &reads.wish);
        Ok(NotchAdvice(Search::begin(begun)))
    }

    fn advance(&mut self, reads: &NotchReads, go_on: &mut dyn FnMut() -> bool) -> Turn<NotchHelp> {
        match self.0.advance(|work, _| work.step(), go_on) {
            Poll::Ready(advice) => Turn::Found(notch(reads, advice)),
            Poll::Pending => Turn::More(0.0),
        }
    }

    fn is_same(first: &NotchHelp, second: &NotchHelp) -> bool {
        first == second
    }

    fn tell(_: &NotchReads, found: &NotchHelp, outcome: &mut Outcome) {
        outcome.help.get_or_insert_default().notch = Some(found.clone());
    }
}

/// A notch of the path that acts on the resonance on which advice is asked.
fn notch_near(design: &Design, plant: &Model, ask: AdviceAsk) -> Option<usize> {
    let drift = design.servo.drift.frequency;
    let acts = |stage: &StageDesign| match &stage.ask {
        Ask::Notch(notch) => {
            acts_on(plant, drift, notch.frequency, notch.pole_q()) == Some(ask.mode)
        }
        _ => false,
    };
    design.stages.iter().position(acts)
}

/// The crossover that is asked for, Hz, if one is.
fn asked_crossover(design: &Design) -> Option<f64> {
    let whole = design.servo.whole.as_ref().map(|ask| ask.crossover);
    whole.or_else(|| design.servo.shape.map(|ask| ask.crossover))
}

fn notch_wish(design: &Design, ask: AdviceAsk) -> NotchWish {
    let servo = &design.servo;
    NotchWish {
        mode: ask.mode,
        strays: PlantStrays {
            frequency: servo.drift.frequency,
            damping: servo.drift.damping,
            gain: servo.drift.gain,
        },
        notch_frequency: ask.notch_frequency,
        notch_q: ask.notch_q,
        level: NotchWish::level_of(-ask.level_db),
        crossover: asked_crossover(design),
        phase_margin: servo.asked.phase_margin,
        sensitivity: servo.asked.sensitivity,
    }
}

fn notch(reads: &NotchReads, advice: &Result<Advice, AdviceError>) -> NotchHelp {
    let replaces = reads.replaces;
    let left_out = replaces.map(|place| {
        format!(
            "Stage {0} of the path, a notch on this mode, is left out here: the notch below would take its place and \
             overwrite it.",
            place + 1
        )
    });
    let (told, found) = match advice {
        Ok(advice) => (advice.told.clone(), advice.notch),
        Err(error) => (vec![error.to_string()], None),
    };
    NotchHelp {
        told: left_out.into_iter().chain(told).collect(),
        ask: found.map(|notch| notch.ask(&reads.wish)),
        cost_deg: found.map(|notch| notch.cost_deg),
        replaces,
    }
}
