//! Notch advice for a resonance, and stages for a target crossover: computed in slices, and again only when an input changes.

use super::kept::Kept;
use super::whole::WholeHelper;
use crate::design::{AdviceAsk, Design, ShapeAsk, ShapeForm, StageDesign, Summing, check};
use crate::outcome::{ControllerHelp, HelpOutcome, NotchHelp, StageHelp};
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::response::Transfer;
use crate::servo::{
    Advice, AdviceError, AdviceWork, BuildError, BuiltLoop, ControllerForm, KeptLoop,
    MOST_AMPLIFIERS, Model, NotchWish, PlantStrays, ShapeWish, ShapeWork, Workshop, acts_on,
};
use crate::stages::{Ask, Stage, by_id};

/// The circuits that are put in the path; a PID, a lead or an amplifier that is there already keeps its own.
const PID: &str = "pid-parallel";
const LEAD: &str = "lead";
const AMPLIFIER: &str = "gain-non-inverting";

/// All inputs of the stages for a target crossover.
#[derive(PartialEq)]
struct ShapeKey {
    kept: KeptLoop,
    wish: ShapeWish,
    shelf: Shelf,
    op_amp: OpAmp,
    /// The PID's, the lead's and the amplifiers'.
    circuits: [&'static str; 3],
}

/// The help, with its computation while that runs, kept as long as its inputs are the same.
#[derive(Default)]
pub(super) struct Helper {
    notch: Kept<(KeptLoop, NotchWish), AdviceWork, Advice, AdviceError>,
    controller: Kept<ShapeKey, ShapeWork, BuiltLoop, BuildError>,
    whole: WholeHelper,
}

impl Helper {
    /// Works until all help that the design asks for is there or `go_on` says no; returns whether it is. The
    /// `stages` are the path's, as they are built.
    pub fn advance(
        &mut self,
        design: &Design,
        stages: &[&Transfer],
        plant: &Model,
        sign: f64,
        go_on: &mut dyn FnMut() -> bool,
    ) -> bool {
        if !self.whole.advance(design, stages, (plant, sign), go_on) {
            return false;
        }
        let without = |left_out: &[usize], sign| KeptLoop {
            stages: (0..stages.len())
                .filter(|place| !left_out.contains(place))
                .map(|place| stages[place].clone())
                .collect(),
            model: plant.clone(),
            sign,
        };
        if let Some(ask) = design.servo.advice {
            let replaces = notch_near(design, plant, ask);
            let left_out: Vec<usize> = replaces.into_iter().collect();
            let (kept, wish) = (without(&left_out, sign), notch_wish(design, ask));
            let begin =
                |(kept, wish): &(KeptLoop, NotchWish)| AdviceWork::begin(&kept.open(), wish);
            let step = |work: &mut AdviceWork, _: &mut dyn FnMut() -> bool| work.step();
            if !self.notch.advance((kept, wish), begin, step, go_on) {
                return false;
            }
        }
        if let Some(ask) = design.servo.shape
            && let Some(circuits) = circuits(design, ask.form)
        {
            let key = ShapeKey {
                // The sign is brought right at the summing point, so that it does not matter.
                kept: without(&controllers(design, ask.form), 1.0),
                wish: shape_wish(ask),
                shelf: design.shelf.clone(),
                op_amp: design.op_amp.clone(),
                circuits: circuits.map(Stage::id),
            };
            let begin = |key: &ShapeKey| {
                let [pid, lead, amplifier] = circuits;
                let workshop = Workshop {
                    shelf: key.shelf.clone(),
                    op_amp: key.op_amp.clone(),
                    pid,
                    lead,
                    amplifier,
                };
                ShapeWork::begin(key.kept.clone(), &key.wish, workshop)
            };
            if !self
                .controller
                .advance(key, begin, ShapeWork::advance, go_on)
            {
                return false;
            }
        }
        true
    }

    /// The help that was worked out.
    pub fn told(&self, design: &Design, plant: &Model) -> HelpOutcome {
        let advice = design.servo.advice.zip(self.notch.answer());
        let shaped = design.servo.shape.zip(self.controller.answer());
        HelpOutcome {
            notch: advice.map(|(ask, advice)| notch(design, plant, ask, advice)),
            controller: shaped.map(|(ask, built)| controller(design, ask, built)),
            whole: self.whole.told(design),
        }
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
fn circuits(design: &Design, form: ShapeForm) -> Option<[&'static dyn Stage; 3]> {
    let there = controllers(design, form);
    let stage = |at: usize| there.get(at).map(|place| &design.stages[*place]);
    let circuit = |own: Option<&StageDesign>, usual: &str| {
        own.and_then(|stage| by_id(&stage.circuit))
            .or_else(|| by_id(usual))
    };
    let controller = |form, usual| circuit(stage(0).filter(|s| is_of(form, &s.ask)), usual);
    Some([
        controller(ShapeForm::Pid, PID)?,
        controller(ShapeForm::Lead, LEAD)?,
        circuit(stage(1), AMPLIFIER)?,
    ])
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

fn notch(
    design: &Design,
    plant: &Model,
    ask: AdviceAsk,
    advice: &Result<Advice, AdviceError>,
) -> NotchHelp {
    let replaces = notch_near(design, plant, ask);
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
        ask: found.map(|notch| notch.ask(&notch_wish(design, ask))),
        cost_deg: found.map(|notch| notch.cost_deg),
        replaces,
    }
}

fn controller(
    design: &Design,
    ask: ShapeAsk,
    built: &Result<BuiltLoop, BuildError>,
) -> ControllerHelp {
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
    let circuits = circuits(design, ask.form);
    let [pid, lead, amplifier] = circuits.map_or([PID, LEAD, AMPLIFIER], |all| all.map(Stage::id));
    let controller = match ask.form {
        ShapeForm::Pid => pid,
        ShapeForm::Lead => lead,
    };
    let stages = built.stages.iter().enumerate();
    help.stages = stages
        .map(|(at, (ask, gain_db))| StageHelp {
            circuit: if at == 0 { controller } else { amplifier }.to_owned(),
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

/// Why a path with these stages in it could not be worked on.
pub(super) fn refused(design: &Design, put_in: impl FnOnce(&mut Design)) -> Option<String> {
    let mut tried = design.clone();
    // The plant is the design's own, and was looked at.
    tried.servo.sweep = String::new();
    put_in(&mut tried);
    let errors = check(&tried).err()?;
    let first = errors.into_iter().next()?;
    Some(format!("These stages cannot be put in the path: {first}"))
}

/// What the stages do.
fn told(ask: ShapeAsk, built: &BuiltLoop) -> Vec<String> {
    let at = rounded(ask.crossover, Unit::Hertz, 4);
    let decibel = |gain: f64| rounded(gain, Unit::Decibel, 3);
    let gains: Vec<String> = built.stages.iter().map(|(_, db)| decibel(*db)).collect();
    let behind = match &gains[1..] {
        [] => String::new(),
        [one] => format!(", and an amplifier of {one} behind it"),
        more => format!(", and amplifiers of {} behind it", listed(more)),
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

fn listed(all: &[String]) -> String {
    match all {
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
        [] => String::new(),
    }
}
