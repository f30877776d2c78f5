//! A controller for a target crossover, as stages.

use std::task::Poll;

use super::put_in::{path_design, refused};
use super::search::Search;
use crate::compensation::{
    BuildError, BuiltLoop, ControllerForm, MOST_AMPLIFIERS, ShapeWish, ShapeWork, Workshop,
};
use crate::design::{Design, InputError, ShapeAsk, ShapeForm, StageDesign, Summing};
use crate::feedback::KeptLoop;
use crate::outcome::{ControllerHelp, Outcome, StageHelp};
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::solve::feedback::ModelledLoop;
use crate::solve::task::{Asked, Before, Blocked, Task, Turn};
use crate::stages::{Ask, Stage, by_id};
use crate::wording::listed;

/// The circuits that are put in the path; a PID, a lead or an amplifier that is there already keeps its own.
const PID: &str = "pid-parallel";
const LEAD: &str = "lead";
const AMPLIFIER: &str = "gain-non-inverting";

/// All inputs of the stages for a target crossover.
#[derive(Clone, PartialEq)]
struct ShapeKey {
    kept: KeptLoop,
    wish: ShapeWish,
    shelf: Shelf,
    op_amp: OpAmp,
    circuits: Circuits,
}

/// The circuits of a PID, of a lead and of amplifiers.
#[derive(Clone, Copy)]
struct Circuits {
    pid: &'static dyn Stage,
    lead: &'static dyn Stage,
    amplifier: &'static dyn Stage,
}

impl PartialEq for Circuits {
    fn eq(&self, other: &Circuits) -> bool {
        let ids = |all: &Circuits| [all.pid, all.lead, all.amplifier].map(|stage| stage.id());
        ids(self) == ids(other)
    }
}

/// All that the answer reads.
#[derive(PartialEq)]
pub(in crate::solve) struct ControllerReads {
    search: ShapeKey,
    ask: ShapeAsk,
    /// What decides whether the stages could be put in its path.
    design: Design,
}

/// The search for a controller.
pub(in crate::solve) struct Controller(Search<ShapeKey, ShapeWork, BuiltLoop, BuildError>);

impl Task for Controller {
    const FIELD: &'static str = "help";
    type Reads = ControllerReads;
    type Finds = ControllerHelp;

    fn reads(asked: &Asked) -> Result<Option<ControllerReads>, Blocked> {
        let of = ModelledLoop::reads(asked)?;
        let design = asked.design;
        let both = of.zip(design.servo.shape);
        Ok(both.and_then(|(of, ask)| {
            let circuits = circuits(design, ask.form)?;
            Some(ControllerReads {
                search: ShapeKey {
                    // The sign is brought right at the summing point, so that it does not matter.
                    kept: of.without(&controllers(design, ask.form), 1.0),
                    wish: shape_wish(ask),
                    shelf: design.shelf.clone(),
                    op_amp: design.op_amp.op_amp(),
                    circuits,
                },
                ask,
                design: path_design(design),
            })
        }))
    }

    fn begin(
        reads: &ControllerReads,
        before: Option<Before<Controller>>,
    ) -> Result<Controller, Vec<InputError>> {
        let earlier = before.and_then(|before| before.work).map(|work| work.0);
        let search = Search::of(&reads.search, earlier, |key| {
            let Circuits {
                pid,
                lead,
                amplifier,
            } = key.circuits;
            let workshop = Workshop {
                shelf: key.shelf.clone(),
                op_amp: key.op_amp.clone(),
                pid,
                lead,
                amplifier,
            };
            ShapeWork::begin(key.kept.clone(), &key.wish, workshop)
        });
        Ok(Controller(search))
    }

    fn advance(
        &mut self,
        reads: &ControllerReads,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<ControllerHelp> {
        match self.0.advance(ShapeWork::advance, go_on) {
            Poll::Ready(built) => Turn::Found(controller(reads, built)),
            Poll::Pending => Turn::More(0.0),
        }
    }

    fn is_same(first: &ControllerHelp, second: &ControllerHelp) -> bool {
        first == second
    }

    fn tell(_: &ControllerReads, found: &ControllerHelp, outcome: &mut Outcome) {
        outcome.help.get_or_insert_default().controller = Some(found.clone());
    }
}

/// Whether a stage is a controller of this form.
fn is_of(form: ShapeForm, ask: &Ask) -> bool {
    match form {
        ShapeForm::Pid => matches!(ask, Ask::Pid(_)),
        ShapeForm::Lead => matches!(ask, Ask::Lead(_)),
    }
}

/// A controller of the path and the amplifiers behind it: one of this form, or else of another.
fn controllers(design: &Design, form: ShapeForm) -> Vec<usize> {
    let asks: Vec<&Ask> = design.stages.iter().map(|stage| &stage.ask).collect();
    let place = |form| asks.iter().position(|ask| is_of(form, ask));
    let other = match form {
        ShapeForm::Pid => ShapeForm::Lead,
        ShapeForm::Lead => ShapeForm::Pid,
    };
    let Some(first) = place(form).or_else(|| place(other)) else {
        return Vec::new();
    };
    let behind = asks[first + 1..].iter();
    let amplifiers = behind
        .take_while(|ask| matches!(ask, Ask::Gain(_)))
        .take(MOST_AMPLIFIERS)
        .count();
    (first..=first + amplifiers).collect()
}

/// The circuits of a PID, of a lead and of amplifiers: those that are there, or the usual ones.
fn circuits(design: &Design, form: ShapeForm) -> Option<Circuits> {
    let there = controllers(design, form);
    let stage = |at: usize| there.get(at).map(|place| &design.stages[*place]);
    let circuit = |own: Option<&StageDesign>, usual: &str| {
        own.and_then(|stage| by_id(&stage.circuit))
            .or_else(|| by_id(usual))
    };
    let controller = |form, usual| circuit(stage(0).filter(|s| is_of(form, &s.ask)), usual);
    Some(Circuits {
        pid: controller(ShapeForm::Pid, PID)?,
        lead: controller(ShapeForm::Lead, LEAD)?,
        amplifier: circuit(stage(1), AMPLIFIER)?,
    })
}

fn shape_wish(ask: ShapeAsk) -> ShapeWish {
    ShapeWish {
        crossover: ask.crossover,
        phase_margin: ask.phase_margin,
        form: match ask.form {
            ShapeForm::Pid => ControllerForm::Pid {
                integrator: ask.integrator,
                roll_off: ask.roll_off,
            },
            ShapeForm::Lead => ControllerForm::LEAD,
        },
    }
}

fn controller(reads: &ControllerReads, built: &Result<BuiltLoop, BuildError>) -> ControllerHelp {
    let (design, ask, circuits) = (&reads.design, reads.ask, &reads.search.circuits);
    let mut help = ControllerHelp {
        replaces: controllers(design, ask.form),
        ..ControllerHelp::default()
    };
    if let Some(first) = help.replaces.first() {
        let there = &design.stages[*first].ask;
        help.is_other = !is_of(ask.form, there);
        help.told
            .extend(left_out(&help.replaces, there, help.is_other));
    }
    let built = match built {
        Ok(built) => built,
        Err(error) => {
            help.told.push(error.to_string());
            return help;
        }
    };
    let controller = match ask.form {
        ShapeForm::Pid => circuits.pid,
        ShapeForm::Lead => circuits.lead,
    };
    let stages = built.stages.iter().enumerate();
    help.stages = stages
        .map(|(at, (ask, gain_db))| StageHelp {
            circuit: match at {
                0 => controller.id().to_owned(),
                _ => circuits.amplifier.id().to_owned(),
            },
            ask: ask.clone(),
            gain_db: *gain_db,
        })
        .collect();
    help.summing = if built.adds {
        Summing::Adds
    } else {
        Summing::Subtracts
    };
    if let Some(why) = refused(design, |tried| help.put_in(tried)) {
        help.stages.clear();
        help.told.push(why);
        return help;
    }
    help.told.extend(told(ask, built));
    help.crossover = Some(built.crossover);
    help.phase_margin = Some(built.phase_margin);
    help
}

/// What is left out of the loop; a controller alone that only gets other values is not worth a word.
fn left_out(places: &[usize], controller: &Ask, is_other: bool) -> Option<String> {
    let name = match controller {
        Ask::Lead(_) => "lead",
        _ => "PID",
    };
    match places {
        [place] if is_other => Some(format!(
            "Stage {} of the path, a {name}, is left out here.",
            place + 1
        )),
        [first, .., last] => {
            let to = if last - first > 1 { "to" } else { "and" };
            Some(format!(
                "Stages {} {to} {} of the path, a {name} and what amplifies behind it, are left out here.",
                first + 1,
                last + 1,
            ))
        }
        _ => None,
    }
}

/// What the stages do.
fn told(ask: ShapeAsk, built: &BuiltLoop) -> Vec<String> {
    let at = rounded(ask.crossover, Unit::Hertz, 4);
    let decibel = |gain: f64| rounded(gain, Unit::Decibel, 3);
    let gains: Vec<String> = built.stages.iter().map(|(_, db)| decibel(*db)).collect();
    let behind = match &gains[1..] {
        [] => String::new(),
        [one] => format!(", and an amplifier of {one} behind it"),
        more => format!(", and amplifiers of {} behind it", listed(more, "and")),
    };
    let form = shape_wish(ask).form.name();
    let mut told = vec![
        format!("A {form} of {} at {at}{behind}.", gains[0]),
        format!(
            "With parts off the shelf and this op amp the loop crosses over at {} with a phase margin of {}.",
            rounded(built.crossover, Unit::Hertz, 4),
            rounded(built.phase_margin, Unit::Degree, 3),
        ),
    ];
    let needed = rounded(built.needed_deg, Unit::Degree, 3);
    told.push(if built.made_up_deg.abs() < 0.05 {
        format!("The {form} makes {needed} of phase there.")
    } else {
        format!(
            "An ideal {form} would make {needed} of phase there; this one is designed for {}, to make up for op amps and rounded parts.",
            rounded(built.needed_deg + built.made_up_deg, Unit::Degree, 3),
        )
    });
    if let Some((peak, _)) = built.margins.sensitivity_peak {
        told.push(format!("The loop's sensitivity then peaks at {peak:.2}."));
    }
    told.extend(built.warnings.iter().cloned());
    told
}
