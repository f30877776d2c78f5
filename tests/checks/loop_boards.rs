//! The run over boards and plants against each board's loop read on its own, traced finely.

use polewright::design::Design;
use polewright::servo::sweep;
use polewright::servo::{
    LoopRun, LoopSetting, Margins, OpenLoop, Plant, PlantStrays, fit, trace, unstable_poles,
    whole_range,
};
use polewright::solve::solve;
use polewright::spread::{Distribution, Population, Reach, Stray};
use polewright::stages::{Ask, Model, by_id};

/// A PD, two notches and the demo's plant: some boards are unstable.
#[test]
fn every_board_is_read_as_it_would_be_alone() {
    let swept = sweep::read(sweep::DEMO, None).sweep;
    let plant = fit(&swept, &polewright::servo::Settings::default())
        .expect("the demo's sweep is fitted")
        .model;
    let design = Design::default();
    let notch = |frequency: f64, q: f64| -> Ask {
        serde_json::from_value(
            serde_json::json!({"family": "notch", "frequency": frequency, "q": q}),
        )
        .expect("an ask")
    };
    let pid: Ask = serde_json::from_value(serde_json::json!({
        "family": "pid", "roll_off": 2500.0,
        "values": {"notation": "zeros", "low": 15.0, "high": 130.0, "gain": 400.0, "at": 420.0}
    }))
    .expect("an ask");
    let path = [
        ("pid-parallel", pid),
        ("mfb-notch", notch(2350.0, 6.0)),
        ("mfb-notch", notch(5100.0, 6.0)),
    ];
    let mut models = Vec::new();
    let mut values = Vec::new();
    for (circuit, ask) in path {
        let mut design = design.clone();
        design.stages[0].circuit = circuit.to_owned();
        design.stages[0].ask = ask.clone();
        design.spread.boards = 100;
        design.view.compare = false;
        design.view.blame = false;
        let outcome = solve(&design).expect("a pick");
        let stage = by_id(circuit).expect("a stage");
        let model = Model::new(stage, &ask, &design.op_amp).expect("a circuit");
        let parts = &outcome.stages[0].parts;
        let value = |name: &str| {
            parts
                .iter()
                .find(|p| p.name == name)
                .map_or(0.0, |p| p.value)
        };
        values.push(
            model
                .netlist
                .parts()
                .iter()
                .map(|p| value(&p.name))
                .collect::<Vec<f64>>(),
        );
        models.push(model);
    }
    let nominal: Vec<_> = models
        .iter()
        .zip(&values)
        .map(|(m, v)| m.transfer(v))
        .collect();
    let distribution = Distribution::UNIFORM;
    let mut strays = Vec::new();
    for (model, values) in models.iter().zip(&values) {
        let mut inputs = Vec::new();
        model.inputs(values, &mut inputs);
        let parts = model.netlist.parts().iter();
        let is_part = parts.flat_map(|p| vec![p.kind.unit().is_some(); p.kind.inputs()]);
        strays.extend(inputs.iter().zip(is_part).map(|(&nominal, is_part)| {
            let stray = Stray::within(nominal, 0.05, distribution);
            if is_part {
                Stray {
                    own: Reach {
                        tempco: 1e-4,
                        ..stray.own
                    },
                    ..stray
                }
            } else {
                Stray::fixed(nominal)
            }
        }));
    }
    let setting = LoopSetting {
        stages: models.iter().collect(),
        population: Population {
            strays,
            commons: 0,
            temperature_span: 20.0,
        },
        plant: &plant,
        strays: PlantStrays {
            frequency: 0.03,
            damping: 0.4,
            gain: 0.3,
        },
        distribution,
        sign: 1.0,
        seed: 7,
        boards: 1500,
    };
    let marked = OpenLoop {
        stages: nominal.iter().collect(),
        plant: Plant::Model(&plant),
        sign: 1.0,
    };
    let mut run = LoopRun::new(setting, &marked);
    let all: Vec<&Model> = models.iter().collect();
    assert!(run.advance(&all, &mut || true));
    let built = run.built().to_vec();
    let (mut unstable, mut touching, mut shouldered) = (0, Vec::new(), 0);
    for (number, built) in built.iter().enumerate() {
        let (transfers, plant) = run.board(&all, number as u32);
        let open = OpenLoop {
            stages: transfers.iter().collect(),
            plant: Plant::Model(&plant),
            sign: 1.0,
        };
        let (low, high) = whole_range(&open);
        let traced = trace(&open, low, high);
        let read = Margins::read(&open, &traced);
        let count = unstable_poles(&traced, 0, 0);
        assert_eq!(
            Some(built.is_stable),
            count.map(|n| n == 0),
            "board {number}"
        );
        unstable += u32::from(!built.is_stable);
        let near = |a: f64, b: f64, what: &str| {
            assert!((a / b - 1.0).abs() < 1e-6, "board {number}: {what} {a} {b}");
        };
        near(
            built.phase_margin,
            read.phase_margin().expect("a crossover").phase_margin,
            "phase margin",
        );
        // A top on the shoulder of a wider one may hide between the grid's points.
        let peak = read.sensitivity_peak.expect("a peak").0;
        let off = (built.sensitivity / peak - 1.0).abs();
        assert!(off < 1e-3, "board {number}: M_s {off}");
        shouldered += u32::from(off > 1e-6);
        near(
            built.crossover,
            read.crossover().expect("a crossover").frequency,
            "crossover",
        );
        let gains = read.phase_crossings.iter();
        let margin = gains
            .map(|c| (20.0 * c.gain_margin.log10()).abs())
            .fold(f64::INFINITY, f64::min);
        // Where the curve just touches the axis, one of the two may see a pair of crossings that the other
        // steps over.
        if (built.gain_margin_db / margin - 1.0).abs() > 1e-6 {
            touching.push((number, built.gain_margin_db, margin));
        }
    }
    assert!(shouldered < 4, "{shouldered} tops hidden");
    let is_slight = |(_, a, b): &(usize, f64, f64)| (a - b).abs() < 1.0;
    assert!(
        touching.len() < 8 && touching.iter().all(is_slight),
        "{touching:?}"
    );
    assert!((20..1480).contains(&unstable), "{unstable} unstable");
}
