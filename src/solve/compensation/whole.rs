//! The loop as a whole: controller and notches together, and compared with the present loop.

use std::task::Poll;

use super::put_in::{path_design, refused};
use super::search::Search;
use crate::compensation::{
    ControllerForm, Dip, PathStage, Reader, Reading, RollOff, Whole, WholeError, WholeLoop,
    WholeShop, WholeWish, WholeWork, WishedForm,
};
use crate::design::{Design, InputError, Summing, WholeAsk, WholeForm};
use crate::feedback::PlantVariations;
use crate::outcome::{Outcome, WholeHelp, WholeNow};
use crate::plant::Model;
use crate::solve::feedback::ModelledLoop;
use crate::solve::task::{Asked, Before, Blocked, Task, Turn};

/// What reading the loop as it is reads.
#[derive(Clone, PartialEq)]
struct NowKey {
    of: WholeLoop,
    wish: WholeWish,
}

/// What the search reads.
#[derive(Clone, PartialEq)]
struct WholeKey {
    /// The loop without the stages that an earlier answer put in.
    of: WholeLoop,
    wish: WholeWish,
    shop: WholeShop,
}

/// All that the answer reads.
#[derive(PartialEq)]
pub(in crate::solve) struct WholeReads {
    now: NowKey,
    search: WholeKey,
    /// What decides whether the stages could be put in its path.
    design: Design,
}

/// The reading of the loop as it is, and the search.
pub(in crate::solve) struct WholeHelper {
    now: Search<NowKey, Reader, Reading, WholeError>,
    /// None before it was begun.
    answer: Option<Search<WholeKey, WholeWork, Whole, WholeError>>,
}

impl Task for WholeHelper {
    const FIELD: &'static str = "help";
    type Reads = WholeReads;
    type Finds = WholeHelp;

    fn reads(asked: &Asked) -> Result<Option<WholeReads>, Blocked> {
        let of = ModelledLoop::reads(asked)?;
        let design = asked.design;
        let both = of.zip(design.servo.whole.as_ref());
        Ok(both.map(|(of, ask)| {
            let (model, wish) = (&of.model, wish(design, ask, &of.model));
            let stages = of.stages();
            let without = |keeps: &dyn Fn(usize) -> bool, sign| WholeLoop {
                stages: (0..stages.len())
                    .filter(|place| keeps(*place))
                    .map(|place| PathStage {
                        transfer: stages[place].clone(),
                        notch: Dip::of(&design.stages[place].ask),
                    })
                    .collect(),
                model: model.clone(),
                sign,
            };
            WholeReads {
                now: NowKey {
                    of: without(&|_| true, of.sign()),
                    wish: wish.clone(),
                },
                search: WholeKey {
                    // The sign is brought right at the summing point, so that it does not matter.
                    of: without(&|place| !design.stages[place].by_whole, 1.0),
                    wish,
                    shop: WholeShop {
                        shelf: design.shelf.clone(),
                        op_amp: design.op_amp.op_amp(),
                    },
                },
                design: path_design(design),
            }
        }))
    }

    fn begin(
        reads: &WholeReads,
        before: Option<Before<WholeHelper>>,
    ) -> Result<WholeHelper, Vec<InputError>> {
        let work = before.and_then(|before| before.work);
        let (now, answer) = work.map_or((None, None), |work| (Some(work.now), work.answer));
        let begin = |key: &NowKey| Reader::begin(key.of.clone(), &key.wish);
        Ok(WholeHelper {
            now: Search::of(&reads.now, now, begin),
            answer,
        })
    }

    fn advance(&mut self, reads: &WholeReads, go_on: &mut dyn FnMut() -> bool) -> Turn<WholeHelp> {
        // How it stands comes first.
        let Poll::Ready(now) = self.now.advance(|reader, _| reader.step(), go_on) else {
            return Turn::More(0.0);
        };
        let begin = |key: &WholeKey| WholeWork::begin(key.of.clone(), &key.wish, key.shop.clone());
        let answer = Search::of(&reads.search, self.answer.take(), begin);
        let answer = self.answer.insert(answer);
        match answer.advance(WholeWork::advance, go_on) {
            Poll::Ready(answer) => Turn::Found(reads.told(answer, now)),
            Poll::Pending => Turn::More(0.0),
        }
    }

    fn is_same(first: &WholeHelp, second: &WholeHelp) -> bool {
        first == second
    }

    fn tell(_: &WholeReads, found: &WholeHelp, outcome: &mut Outcome) {
        outcome.help.get_or_insert_default().whole = Some(found.clone());
    }
}

impl WholeReads {
    fn told(
        &self,
        answer: &Result<Whole, WholeError>,
        now: &Result<Reading, WholeError>,
    ) -> WholeHelp {
        let most = match answer {
            Ok(whole) => whole.most_margin,
            Err(_) => self.search.wish.phase_margin,
        };
        let mut help = match answer {
            Ok(whole) => of_whole(whole),
            Err(error) => WholeHelp {
                told: vec![error.to_string()],
                ..WholeHelp::default()
            },
        };
        let earlier = self.design.stages.iter().enumerate();
        help.replaces = earlier
            .filter(|(_, stage)| stage.by_whole)
            .map(|(place, _)| place)
            .collect();
        if let Some(why) = refused(&self.design, |tried| help.put_in(tried)) {
            help.stages.clear();
            help.holds = false;
            help.told.insert(0, why);
        }
        let is_in = !help.replaces.is_empty();
        help.now = Some(match now {
            Ok(reading) => {
                let off = reading.off(&self.search.wish, most);
                WholeNow {
                    holds: off.is_empty(),
                    off,
                    reading: Some(reading.clone()),
                    is_in,
                }
            }
            Err(error) => WholeNow {
                holds: false,
                off: vec![error.to_string()],
                reading: None,
                is_in,
            },
        });
        help
    }
}

fn of_whole(whole: &Whole) -> WholeHelp {
    WholeHelp {
        told: whole.told.clone(),
        holds: whole.holds,
        stages: whole.stages.clone(),
        summing: if whole.adds {
            Summing::Adds
        } else {
            Summing::Subtracts
        },
        form: whole.form.map(|form| form.name().to_owned()),
        why: whole.form.map(|_| whole.why.clone()),
        reading: whole.reading.clone(),
        ideal_margin: whole.ideal_margin,
        noise_gain_db: whole.noise_gain_db,
        nearest: whole.nearest,
        below_first: whole.below_first,
        runners_up: whole.runners_up.clone(),
        replaces: Vec::new(),
        now: None,
    }
}

fn wish(design: &Design, ask: &WholeAsk, plant: &Model) -> WholeWish {
    let ratio = |decibel: f64| 10f64.powf(decibel / 20.0);
    let (integrator, roll_off) = (ask.integrator, ask.roll_off);
    let drift = design.servo.drift;
    WholeWish {
        crossover: ask.crossover,
        phase_margin: ask.phase_margin,
        levels: (0..plant.modes.len())
            .map(|mode| ratio(ask.level_db(mode)))
            .collect(),
        roll_off: ask.quiet_from.map(|from| RollOff {
            level: ratio(ask.quiet_db),
            from,
        }),
        form: match ask.form {
            WholeForm::Automatic => WishedForm::Automatic {
                integrator,
                roll_off,
            },
            WholeForm::Integrator => WishedForm::This(ControllerForm::Integral),
            WholeForm::Pi => WishedForm::This(ControllerForm::Pi),
            WholeForm::PiRollOff => WishedForm::This(ControllerForm::PiRollOff { roll_off }),
            WholeForm::Pd => WishedForm::This(ControllerForm::Pd { roll_off }),
            WholeForm::Lead => WishedForm::This(ControllerForm::LEAD),
            WholeForm::Pid => WishedForm::This(ControllerForm::Pid {
                integrator,
                roll_off,
            }),
        },
        variations: PlantVariations {
            frequency: drift.frequency.min(0.5),
            damping: drift.damping.min(0.95),
            gain: drift.gain.min(0.95),
        },
        notch_frequency: ask.notch_frequency,
        notch_q: ask.notch_q,
    }
}
