//! The bench as a question that is asked of a design: what was measured of a stage, of the path and of the loop in its forms.

use num_complex::Complex64;
use polewright::bench::{Cause, RepairVerdict, Report, Verdict};
use polewright::design::{Design, Measured, StageDesign, TrimmerDesign};
use polewright::outcome::{BenchOutcome, Outcome};
use polewright::plant::{Mode, Model as PlantModel, Point, Sweep, sweep};
use polewright::response::log_grid;
use polewright::stages::{Model, by_id};

use super::asks::Random;
use super::designs::{quiet, solved};

/// A stage's model with the values of all its netlist's parts as they are bought.
pub fn built(design: &Design, outcome: &Outcome, stage: usize) -> (Model, Vec<f64>) {
    let (asked, told) = (&design.stages[stage], &outcome.stages[stage]);
    let circuit = by_id(&asked.circuit).expect("a circuit");
    let model = Model::new(circuit, &asked.ask, &design.op_amp.op_amp()).expect("a model");
    let model = model
        .with_op_amps(&design.op_amps_of(asked))
        .between(asked.between);
    let parts = model.netlist.parts().iter();
    let values = parts
        .map(|part| {
            let bought = told.parts.iter().find(|known| known.name == part.name);
            let given = told.given.iter().find(|known| known.name == part.name);
            bought
                .map(|known| known.value)
                .or(given.map(|known| known.value))
                .unwrap_or(0.0)
        })
        .collect();
    (model, values)
}

/// A response at these frequencies, each point with one per cent of noise, as a design holds it.
pub fn measured(frequencies: &[f64], at: impl Fn(f64) -> Complex64, seed: u64) -> String {
    noisy(frequencies, at, seed, 0.01)
}

/// The same with so much noise.
fn noisy(frequencies: &[f64], at: impl Fn(f64) -> Complex64, seed: u64, share: f64) -> String {
    let mut random = Random(seed);
    let mut normal = || (0..12).map(|_| random.part() - 0.5).sum::<f64>();
    let points = frequencies.iter().map(|&f| {
        let noise = Complex64::new(normal(), normal());
        Point::new(f, at(f) * (1.0 + share * noise))
    });
    sweep::write(&Sweep {
        points: points.collect(),
    })
}

/// The demo with its stage on the bench.
pub fn demo() -> Design {
    let mut design = quiet(Design::default(), 100);
    design.bench.of = Measured::Stage;
    design
}

fn grid() -> Vec<f64> {
    log_grid(235.0, 23.5e3, 81)
}

fn bench(design: &Design) -> BenchOutcome {
    solved(design).bench.expect("the bench")
}

fn report(found: &BenchOutcome) -> &Report {
    assert_eq!(found.error, None);
    found.report.as_ref().expect("a report")
}

/// Whether a part of a stage is what is said to be off, alone or as one of those that cannot be told apart.
fn names(report: &Report, part: &str) -> bool {
    report.causes.iter().any(|one| match &one.cause {
        Cause::Off(at) => at.part == part,
        _ => false,
    })
}

#[test]
fn a_stage_is_held_against_its_own_boards() {
    let mut design = demo();
    assert!(solved(&design).bench.is_none());
    let outcome = solved(&design);
    let (model, values) = built(&design, &outcome, 0);
    let healthy = model.transfer(&values);
    design.stages[0].measured = measured(&grid(), |f| healthy.at(f), 3);
    let found = bench(&design);
    let told = report(&found);
    assert_eq!(told.verdict, Verdict::Healthy, "{:?}", found.words);
    assert!(!told.band.is_beyond && found.stage == Some(0));
    assert_eq!(found.measured.frequency.len(), 81);
    // One resistor 8 % off.
    let place = model.netlist.position("R1").expect("R1");
    let mut off = values.clone();
    off[place] *= 1.08;
    let ill = model.transfer(&off);
    design.stages[0].measured = measured(&grid(), |f| ill.at(f), 4);
    let found = bench(&design);
    let told = report(&found);
    assert!(
        told.band.is_beyond && names(told, "R1"),
        "{:?}",
        found.words
    );
    assert!(
        matches!(told.repair, RepairVerdict::Home(_)),
        "{:?}",
        found.words
    );
    // What was measured decides nothing of the design itself.
    let now = solved(&design);
    assert_eq!(now.stages, outcome.stages);
    assert_eq!(now.spread, outcome.spread);
}

/// A part that is off far less than capacitors may be hides in the band, and yet the curve tells of it: that is said, so that
/// the two sentences are no contradiction.
#[test]
fn a_deviation_inside_the_band_is_told_as_such() {
    let circuit = by_id("gyrator-notch").expect("a circuit");
    let mut design = demo();
    design.stages = vec![StageDesign {
        circuit: circuit.id().to_owned(),
        ask: circuit.default_ask(),
        ..StageDesign::default()
    }];
    let outcome = solved(&design);
    let (model, mut values) = built(&design, &outcome, 0);
    values[model.netlist.position("R5").expect("R5")] *= 1.05;
    let ill = model.transfer(&values);
    design.stages[0].measured = noisy(&grid(), |f| ill.at(f), 6, 0.003);
    let found = bench(&design);
    let told = report(&found);
    assert!(
        names(told, "R5") && !told.band.is_beyond,
        "{:?}",
        found.words
    );
    assert!(
        found.words[0]
            .ends_with("Each point alone fits a healthy board; the whole curve does not."),
        "{:?}",
        found.words
    );
}

#[test]
fn a_trimmer_is_turned() {
    let mut design = demo();
    let outcome = solved(&design);
    let (model, values) = built(&design, &outcome, 0);
    let place = model.netlist.position("R4").expect("R4");
    let mut off = values.clone();
    off[place] *= 0.95;
    let ill = model.transfer(&off);
    design.stages[0].measured = measured(&grid(), |f| ill.at(f), 5);
    design.stages[0].trimmer = Some(TrimmerDesign::about("R4", values[place]));
    let found = bench(&design);
    let told = report(&found);
    let turn = told.repairs.iter().find_map(|repair| repair.turn.as_ref());
    let turn = turn.unwrap_or_else(|| panic!("{:?}", found.words));
    assert!(turn.turns > 0.0 && turn.part == "R4", "{turn:?}");
    assert!((turn.to / values[place] - 1.0).abs() < 0.04, "{turn:?}");
}

/// A mode at 30 Hz with a delay.
pub fn plant() -> PlantModel {
    let omega = std::f64::consts::TAU * 30.0;
    PlantModel {
        modes: vec![Mode {
            frequency: 30.0,
            damping: 0.1,
            residue: 5.0 * omega * omega,
            slope: 0.0,
        }],
        delay: 5e-6,
        rigid: None,
        ..PlantModel::default()
    }
}

/// A path of two stages round which a loop is closed; and its model's response.
fn looped() -> (Design, Outcome) {
    let mut design = demo();
    design.stages.push(StageDesign {
        circuit: "gain-inverting".to_owned(),
        ask: by_id("gain-inverting").expect("a circuit").default_ask(),
        ..StageDesign::default()
    });
    design.servo.model = Some(plant());
    let outcome = solved(&design);
    (design, outcome)
}

#[test]
fn the_path_and_the_loop_in_every_form() {
    let (mut design, outcome) = looped();
    let stages: Vec<_> = (0..2)
        .map(|stage| built(&design, &outcome, stage))
        .collect();
    let mut values: Vec<Vec<f64>> = stages.iter().map(|(_, values)| values.clone()).collect();
    let (model, _) = &stages[0];
    let place = model.netlist.position("R1").expect("R1");
    values[0][place] *= 1.1;
    let transfers: Vec<_> = stages
        .iter()
        .zip(&values)
        .map(|((model, _), values)| model.transfer(values))
        .collect();
    let path = |f: f64| transfers[0].at(f) * transfers[1].at(f);
    design.bench.of = Measured::Path;
    design.bench.path = measured(&grid(), path, 6);
    let found = bench(&design);
    assert!(names(report(&found), "R1"), "{:?}", found.words);
    assert!(found.words.iter().any(|words| words.contains("1·R1")));
    // The same loop as it is measured in three ways.
    let sign = match design.servo.summing {
        polewright::design::Summing::Subtracts => 1.0,
        polewright::design::Summing::Adds => -1.0,
    };
    let open = |f: f64| sign * path(f) * plant().at(f);
    type Form = fn(Complex64) -> Complex64;
    let forms: [(Measured, Form); 3] = [
        (Measured::OpenLoop, |l| l),
        (Measured::ClosedLoop, |l| l / (1.0 + l)),
        (Measured::Sensitivity, |l| 1.0 / (1.0 + l)),
    ];
    let frequencies = log_grid(5.0, 10e3, 120);
    for (of, form) in forms {
        design.bench.of = of;
        design.bench.looped = measured(&frequencies, |f| form(open(f)), 7);
        let found = bench(&design);
        assert!(!report(&found).band.is_beyond, "{of:?}: {:?}", found.words);
        let [own, predicted] = found.margins.as_ref().expect("margins");
        let crossover = own.crossover().expect("a crossover").frequency;
        let expected = predicted.crossover().expect("a crossover").frequency;
        assert!(
            (crossover / expected - 1.0).abs() < 0.1,
            "{of:?}: {crossover} {expected} {:?} {:?}",
            own.gain_crossings,
            predicted.gain_crossings
        );
        let shown = &found.measured;
        let middle = shown.frequency.len() / 2;
        let level = 20.0 * open(shown.frequency[middle]).norm().log10();
        assert!((shown.magnitude_db[middle] - level).abs() < 2.0, "{of:?}");
    }
    // Which block differs is the stage, not the plant.
    design.bench.of = Measured::OpenLoop;
    design.bench.looped = measured(&log_grid(50.0, 20e3, 160), open, 8);
    let found = bench(&design);
    let told = report(&found);
    let of_stage = told.blocks.iter().find(|block| block.stage == Some(0));
    let share = of_stage.map_or(0.0, |block| block.probability);
    assert!(share > 0.5, "{:?} {:?}", told.blocks, found.words);
}

#[test]
fn a_plant_that_moved_is_told_from_the_path() {
    let (mut design, outcome) = looped();
    let transfers: Vec<_> = (0..2)
        .map(|stage| built(&design, &outcome, stage))
        .map(|(model, values)| model.transfer(&values))
        .collect();
    let mut moved = plant();
    moved.modes[0].frequency *= 1.12;
    let open = |f: f64| transfers[0].at(f) * transfers[1].at(f) * moved.at(f);
    design.bench.of = Measured::OpenLoop;
    design.bench.looped = measured(&log_grid(5.0, 10e3, 160), open, 9);
    let found = bench(&design);
    let told = report(&found);
    let plant = told.blocks.iter().find(|block| block.stage.is_none());
    let share = plant.map_or(0.0, |block| block.probability);
    assert!(share > 0.5, "{:?} {:?}", told.blocks, found.words);
    assert!(
        found.words.iter().any(|words| words.contains("mode 1")),
        "{:?}",
        found.words
    );
}

#[test]
fn what_cannot_be_looked_at_is_said() {
    let mut design = demo();
    design.bench.of = Measured::OpenLoop;
    design.bench.looped = measured(&grid(), |_| Complex64::new(1.0, 0.0), 1);
    let found = bench(&design);
    assert!(
        found
            .error
            .as_ref()
            .is_some_and(|error| error.contains("no plant"))
    );
    design.bench.of = Measured::Stage;
    design.stages[0].measured = "1 2 3\n".to_owned();
    assert!(bench(&design).error.is_some());
    design.stages[0].measured = "no table".to_owned();
    assert!(bench(&design).error.is_some());
}
