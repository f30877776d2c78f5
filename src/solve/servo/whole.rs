//! The loop as a whole: computed in slices, again only when an input changes, and compared with the present loop.

use super::help::refused;
use super::kept::Kept;
use crate::design::{Design, Summing, WholeAsk, WholeForm};
use crate::outcome::{WholeHelp, WholeNow};
use crate::response::Transfer;
use crate::servo::{
    ControllerForm, Dip, Model, PathStage, PlantStrays, Reader, Reading, RollOff, Whole,
    WholeError, WholeLoop, WholeShop, WholeWish, WholeWork, WishedForm,
};

/// All that the answer hangs on.
#[derive(PartialEq)]
struct WholeKey {
    of: WholeLoop,
    wish: WholeWish,
    shop: WholeShop,
}

/// The answer and the reading of the loop as it is, while they are worked on and as long as they hold.
#[derive(Default)]
pub(super) struct WholeHelper {
    answer: Kept<WholeKey, WholeWork, Whole, WholeError>,
    now: Kept<(WholeLoop, WholeWish), Reader, Reading, WholeError>,
}

impl WholeHelper {
    /// Works until both are there or `go_on` says no; returns whether they are, or not asked for.
    pub fn advance(
        &mut self,
        design: &Design,
        stages: &[&Transfer],
        (plant, sign): (&Model, f64),
        go_on: &mut dyn FnMut() -> bool,
    ) -> bool {
        let Some(ask) = &design.servo.whole else {
            return true;
        };
        let wish = wish(design, ask, plant);
        let of = |keeps: &dyn Fn(usize) -> bool, sign| WholeLoop {
            stages: (0..stages.len().min(design.stages.len()))
                .filter(|place| keeps(*place))
                .map(|place| PathStage {
                    transfer: stages[place].clone(),
                    notch: Dip::of(&design.stages[place].ask),
                })
                .collect(),
            model: plant.clone(),
            sign,
        };
        // How it stands first: that is told at once.
        let now = (of(&|_| true, sign), wish.clone());
        let begin = |(of, wish): &(WholeLoop, WholeWish)| Reader::begin(of.clone(), wish);
        let step = |reader: &mut Reader, _: &mut dyn FnMut() -> bool| reader.step();
        if !self.now.advance(now, begin, step, go_on) {
            return false;
        }
        let key = WholeKey {
            // The sign is brought right at the summing point, so that it does not matter.
            of: of(&|place| !design.stages[place].by_whole, 1.0),
            wish,
            shop: WholeShop {
                shelf: design.shelf.clone(),
                op_amp: design.op_amp.clone(),
            },
        };
        let begin = |key: &WholeKey| WholeWork::begin(key.of.clone(), &key.wish, key.shop.clone());
        self.answer.advance(key, begin, WholeWork::advance, go_on)
    }

    /// What was worked out; none where it is not asked for.
    pub fn told(&self, design: &Design) -> Option<WholeHelp> {
        design.servo.whole.as_ref()?;
        let key = self.answer.key()?;
        let most = match self.answer.answer()? {
            Ok(whole) => whole.most_margin,
            Err(_) => key.wish.phase_margin,
        };
        let mut help = match self.answer.answer()? {
            Ok(whole) => of_whole(whole),
            Err(error) => WholeHelp {
                told: vec![error.to_string()],
                ..WholeHelp::default()
            },
        };
        let earlier = design.stages.iter().enumerate();
        help.replaces = earlier
            .filter(|(_, stage)| stage.by_whole)
            .map(|(place, _)| place)
            .collect();
        if let Some(why) = refused(design, |tried| help.put_in(tried)) {
            help.stages.clear();
            help.holds = false;
            help.told.insert(0, why);
        }
        let is_in = !help.replaces.is_empty();
        help.now = self.now.answer().map(|reading| match reading {
            Ok(reading) => {
                let off = reading.off(&key.wish, most);
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
        Some(help)
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
        strays: PlantStrays {
            frequency: drift.frequency.min(0.5),
            damping: drift.damping.min(0.95),
            gain: drift.gain.min(0.95),
        },
        notch_frequency: ask.notch_frequency,
        notch_q: ask.notch_q,
    }
}
