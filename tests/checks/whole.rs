//! The loop as a whole: the design solved anew with the promised stages in it, python-control on the same loops, and
//! wishes of all kinds. Brute force stands in `whole_brute.rs`.

use std::f64::consts::TAU;
use std::task::Poll;

use polewright::compensation::{
    Role, Whole, WholeLoop, WholeShop, WholeWish, WholeWork, WishedForm,
};
use polewright::design::{Design, StageDesign, WholeAsk, WholeForm};
use polewright::feedback::PlantVariations;
use polewright::outcome::{Outcome, WholeHelp};
use polewright::parts::{OpAmp, Shelf};
use polewright::plant::{Mode, Model, Rigid};
use polewright::stages::{Ask, NotchAsk, by_id};
use serde_json::{Value, json};

use super::designs::{bought, help_is_kept, modelled, parts_hold, quiet, solved};
use super::draw::Draw;

const INTEGRATOR: f64 = 0.1;
pub const ROLL_OFF: f64 = 10.0;

pub fn wish(model: &Model, crossover: f64, phase_margin: f64) -> WholeWish {
    WholeWish {
        crossover,
        phase_margin,
        levels: vec![10f64.powf(-6.0 / 20.0); model.modes.len()],
        roll_off: None,
        form: WishedForm::Automatic {
            integrator: INTEGRATOR,
            roll_off: ROLL_OFF,
        },
        variations: PlantVariations {
            frequency: 0.02,
            damping: 0.3,
            gain: 0.1,
        },
        notch_frequency: 0.04,
        notch_q: 0.08,
    }
}

pub fn worked_out(model: &Model, wish: &WholeWish) -> Whole {
    let of = WholeLoop {
        stages: Vec::new(),
        model: model.clone(),
        sign: 1.0,
    };
    let shop = WholeShop {
        shelf: Shelf::default(),
        op_amp: OpAmp::default(),
    };
    let mut work = WholeWork::begin(of, wish, shop).expect("a wish");
    let Poll::Ready(answer) = work.advance(&mut || true) else {
        panic!("no end");
    };
    answer.expect("an answer")
}

impl Draw {
    /// One of the kinds of plants that loops are closed round, with one to three modes above the crossover (Hz).
    pub fn whole_plant(&mut self, crossover: f64) -> (Model, u32) {
        let omega = TAU * crossover;
        let gain = self.corner(0.01, 10.0) * [1.0, -1.0][self.one_of(2) as usize];
        let kind = self.one_of(5);
        let rigid = match kind {
            0 => Some(Rigid::new(2, gain * omega * omega)),
            1 => Some(Rigid {
                friction: Some(crossover * self.corner(0.02, 0.3)),
                ..Rigid::new(2, gain * omega * omega)
            }),
            2 => Some(Rigid::new(1, gain * omega)),
            _ => None,
        };
        let mut modes = Vec::new();
        let mut frequency = crossover * self.corner(3.0, 8.0);
        if kind == 3 {
            modes.push(Mode {
                frequency: crossover * self.corner(0.03, 0.3),
                damping: self.corner(0.05, 0.7),
                residue: gain * omega * omega,
                slope: 0.0,
            });
        }
        for k in 0..=self.one_of(3) {
            let own = TAU * frequency;
            let residue = match kind {
                // The first carries the load.
                4 if k == 0 => gain * own * own,
                4 => gain * own * own * self.even(-0.2, 0.3),
                2 => gain * omega * own * self.even(-0.3, 0.3),
                _ => gain * omega * omega * self.even(-0.3, 0.5),
            };
            modes.push(Mode {
                frequency,
                damping: self.corner(0.005, 0.03),
                residue,
                slope: 0.0,
            });
            frequency *= self.corner(1.4, 3.0);
        }
        let model = Model {
            rigid,
            modes,
            lag: None,
            delay: self.even(0.0, 0.1) / omega,
        };
        (model, kind)
    }
}

fn design(model: Model, ask: WholeAsk) -> Design {
    let empty = Design {
        stages: Vec::new(),
        ..Design::default()
    };
    let mut design = quiet(empty, 100);
    design.servo.model = Some(model);
    design.servo.whole = Some(ask);
    design
}

/// A notch far above, as a stage of the user's own.
fn own_stage(crossover: f64) -> StageDesign {
    StageDesign {
        ask: Ask::Notch(NotchAsk {
            frequency: 60.0 * crossover,
            ..NotchAsk::default()
        }),
        ..StageDesign::default()
    }
}

fn help(outcome: &Outcome) -> &WholeHelp {
    let help = outcome.help.as_ref().expect("help");
    help.whole.as_ref().expect("a whole")
}

/// Puts the stages in, solves anew, and holds the loop against the ask and against what was promised.
fn hold(design: &mut Design, what: &str) {
    let ask = design.servo.whole.clone().expect("an ask");
    let own: Vec<StageDesign> = design
        .stages
        .iter()
        .filter(|s| !s.by_whole)
        .cloned()
        .collect();
    let before = solved(design);
    let promised = help(&before).clone();
    promised.put_in(design);
    let left: Vec<StageDesign> = design
        .stages
        .iter()
        .filter(|s| !s.by_whole)
        .cloned()
        .collect();
    assert_eq!(left, own, "{what}");
    let after = solved(design);
    let now = help(&after).now.as_ref().expect("a reading");
    assert!(
        now.holds && now.is_in && now.off.is_empty(),
        "{what}: {:?}",
        now.off
    );
    // Read off the loop by what has nothing to do with the help.
    let modelled = modelled(&after);
    assert_eq!(modelled.unstable_poles, Some(0), "{what}");
    let own = modelled.margins.crossover().expect("a crossover");
    assert!(
        (own.frequency / ask.crossover - 1.0).abs() < 0.01,
        "{what}: {}",
        own.frequency
    );
    let reading = promised.reading.as_ref().expect("a reading");
    let is_more = promised.ideal_margin > Some(ask.phase_margin + 0.5);
    assert!(
        own.phase_margin > ask.phase_margin - 1.0,
        "{what}: {}",
        own.phase_margin
    );
    assert!(
        is_more || own.phase_margin < ask.phase_margin + 1.0,
        "{what}: {}",
        own.phase_margin
    );
    // The parts that were tried are those that are picked.
    let crossover = reading.crossover.expect("one");
    assert!((crossover / own.frequency - 1.0).abs() < 1e-9, "{what}");
    assert!(
        (reading.phase_margin.expect("one") - own.phase_margin).abs() < 1e-6,
        "{what}"
    );
    parts_hold(&after, what);
    // What was put in is found again and left out, so that the answer stays.
    assert_eq!(help(&after).stages, promised.stages, "{what}");
    assert_eq!(help(&after).replaces.len(), promised.stages.len(), "{what}");
}

#[test]
fn promised_loops_are_as_asked_with_real_parts() {
    let mut draw = Draw::new(43);
    let (mut held, mut stages, mut short) = (0, 0, 0);
    for number in 0..36 {
        let crossover = draw.corner(60.0, 800.0);
        let (model, _) = draw.whole_plant(crossover);
        let ask = WholeAsk {
            crossover,
            phase_margin: draw.even(30.0, 55.0),
            level_db: draw.even(-12.0, -3.0),
            quiet_from: (draw.one_of(4) == 0).then_some(40.0 * crossover),
            ..WholeAsk::default()
        };
        let mut design = design(model, ask);
        for _ in 0..draw.one_of(3) {
            design.stages.push(own_stage(crossover));
        }
        if design.stages.is_empty() {
            design.stages.push(own_stage(2.0 * crossover));
        }
        let first = solved(&design);
        let found = help(&first);
        assert!(!found.told.is_empty(), "{number}");
        if !found.holds {
            short += 1;
            continue;
        }
        stages += found.stages.len();
        hold(&mut design, &format!("{number}"));
        // A stage that was changed by hand is the user's from then on.
        let place = design.stages.iter().position(|s| s.by_whole).expect("one");
        let kept = design
            .with(&format!("/stages/{place}/choice"), json!(1))
            .expect("a design");
        assert!(!kept.stages[place].by_whole && kept.stages.iter().any(|s| !s.by_whole));
        held += 1;
    }
    assert!(
        held >= 18 && stages >= 40 && short >= 2,
        "{held} {stages} {short}"
    );
}

/// Inertia with friction at 12 Hz, three modes, 20 µs.
fn stage_with_three_modes() -> Model {
    let mode = |frequency: f64, share: f64| Mode {
        frequency,
        damping: 0.01,
        residue: share * 4000.0,
        slope: 0.0,
    };
    Model {
        rigid: Some(Rigid {
            friction: Some(12.0),
            ..Rigid::new(2, 4000.0)
        }),
        modes: vec![mode(1100.0, 0.1), mode(1900.0, -0.2), mode(3400.0, 0.3)],
        lag: None,
        delay: 20e-6,
    }
}

/// Controller and notches in one step, whatever the order in which one would have asked for them.
#[test]
fn one_step_is_enough() {
    for form in [WholeForm::Automatic, WholeForm::Pid, WholeForm::Pd] {
        let ask = WholeAsk {
            crossover: 250.0,
            phase_margin: 50.0,
            form,
            ..WholeAsk::default()
        };
        let mut design = design(stage_with_three_modes(), ask);
        // The demo's notch at 2.35 kHz stays where it is.
        design.stages.push(StageDesign::default());
        hold(&mut design, &format!("{form:?}"));
        assert!(
            design
                .stages
                .iter()
                .any(|s| !s.by_whole && s.ask == StageDesign::default().ask)
        );
        // Another plant: the page can say that the loop no longer holds, and shape it again.
        let model = design.servo.model.as_mut().expect("a model");
        model.modes[0].frequency = 1000.0;
        let outcome = solved(&design);
        let now = help(&outcome).now.as_ref().expect("a reading");
        assert!(!now.holds && !now.off.is_empty());
        hold(&mut design, "again");
    }
}

/// A piezo stage: stiff, its first mode at 800 Hz.
fn piezo() -> Model {
    let own = |f: f64| (TAU * f).powi(2);
    Model {
        rigid: None,
        modes: vec![
            Mode {
                frequency: 800.0,
                damping: 0.015,
                residue: own(800.0),
                slope: 0.0,
            },
            Mode {
                frequency: 2100.0,
                damping: 0.02,
                residue: 0.1 * own(2100.0),
                slope: 0.0,
            },
        ],
        lag: None,
        delay: 10e-6,
    }
}

#[test]
fn a_stiff_stage_gets_an_integrating_controller_below_its_first_mode() {
    let model = piezo();
    let low = worked_out(&model, &wish(&model, 100.0, 45.0));
    assert!(low.holds, "{:?}", low.told);
    assert!(low.form.is_some_and(|form| form.integrates()));
    let inside = worked_out(&model, &wish(&model, 800.0, 45.0));
    assert!(!inside.holds && inside.told[0].contains("within the peak of mode 1"));
    let above = worked_out(&model, &wish(&model, 1200.0, 45.0));
    for whole in [inside, above] {
        let highest = whole.below_first.expect("one");
        assert!(highest < 800.0, "{highest}");
        let there = worked_out(&model, &wish(&model, 0.97 * highest, 45.0));
        assert!(there.holds, "{:?}", there.told);
    }
}

/// What is said to be within reach instead is, a little room left for real parts.
#[test]
fn what_gives_way_is_told_right() {
    let mut draw = Draw::new(47);
    let (mut margins, mut crossovers, mut levels) = (0, 0, 0);
    for number in 0..30 {
        let crossover = draw.corner(60.0, 800.0);
        let (model, _) = draw.whole_plant(crossover);
        let asked = wish(&model, crossover, draw.even(60.0, 80.0));
        let whole = worked_out(&model, &asked);
        assert!(
            whole.holds || whole.nearest.is_some() || whole.below_first.is_some(),
            "{number}"
        );
        let Some(nearest) = whole.nearest else {
            continue;
        };
        let is_reached = |wish: &WholeWish, what: &str| {
            let found = worked_out(&model, wish);
            let said = found.told[0].starts_with("Ideal parts would make");
            let ideal = found
                .ideal_margin
                .is_some_and(|m| m > wish.phase_margin - 0.1);
            assert!(
                !found.stages.is_empty(),
                "{number}, {what}: {:?}",
                found.told
            );
            let ideal = ideal || said;
            assert!(ideal, "{number}, {what}: {:?}", found.told);
        };
        if let Some(margin) = nearest
            .phase_margin
            .filter(|m| *m > 5.0 && *m < asked.phase_margin)
        {
            let wish = WholeWish {
                phase_margin: margin - 0.5,
                ..asked.clone()
            };
            is_reached(&wish, "margin");
            margins += 1;
        }
        if let Some(crossover) = nearest.crossover {
            let wish = WholeWish {
                crossover,
                ..asked.clone()
            };
            is_reached(&wish, "crossover");
            crossovers += 1;
        }
        if let Some(easier) = nearest.easier_db {
            let factor = 10f64.powf((easier + 0.05) / 20.0);
            let wish = WholeWish {
                levels: asked.levels.iter().map(|level| level * factor).collect(),
                ..asked.clone()
            };
            is_reached(&wish, "levels");
            levels += 1;
        }
    }
    assert!(
        margins >= 5 && crossovers >= 5 && levels >= 3,
        "{margins} {crossovers} {levels}"
    );
}

/// Any plant and any wish comes to an end, in slices as well, and to numbers.
#[test]
fn every_wish_comes_to_an_end() {
    let mut draw = Draw::new(53);
    let odd = [
        0.0,
        -1.0,
        1e-12,
        1e-3,
        0.4,
        3.0,
        1e9,
        1e300,
        f64::NAN,
        f64::INFINITY,
    ];
    let (mut answered, mut refused) = (0, 0);
    for number in 0..90 {
        let crossover = draw.corner(1.0, 1e4);
        let (mut model, _) = draw.whole_plant(crossover);
        let mut wish = wish(&model, crossover, draw.even(5.0, 90.0));
        let value = odd[draw.one_of(odd.len() as u32) as usize];
        match draw.one_of(12) {
            0 => wish.crossover = value,
            1 => wish.phase_margin = value,
            2 => wish.levels[0] = value,
            3 => wish.notch_frequency = value,
            4 => wish.variations.frequency = value,
            5 => wish.variations.damping = value,
            6 => {
                wish.form = WishedForm::Automatic {
                    integrator: value,
                    roll_off: 10.0,
                }
            }
            7 => model.modes[0].frequency = value,
            8 => model.modes[0].damping = value,
            9 => model.modes[0].residue = value,
            10 => {
                model.rigid = Some(Rigid {
                    friction: Some(5.0),
                    ..Rigid::new(2, value)
                })
            }
            _ => model.delay = value.clamp(0.0, 1.0),
        }
        let of = WholeLoop {
            stages: Vec::new(),
            model,
            sign: 1.0,
        };
        let shop = WholeShop {
            shelf: Shelf::default(),
            op_amp: OpAmp::default(),
        };
        let Ok(mut work) = WholeWork::begin(of, &wish, shop) else {
            refused += 1;
            continue;
        };
        let mut left = 200_000;
        let answer = loop {
            left -= 1;
            assert!(left > 0, "{number}");
            // The search over the shelf asks before it begins.
            let mut steps = 0;
            let mut go_on = || {
                steps += 1;
                steps < 30
            };
            if let Poll::Ready(answer) = work.advance(&mut go_on) {
                break answer;
            }
        };
        match answer {
            Ok(whole) => {
                answered += 1;
                let text = format!("{:?} {:?}", whole.nearest, whole.stages);
                assert!(
                    !text.contains("NaN") && !text.contains("inf"),
                    "{number}: {text}"
                );
                assert!(!whole.told.is_empty(), "{number}");
            }
            Err(error) => {
                refused += 1;
                assert!(error.to_string().ends_with('.'), "{error}");
            }
        }
    }
    assert!(answered > 36 && refused > 12, "{answered} {refused}");
}

/// In slices it is the same as in one go, and not worked out again where nothing of it has changed.
#[test]
fn the_answer_is_kept() {
    let ask = WholeAsk {
        crossover: 250.0,
        ..WholeAsk::default()
    };
    let mut design = design(stage_with_three_modes(), ask);
    design.stages.push(own_stage(250.0));
    help_is_kept(&mut design);
}

/// Promised loops for tests/reference/whole.py: plant, stages as they are bought, and what was promised.
fn promised_loops() -> Vec<Value> {
    let mut draw = Draw::new(59);
    let mut loops = Vec::new();
    while loops.len() < 12 {
        let crossover = draw.corner(60.0, 800.0);
        let (mut model, _) = draw.whole_plant(crossover);
        if loops.len() % 2 == 0 {
            model.delay = 0.0;
        }
        let ask = WholeAsk {
            crossover,
            phase_margin: draw.even(30.0, 55.0),
            ..WholeAsk::default()
        };
        let mut design = design(model.clone(), ask.clone());
        design.stages.push(own_stage(crossover));
        let found = help(&solved(&design)).clone();
        let notches = found
            .stages
            .iter()
            .any(|s| matches!(s.role, Role::Notch { .. }));
        if !found.holds || !notches {
            continue;
        }
        found.put_in(&mut design);
        let of_stage = |stage: &StageDesign| {
            let circuit = by_id(&stage.circuit).expect("a circuit");
            let set = bought(
                circuit,
                &stage.ask,
                &design.op_amp.op_amp(),
                (&design.shelf, stage.prefer),
            );
            let (transfer, _) = set.expect("a pick");
            let notch = match &stage.ask {
                Ask::Notch(ask) => json!({
                    "frequency": ask.frequency, "q": ask.pole_q(), "gain": ask.depth.gain(),
                }),
                _ => Value::Null,
            };
            json!({ "num": transfer.num, "den": transfer.den, "omega": transfer.omega, "notch": notch })
        };
        let stages: Vec<Value> = design.stages.iter().map(of_stage).collect();
        let reading = found.reading.expect("a reading");
        let peaks: Vec<Value> = (reading.peaks.iter())
            .map(|peak| json!({ "mode": peak.mode, "worst_db": peak.worst_db, "level_db": peak.level_db }))
            .collect();
        loops.push(json!({
            "plant": model,
            "stages": stages,
            "adds": found.summing == polewright::design::Summing::Adds,
            "asked": { "crossover": ask.crossover, "phase_margin": ask.phase_margin },
            "strays": {
                "frequency": design.servo.drift.frequency, "damping": design.servo.drift.damping,
                "gain": design.servo.drift.gain, "notch_frequency": ask.notch_frequency, "notch_q": ask.notch_q,
            },
            "promised": {
                "crossover": reading.crossover, "phase_margin": reading.phase_margin, "peaks": peaks,
                "may_be_more": found.ideal_margin > Some(ask.phase_margin + 0.5),
            },
        }));
    }
    loops
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

#[test]
fn python_control_reads_the_promised_loops_alike() {
    let path = format!(
        "{}/tests/reference/whole_loops.json",
        env!("CARGO_MANIFEST_DIR")
    );
    let now = promised_loops();
    if std::env::var_os("WRITE_WHOLE").is_some() {
        let lines: Vec<String> = now.iter().map(|l| format!(" {l}")).collect();
        std::fs::write(&path, format!("[\n{}\n]\n", lines.join(",\n"))).expect("written");
    }
    let text = std::fs::read_to_string(&path).expect("the file of loops");
    let kept: Vec<Value> = serde_json::from_str(&text).expect("loops");
    let read: Value = super::reference::read("whole");
    let read = read["loops"].as_array().expect("loops");
    assert_eq!((now.len(), now.len()), (kept.len(), read.len()));
    for (place, ((now, kept), read)) in now.iter().zip(&kept).zip(read).enumerate() {
        let promised = &now["promised"];
        for name in ["crossover", "phase_margin"] {
            let (a, b) = (number(&promised[name]), number(&kept["promised"][name]));
            assert!(
                (a / b - 1.0).abs() < 1e-9,
                "{place}: WRITE_WHOLE=1 writes the file anew"
            );
        }
        let (crossover, margin) = (number(&read["crossover"]), number(&read["phase_margin"]));
        assert!(
            (number(&promised["crossover"]) / crossover - 1.0).abs() < 1e-6,
            "{place}"
        );
        assert!(
            (number(&promised["phase_margin"]) - margin).abs() < 1e-3,
            "{place}"
        );
        // And against the ask itself.
        let asked = &now["asked"];
        assert!(
            (crossover / number(&asked["crossover"]) - 1.0).abs() < 0.01,
            "{place}"
        );
        let off = margin - number(&asked["phase_margin"]);
        assert!(
            off > -1.0 && (off < 1.0 || promised["may_be_more"] == json!(true)),
            "{place}: {off}"
        );
        let peaks = promised["peaks"].as_array().expect("peaks");
        let worst = read["worst_db"].as_array().expect("peaks");
        assert_eq!(peaks.len(), worst.len());
        for (peak, worst) in peaks.iter().zip(worst) {
            let (told, sampled) = (number(&peak["worst_db"]), number(worst));
            // Sampled plants come up to the worst from below.
            assert!(
                sampled < told + 1e-3 && told - sampled < 0.05,
                "{place}: {told} {sampled}"
            );
            assert!(sampled < number(&peak["level_db"]) + 0.06, "{place}");
        }
        assert_eq!(read["is_stable"], json!(true), "{place}");
    }
}

/// The advice on one notch is told at the crossover that is asked for, and leaves other modes' notches alone.
#[test]
fn one_notch_is_told_at_the_asked_crossover() {
    let mut design = design(stage_with_three_modes(), WholeAsk::default());
    design.servo.whole = None;
    // The demo's, at 2.35 kHz, and none for the mode at 1.9 kHz.
    design.stages.push(StageDesign::default());
    design.servo.model.as_mut().expect("a model").modes[1].residue *= 1e4;
    design.servo.advice = Some(polewright::design::AdviceAsk::default());
    design.servo.shape = Some(polewright::design::ShapeAsk {
        crossover: 250.0,
        ..polewright::design::ShapeAsk::default()
    });
    let notch = |design: &Design| {
        let help = solved(design).help.expect("help");
        help.notch.expect("a notch")
    };
    let asked = notch(&design);
    assert_eq!(asked.replaces, None);
    let told = asked.told.join(" ");
    assert!(told.contains("target crossover of 250 Hz"), "{told}");
    design.servo.shape = None;
    let told = notch(&design).told.join(" ");
    assert!(!told.contains("target crossover"), "{told}");
    design.stages.push(StageDesign {
        ask: Ask::Notch(NotchAsk {
            frequency: 1920.0,
            ..NotchAsk::default()
        }),
        ..StageDesign::default()
    });
    let own = notch(&design);
    assert_eq!(own.replaces, Some(1));
    assert!(own.told[0].contains("overwrite"), "{:?}", own.told);
}
