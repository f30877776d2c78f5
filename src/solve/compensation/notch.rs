//! Advice on a resonance: the notch of least phase that keeps it quiet.

use std::task::Poll;

use super::search::Search;
use crate::compensation::{Advice, AdviceError, AdviceWork, NotchWish, acts_on};
use crate::design::{AdviceAsk, Design, InputError, StageDesign};
use crate::feedback::{KeptLoop, PlantVariations};
use crate::outcome::{NotchHelp, Outcome};
use crate::plant::Model;
use crate::solve::feedback::ModelledLoop;
use crate::solve::task::{Asked, Before, Blocked, Task, Turn};
use crate::stages::Ask;

/// What the search reads.
#[derive(Clone, PartialEq)]
struct NotchKey {
    kept: KeptLoop,
    wish: NotchWish,
}

/// All that the advice reads.
#[derive(PartialEq)]
pub(in crate::solve) struct NotchReads {
    search: NotchKey,
    /// The stage of the path that is left out.
    replaces: Option<usize>,
}

/// The search for a notch.
pub(in crate::solve) struct NotchAdvice(Search<NotchKey, AdviceWork, Advice, AdviceError>);

impl Task for NotchAdvice {
    const FIELD: &'static str = "help";
    type Reads = NotchReads;
    type Finds = NotchHelp;

    fn reads(asked: &Asked) -> Result<Option<NotchReads>, Blocked> {
        let of = ModelledLoop::reads(asked)?;
        let both = of.zip(asked.design.servo.advice);
        Ok(both.map(|(of, ask)| {
            let replaces = notch_near(asked.design, &of.model, ask);
            let left_out: Vec<usize> = replaces.into_iter().collect();
            NotchReads {
                search: NotchKey {
                    kept: of.without(&left_out, of.sign()),
                    wish: notch_wish(asked.design, ask),
                },
                replaces,
            }
        }))
    }

    fn begin(
        reads: &NotchReads,
        before: Option<Before<NotchAdvice>>,
    ) -> Result<NotchAdvice, Vec<InputError>> {
        let earlier = before.and_then(|before| before.work).map(|work| work.0);
        let begin = |key: &NotchKey| AdviceWork::begin(&key.kept.open(), &key.wish);
        let search = Search::of(&reads.search, earlier, begin);
        Ok(NotchAdvice(search))
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
        variations: PlantVariations {
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
        ask: found.map(|notch| notch.ask(&reads.search.wish)),
        cost_deg: found.map(|notch| notch.cost_deg),
        replaces,
    }
}
