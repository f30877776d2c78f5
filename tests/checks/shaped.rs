//! Stages for a wanted crossover and margin, as they are put in the path: the whole design is solved anew with
//! them in it and its loop read; and where none are said to do, sets of parts are tried by brute force.

use std::f64::consts::TAU;
use std::task::Poll;

use num_complex::Complex64;
use polewright::compensation::{
    BuildError, BuiltShort, ControllerForm, ShapeWish, ShapeWork, Workshop, shape,
};
use polewright::design::{AdviceAsk, Design, ShapeAsk, ShapeForm, StageDesign};
use polewright::feedback::KeptLoop;
use polewright::outcome::{ControllerHelp, Outcome, StageHelp};
use polewright::parts::{DataSheet, OpAmp};
use polewright::pick::IN_A_LOOP;
use polewright::plant::{Mode, Model, Rigid, sweep};
use polewright::response::Transfer;
use polewright::stages::{self, Ask, GainAsk, NotchAsk, Stage, by_id};

use super::designs::{bought, help_is_kept, modelled, parts_hold, quiet, slices_of_help, solved};
use super::draw::Draw;

impl Draw {
    /// A mass, a velocity, or a mass on a spring, that needs about `gain` at the crossover (Hz).
    fn plant_of_gain(&mut self, crossover: f64, gain: f64) -> Model {
        let omega = TAU * crossover;
        let size = self.one_of(2) as f64 * 2.0 - 1.0;
        let delay = self.even(0.0, 0.05) / omega;
        let rigid = |integrators: u32| Model {
            rigid: Some(Rigid::new(
                integrators,
                size / gain * omega.powi(integrators as i32),
            )),
            delay,
            ..Model::default()
        };
        match self.one_of(3) {
            0 => rigid(2),
            // An actuator's lag takes most of the phase that is left.
            1 => Model {
                lag: Some(crossover * self.corner(0.1, 0.5)),
                ..rigid(1)
            },
            _ => Model {
                modes: vec![Mode {
                    frequency: crossover * self.corner(0.02, 0.3),
                    damping: self.corner(0.02, 0.5),
                    residue: size / gain * omega * omega,
                    slope: 0.0,
                }],
                rigid: None,
                delay,
                ..Model::default()
            },
        }
    }
}

/// A path of one notch, far above the crossover.
fn path(crossover: f64) -> Vec<StageDesign> {
    vec![StageDesign {
        ask: Ask::Notch(NotchAsk {
            frequency: 12.0 * crossover,
            ..NotchAsk::default()
        }),
        ..StageDesign::default()
    }]
}

fn design(model: Model, ask: ShapeAsk, gain_bandwidth: f64) -> Design {
    let of_path = Design {
        stages: path(ask.crossover),
        op_amp: DataSheet {
            gain_bandwidth,
            ..DataSheet::default()
        },
        ..Design::default()
    };
    let mut design = quiet(of_path, 100);
    design.servo.model = Some(model);
    design.servo.shape = Some(ask);
    design
}

fn controller(outcome: &Outcome) -> &ControllerHelp {
    let help = outcome.help.as_ref().expect("help");
    help.controller.as_ref().expect("a controller")
}

/// Puts the stages in, solves again, and holds the loop against the ask and against what was promised.
fn hold(design: &mut Design, what: &str) {
    let ask = design.servo.shape.expect("an ask");
    let before = solved(design);
    let help = controller(&before);
    help.put_in(design);
    let after = solved(design);
    let margins = &modelled(&after).margins;
    let off = |f: f64| (f / ask.crossover).ln().abs();
    let crossings = margins.gain_crossings.iter();
    let own = crossings.min_by(|a, b| off(a.frequency).total_cmp(&off(b.frequency)));
    let own = own.expect("a crossing");
    assert!(
        (own.frequency / ask.crossover - 1.0).abs() < 0.02,
        "{what}: {}",
        own.frequency
    );
    assert!(
        (own.phase_margin - ask.phase_margin).abs() < 2.0,
        "{what}: {}",
        own.phase_margin
    );
    // The parts that were tried are those that are picked.
    let promised = (
        help.crossover.expect("one"),
        help.phase_margin.expect("one"),
    );
    assert!((promised.0 / own.frequency - 1.0).abs() < 1e-9, "{what}");
    assert!((promised.1 - own.phase_margin).abs() < 1e-7, "{what}");
    let warnings = &after.servo.as_ref().expect("a loop").warnings;
    assert!(
        !warnings.iter().any(|w| w.contains("Positive")),
        "{what}: {warnings:?}"
    );
    assert_eq!(
        modelled(&after).unstable_poles > Some(0),
        help.told.iter().any(|told| told.contains("unstable")),
        "{what}"
    );
    parts_hold(&after, what);
}

/// How many random loops were held against their asks, with amplifiers, with a fast op amp, with inverting
/// amplifiers.
fn hold_random_loops(form: ShapeForm, seed: u64, there: &[(&str, Ask)]) -> [usize; 4] {
    let mut draw = Draw::new(seed);
    let (mut held, mut amplified, mut fast, mut inverting) = (0, 0, 0, 0);
    for number in 0..24 {
        let crossover = draw.corner(30.0, 4000.0);
        let gain = draw.corner(0.3, 1500.0);
        let ask = ShapeAsk {
            form,
            crossover,
            phase_margin: draw.even(30.0, 60.0),
            ..ShapeAsk::default()
        };
        let gain_bandwidth = draw.corner(1e6, 30e6);
        let mut design = design(draw.plant_of_gain(crossover, gain), ask, gain_bandwidth);
        for (circuit, ask) in there.iter().take(draw.one_of(3) as usize).rev() {
            let stage = StageDesign {
                circuit: (*circuit).to_owned(),
                ask: ask.clone(),
                ..StageDesign::default()
            };
            design.stages.insert(0, stage);
        }
        let first = solved(&design);
        let help = controller(&first);
        if help.stages.is_empty() {
            continue;
        }
        let inverts = |stage: &StageHelp| stage.circuit == "gain-inverting";
        inverting += usize::from(help.stages.iter().any(inverts));
        amplified += usize::from(help.stages.len() > 1);
        fast += usize::from(gain_bandwidth > 10e6);
        hold(&mut design, &format!("{number}"));
        // What was put in is found again, and left out.
        let again = solved(&design);
        assert_eq!(
            controller(&again).replaces,
            (0..help.stages.len()).collect::<Vec<_>>()
        );
        assert_eq!(controller(&again).stages, help.stages, "{number}");
        assert!(!controller(&again).is_other);
        held += 1;
    }
    [held, amplified, fast, inverting]
}

#[test]
fn random_loops_are_as_asked_with_real_parts() {
    // A PID that is there already keeps its circuit, and so does an amplifier; these invert.
    let there = [
        ("pid-one-op-amp", Ask::Pid(stages::PidAsk::default())),
        ("gain-inverting", Ask::Gain(GainAsk::default())),
    ];
    let told = hold_random_loops(ShapeForm::Pid, 31, &there);
    let [held, amplified, fast, inverting] = told;
    assert!(
        held >= 12 && amplified >= 5 && fast >= 2 && inverting >= 2,
        "{told:?}"
    );
}

#[test]
fn random_loops_are_as_asked_with_a_real_lead() {
    // Another circuit for a lead is kept, and so is an inverting amplifier.
    let there = [
        (
            "lead-two-op-amps",
            Ask::Lead(stages::PoleZeroAsk::default()),
        ),
        ("gain-inverting", Ask::Gain(GainAsk::default())),
    ];
    let told = hold_random_loops(ShapeForm::Lead, 33, &there);
    let [held, amplified, fast, inverting] = told;
    assert!(
        held >= 12 && amplified >= 5 && fast >= 2 && inverting >= 2,
        "{told:?}"
    );
}

/// A lead takes the place of the PID that was put in before, and of what amplifies behind it; and back.
#[test]
fn one_form_takes_the_place_of_the_other() {
    let mut design = quiet(Design::default(), 100);
    design.servo.sweep = sweep::DEMO.to_owned();
    design.servo.shape = Some(ShapeAsk::default());
    hold(&mut design, "the PID");
    let notch = design.stages.last().cloned();
    for form in [ShapeForm::Lead, ShapeForm::Pid] {
        let ask = ShapeAsk {
            form,
            ..ShapeAsk::default()
        };
        design.servo.shape = Some(ask);
        let before = solved(&design);
        assert!(controller(&before).is_other);
        assert_eq!(controller(&before).replaces.len(), design.stages.len() - 1);
        hold(&mut design, "the other");
        let is_lead = matches!(design.stages[0].ask, Ask::Lead(_));
        assert_eq!(is_lead, form == ShapeForm::Lead);
        assert_eq!(design.stages.last().cloned(), notch);
    }
}

/// From the demo's sweep to a loop that holds from board to board, by two clicks each on the help.
#[test]
fn the_demo_comes_to_a_loop_that_holds() {
    let mut design = quiet(Design::default(), 1000);
    design.servo.sweep = sweep::DEMO.to_owned();
    design.servo.shape = Some(ShapeAsk::default());
    hold(&mut design, "the PID");
    design.servo.advice = Some(AdviceAsk::default());
    let outcome = solved(&design);
    let kept = |outcome: &Outcome| {
        let servo = outcome.servo.as_ref().expect("a loop");
        servo.spread.as_ref().expect("boards").phase_kept.fraction
    };
    let help = outcome.help.as_ref().and_then(|help| help.notch.as_ref());
    help.expect("a notch").put_in(&mut design, "mfb-notch");
    hold(&mut design, "with the notch");
    let outcome = solved(&design);
    assert!(kept(&outcome) > 0.9, "{}", kept(&outcome));
    assert_eq!(modelled(&outcome).unstable_poles, Some(0));
    assert_eq!(controller(&outcome).stages.len(), 2);
}

/// Help in slices is the same as in one go, and not worked out again where nothing of it has changed.
#[test]
fn help_is_kept_from_keystroke_to_keystroke() {
    let mut design = quiet(Design::default(), 100);
    design.servo.sweep = sweep::DEMO.to_owned();
    design.servo.shape = Some(ShapeAsk::default());
    design.servo.advice = Some(AdviceAsk::default());
    let mut work = help_is_kept(&mut design);
    let whole = work.outcome().help;
    design.servo.shape = Some(ShapeAsk {
        phase_margin: 52.0,
        ..ShapeAsk::default()
    });
    work.change(&design).expect("a design");
    slices_of_help(&mut work);
    assert_eq!(work.outcome().help, solved(&design).help);
    assert_ne!(work.outcome().help, whole);
}

fn workshop(gain_bandwidth: f64, controller: &str) -> Workshop {
    let circuit = by_id(controller).expect("a controller");
    let is_lead = matches!(circuit.default_ask(), Ask::Lead(_));
    Workshop {
        shelf: polewright::parts::Shelf::default(),
        op_amp: OpAmp {
            gain_bandwidth,
            ..OpAmp::default()
        },
        pid: if is_lead {
            by_id("pid-parallel").expect("a PID")
        } else {
            circuit
        },
        lead: if is_lead {
            circuit
        } else {
            by_id("lead").expect("a lead")
        },
        amplifier: by_id("gain-non-inverting").expect("an amplifier"),
    }
}

/// A controller that makes this phase (degrees) and gain at the crossover, its circuit with it: by the tangent of
/// the angle that a PID's zero must make, and by the sine that sets a lead's pole against its zero.
fn asked(
    wish: &ShapeWish,
    phase: f64,
    gain: f64,
    shop: &Workshop,
) -> Option<(&'static dyn Stage, Ask)> {
    let crossover = wish.crossover;
    match wish.form {
        ControllerForm::Pid {
            integrator,
            roll_off,
        } => {
            let lead = phase.to_radians() + integrator.atan() + (1.0 / roll_off).atan();
            let zeros = [crossover * integrator, crossover / lead.tan()];
            let ask = Ask::Pid(stages::PidAsk {
                values: stages::PidValues::Zeros {
                    low: zeros[0].min(zeros[1]),
                    high: zeros[0].max(zeros[1]),
                    gain,
                    at: crossover,
                },
                roll_off: crossover * roll_off,
                ..stages::PidAsk::default()
            });
            Some((shop.pid, ask))
        }
        ControllerForm::Lead { integrator: None } => {
            let sine = phase.to_radians().sin();
            let ratio = (1.0 + sine) / (1.0 - sine);
            let ask = Ask::Lead(stages::PoleZeroAsk {
                gain: gain / ratio.sqrt(),
                zero: crossover / ratio.sqrt(),
                pole: crossover * ratio.sqrt(),
                ..stages::PoleZeroAsk::default()
            });
            Some((shop.lead, ask))
        }
        _ => None,
    }
}

/// Whether any controller of a grid over gain and phase, with up to four amplifiers, makes the loop within 1 % of gain
/// and 1°.
fn any_does(kept: &KeptLoop, wish: &ShapeWish, shop: &Workshop) -> bool {
    let ideal = shape(&kept.open(), wish).expect("ideal parts do");
    let there = |stages: &[Transfer]| {
        let open = kept.open();
        let product: Complex64 = stages
            .iter()
            .map(|stage| stage.at(wish.crossover))
            .product();
        let signs: f64 = stages.iter().map(Transfer::low_sign).product();
        let sign = signs * if ideal.adds { -1.0 } else { 1.0 };
        open.at(wish.crossover) / open.sign * sign * product
    };
    let total = 1.0 / there(&[]).norm();
    let (_, most) = wish.form.reach();
    for phase in
        (0..6).map(|k| ideal.phase_deg + (most - 0.5 - ideal.phase_deg) * f64::from(k) / 5.0)
    {
        for own in (0..14).map(|k| total * 10f64.powf(-0.35 * f64::from(k))) {
            let Some((circuit, ask)) = asked(wish, phase, own, shop) else {
                continue;
            };
            let Some((made, miss)) = bought(circuit, &ask, &shop.op_amp, (&shop.shelf, IN_A_LOOP))
            else {
                continue;
            };
            if miss > 1.0 {
                continue;
            }
            for amplifiers in 0..=4 {
                let mut made = vec![made.clone()];
                let mut worst = miss;
                for left in (1..=amplifiers).rev() {
                    let gain = (1.0 / there(&made).norm()).powf(1.0 / f64::from(left));
                    let ask = Ask::Gain(GainAsk {
                        gain,
                        frequency: wish.crossover,
                        ..GainAsk::default()
                    });
                    match bought(shop.amplifier, &ask, &shop.op_amp, (&shop.shelf, IN_A_LOOP)) {
                        Some((amplifier, miss)) => {
                            made.push(amplifier);
                            worst = worst.max(miss);
                        }
                        None => worst = f64::INFINITY,
                    }
                }
                let l = there(&made);
                let margin = (-l).arg().to_degrees();
                if worst <= 1.0
                    && l.norm().ln().abs() < 0.01
                    && (margin - wish.phase_margin).abs() < 1.0
                {
                    return true;
                }
            }
        }
    }
    false
}

fn worked_out(kept: &KeptLoop, wish: &ShapeWish, shop: &Workshop) -> Option<BuiltShort> {
    let mut work = ShapeWork::begin(kept.clone(), wish, shop.clone()).expect("ideal parts do");
    let Poll::Ready(answer) = work.advance(&mut || true) else {
        panic!("no answer");
    };
    match answer {
        Ok(_) => None,
        Err(BuildError::Short(short)) => Some(*short),
        Err(other) => panic!("{other}"),
    }
}

/// Where the op amp is said to be too slow, no set of a dense grid does; and what is said to do instead, does.
fn hold_what_is_said_to_be_too_slow(form: ControllerForm, seed: u64, circuits: [&str; 2]) {
    let mut draw = Draw::new(seed);
    let (mut slow, mut reached) = (0, 0);
    for number in 0..40 {
        let crossover = draw.corner(100.0, 4000.0);
        let gain = draw.corner(10.0, 1000.0);
        let model = draw.plant_of_gain(crossover, gain);
        let kept = KeptLoop {
            stages: Vec::new(),
            model,
            sign: 1.0,
        };
        let wish = ShapeWish {
            crossover,
            phase_margin: draw.even(40.0, 60.0),
            form,
        };
        if shape(&kept.open(), &wish).is_err() {
            continue;
        }
        let gain_bandwidth = crossover * draw.corner(30.0, 1000.0);
        let circuit = circuits[draw.one_of(2) as usize];
        let shop = workshop(gain_bandwidth, circuit);
        let Some(short) = worked_out(&kept, &wish, &shop) else {
            reached += 1;
            continue;
        };
        assert!(!any_does(&kept, &wish, &shop), "{number}");
        slow += 1;
        if let Some(enough) = short.enough {
            let faster = workshop(enough, circuit);
            assert_eq!(worked_out(&kept, &wish, &faster), None, "{number}");
        }
        if let Some(crossover) = short.lower {
            let lower = ShapeWish { crossover, ..wish };
            assert_eq!(worked_out(&kept, &lower, &shop), None, "{number}");
        }
        if slow == 4 {
            break;
        }
    }
    assert!(slow >= 3 && reached >= 3);
}

#[test]
fn too_slow_is_too_slow() {
    let circuits = ["pid-parallel", "pid-one-op-amp"];
    hold_what_is_said_to_be_too_slow(ControllerForm::PID, 32, circuits);
}

#[test]
fn too_slow_for_a_lead_is_too_slow() {
    hold_what_is_said_to_be_too_slow(ControllerForm::LEAD, 34, ["lead", "lead-two-op-amps"]);
}
