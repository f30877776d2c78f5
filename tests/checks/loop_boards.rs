//! The run over boards and plants against each board's loop read on its own, traced finely.

use polewright::design::Design;
use polewright::feedback::{
    LoopRun, LoopSetting, Margins, OpenLoop, OpenPoles, PlantVariations, trace_whole,
    unstable_poles,
};
use polewright::plant::sweep;
use polewright::plant::{Model as Plant, fit};
use polewright::quantity::Unit;
use polewright::response::Transfer;
use polewright::solve::solve;
use polewright::spread::{Distribution, Population, Reach, Variation};
use polewright::stages::{Ask, Model, by_id};

/// A path with bought parts, and a plant.
pub struct Bench {
    models: Vec<Model>,
    values: Vec<Vec<f64>>,
    pub plant: Plant,
}

impl Bench {
    /// The demo's plant behind a PID of these values and two notches of a Q.
    pub fn demo(values: serde_json::Value, q: f64) -> Bench {
        let swept = sweep::read(sweep::DEMO, None).sweep;
        let plant = fit(&swept, &polewright::plant::Settings::default())
            .expect("the demo's sweep is fitted")
            .model;
        let notch = |frequency: f64| -> Ask {
            serde_json::from_value(
                serde_json::json!({"family": "notch", "frequency": frequency, "q": q}),
            )
            .expect("an ask")
        };
        let pid: Ask = serde_json::from_value(serde_json::json!({
            "family": "pid", "roll_off": 2500.0, "values": values
        }))
        .expect("an ask");
        let path = [
            ("pid-parallel", pid),
            ("mfb-notch", notch(2350.0)),
            ("mfb-notch", notch(5100.0)),
        ];
        Bench::of(&path, plant)
    }

    fn of(path: &[(&str, Ask)], plant: Plant) -> Bench {
        let (mut models, mut values) = (Vec::new(), Vec::new());
        for (circuit, ask) in path {
            let mut design = Design::default();
            design.stages[0].circuit = (*circuit).to_owned();
            design.stages[0].ask = ask.clone();
            design.spread.boards = 100;
            design.view.compare = false;
            design.view.propose = false;
            design.view.contributions = false;
            let outcome = solve(&design).expect("a pick");
            let stage = by_id(circuit).expect("a stage");
            let model = Model::new(stage, ask, &design.op_amp.op_amp()).expect("a circuit");
            let parts = &outcome.stages[0].parts;
            let value = |name: &str| {
                parts
                    .iter()
                    .find(|p| p.name == name)
                    .map_or(0.0, |p| p.value)
            };
            let own = model.netlist.parts();
            values.push(own.iter().map(|p| value(&p.name)).collect());
            models.push(model);
        }
        Bench {
            models,
            values,
            plant,
        }
    }

    /// With the path's first stage alone.
    pub fn first(mut self) -> Bench {
        self.models.truncate(1);
        self.values.truncate(1);
        self
    }

    pub fn models(&self) -> Vec<&Model> {
        self.models.iter().collect()
    }

    /// The board as marked.
    pub fn transfers(&self) -> Vec<Transfer> {
        let both = self.models.iter().zip(&self.values);
        both.map(|(m, v)| m.transfer(v)).collect()
    }

    /// A run with parts of 5 %; what strays of the plant is given.
    pub fn run(&self, variations: PlantVariations, boards: u32) -> LoopRun {
        let distribution = Distribution::UNIFORM;
        let mut parts_variations = Vec::new();
        for (model, values) in self.models.iter().zip(&self.values) {
            let mut inputs = Vec::new();
            model.inputs(values, &mut inputs);
            let parts = model.netlist.parts().iter();
            let is_part = parts.flat_map(|p| vec![Unit::of(p.kind).is_some(); p.kind.inputs()]);
            parts_variations.extend(inputs.iter().zip(is_part).map(|(&nominal, is_part)| {
                let variation = Variation::within(nominal, 0.05, distribution);
                if is_part {
                    Variation {
                        own: Reach {
                            tempco: 1e-4,
                            ..variation.own
                        },
                        ..variation
                    }
                } else {
                    Variation::fixed(nominal)
                }
            }));
        }
        let setting = LoopSetting {
            stages: self.models(),
            population: Population {
                variations: parts_variations,
                commons: 0,
                temperature_span: 20.0,
            },
            plant: &self.plant,
            variations,
            distribution,
            sign: 1.0,
            settle_band: 0.02,
            seed: 7,
            boards,
        };
        let transfers = self.transfers();
        let marked = closed_round(&transfers, &self.plant);
        LoopRun::new(setting, &marked, &trace_whole(&marked))
    }
}

/// A path round a plant.
pub fn closed_round<'a>(transfers: &'a [Transfer], plant: &'a Plant) -> OpenLoop<'a> {
    OpenLoop {
        stages: transfers.iter().collect(),
        plant: polewright::plant::Plant::Model(plant),
        sign: 1.0,
    }
}

/// A PID, two notches and the demo's plant: some boards are unstable.
#[test]
fn every_board_is_read_as_it_would_be_alone() {
    let bench = Bench::demo(
        serde_json::json!({"notation": "zeros", "low": 15.0, "high": 130.0, "gain": 400.0, "at": 420.0}),
        6.0,
    );
    let variations = PlantVariations {
        frequency: 0.03,
        damping: 0.4,
        gain: 0.3,
    };
    let mut run = bench.run(variations, 1500);
    let all = bench.models();
    assert!(run.advance(&all, &mut || true).is_ready());
    let built = run.built().to_vec();
    let (mut unstable, mut touching, mut shouldered) = (0, Vec::new(), 0);
    for (number, built) in built.iter().enumerate() {
        let (transfers, plant) = run.board(&all, number as u32);
        let open = closed_round(&transfers, &plant);
        let traced = trace_whole(&open);
        let read = Margins::read(&open, &traced);
        let count = unstable_poles(&traced, plant.delay, OpenPoles::default());
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

/// A mode so narrow beside its drift that its peak lies between any points that all boards have: at its top the loop goes
/// round −1, which each board's loop on its own says.
#[test]
fn a_narrow_mode_that_drifts_far_is_seen() {
    let ask: Ask = serde_json::from_value(
        serde_json::json!({"family": "low-pass1", "frequency": 200.0, "gain": 1.0}),
    )
    .expect("an ask");
    let mode = |frequency: f64, damping: f64, level: f64| polewright::plant::Mode {
        frequency,
        damping,
        residue: level * (std::f64::consts::TAU * frequency).powi(2),
        slope: 0.0,
    };
    let plant = Plant {
        modes: vec![mode(30.0, 0.5, 0.2), mode(1000.0, 1e-4, 15.0 * 2e-4)],
        ..Plant::default()
    };
    let bench = Bench::of(&[("follower-low-pass", ask)], plant);
    let variations = PlantVariations {
        frequency: 0.2,
        damping: 0.5,
        gain: 0.9,
    };
    let mut run = bench.run(variations, 400);
    let all = bench.models();
    assert!(run.advance(&all, &mut || true).is_ready());
    let built = run.built().to_vec();
    let mut unstable = 0;
    for (number, built) in built.iter().enumerate() {
        let (transfers, plant) = run.board(&all, number as u32);
        let open = closed_round(&transfers, &plant);
        let count = unstable_poles(&trace_whole(&open), plant.delay, OpenPoles::default());
        assert_eq!(
            Some(built.is_stable),
            count.map(|n| n == 0),
            "board {number}"
        );
        unstable += u32::from(!built.is_stable);
    }
    assert!((40..360).contains(&unstable), "{unstable} unstable");
}
