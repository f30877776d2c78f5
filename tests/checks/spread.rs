//! The spread against an independent NumPy run of a million boards and the first-order standard
//! deviation (tests/reference/spread.py), and the interval against SciPy (tests/reference/interval.py).

use std::collections::BTreeMap;

use polewright::design::Design;
use polewright::parts::OpAmp;
use polewright::response::Transfer;
use polewright::spread::{
    Band, Boards, Distribution, Draws, Law, Population, Rows, RunStage, RunView, Sampling,
    SpreadRun, Variation, bands, clopper_pearson, extremes, quantiles,
};
use polewright::stages::{Ask, CATALOGUE, Model, NotchAsk, by_id};
use serde::Deserialize;

use super::asks::Random;

#[derive(Deserialize)]
struct Reference {
    boards: u32,
    nominal: BTreeMap<String, f64>,
    tolerance: BTreeMap<String, f64>,
    probe_hz: f64,
    probabilities: Vec<f64>,
    laws: BTreeMap<String, OneLaw>,
}

#[derive(Deserialize)]
struct OneLaw {
    #[serde(flatten)]
    figures: BTreeMap<String, serde_json::Value>,
    first_order: FirstOrder,
}

#[derive(Deserialize)]
struct FirstOrder {
    ln_f0: f64,
}

#[derive(Deserialize)]
struct Moments {
    mean: [f64; 2],
    standard_deviation: [f64; 2],
    quantiles: Vec<[f64; 2]>,
}

const BOARDS: u32 = 100_000;

struct Notch {
    model: Model,
    values: Vec<f64>,
    tolerances: Vec<f64>,
}

impl Notch {
    /// Its boards; the op amp stays as it is.
    fn population(&self, law: Law) -> Population {
        let distribution = Distribution {
            law,
            ..Distribution::UNIFORM
        };
        let mut inputs = Vec::new();
        self.model.inputs(&self.values, &mut inputs);
        let tolerances = self
            .tolerances
            .iter()
            .copied()
            .chain(std::iter::repeat(0.0));
        let variation = |(&nominal, tolerance)| match tolerance {
            0.0 => Variation::fixed(nominal),
            _ => Variation::within(nominal, tolerance, distribution),
        };
        Population {
            variations: inputs.iter().zip(tolerances).map(variation).collect(),
            commons: 0,
            temperature_span: 0.0,
        }
    }
}

fn notch(reference: &Reference) -> Notch {
    let ask = NotchAsk {
        frequency: reference.probe_hz,
        ..NotchAsk::default()
    };
    let model = Model::new(
        by_id("mfb-notch").expect("the stage"),
        &Ask::Notch(ask),
        &OpAmp::IDEAL,
    )
    .expect("a circuit");
    let find = |table: &BTreeMap<String, f64>| -> Vec<f64> {
        model
            .netlist
            .parts()
            .iter()
            .map(|p| table.get(&p.name).copied().unwrap_or(0.0))
            .collect()
    };
    let (values, tolerances) = (find(&reference.nominal), find(&reference.tolerance));
    Notch {
        model,
        values,
        tolerances,
    }
}

fn run(notch: &Notch, law: Law, boards: u32, seed: u64, slice: usize) -> SpreadRun {
    let model = &notch.model;
    let reference = model.transfer(&notch.values);
    let sampling = Sampling {
        population: notch.population(law),
        seed,
        boards,
        stop: None,
    };
    let stage = RunStage {
        model,
        nominal: model.figures(&notch.values, None, &mut Default::default()),
        reference: &reference,
    };
    let view = RunView {
        stage: 0,
        frequencies: vec![1000.0, 2350.0, 5000.0],
        phase_at: 420.0,
    };
    let mut run = SpreadRun::new(vec![stage], sampling, view);
    let mut left = 0;
    while run
        .advance(&[model], &mut || {
            left -= 1;
            left >= 0
        })
        .is_pending()
    {
        left = slice as i32;
    }
    run
}

fn column(notch: &Notch, run: &SpreadRun, name: &str) -> Vec<f64> {
    let at = notch
        .model
        .yardstick
        .figures()
        .iter()
        .position(|f| f.name == name)
        .expect("a figure");
    run.figure(at).to_vec()
}

#[test]
fn figures_spread_as_in_an_independent_run() {
    let reference: Reference = super::reference::read("spread");
    let notch = notch(&reference);
    for (name, law) in [("uniform", Law::Uniform), ("cut_normal", Law::Normal)] {
        let expected = &reference.laws[name];
        let run = run(&notch, law, BOARDS, 7, 50);
        // Both count decibels from the gain at DC.
        let columns = [
            ("f0_hz", column(&notch, &run, "notch-frequency")),
            ("q", column(&notch, &run, "q")),
            ("attenuation_db", column(&notch, &run, "ask-attenuation-db")),
            ("depth_db", column(&notch, &run, "depth-db")),
        ];
        // Our sample is smaller than the reference's by this factor; errors of both add.
        let wider = (f64::from(reference.boards) / f64::from(BOARDS) + 1.0).sqrt();
        for (figure, ours) in columns {
            let moments: Moments =
                serde_json::from_value(expected.figures[figure].clone()).expect("moments");
            let n = ours.len() as f64;
            let mean = ours.iter().sum::<f64>() / n;
            let deviation =
                (ours.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
            let check = |what: &str, ours: f64, [value, error]: [f64; 2]| {
                // Four and a half standard errors: one false alarm in 150 000.
                let bound = 4.5 * error * wider;
                assert!(
                    (ours - value).abs() < bound,
                    "{name} {figure} {what}: {ours} against {value} ± {bound}"
                );
            };
            check("mean", mean, moments.mean);
            check("deviation", deviation, moments.standard_deviation);
            for (p, expected) in reference.probabilities.iter().zip(moments.quantiles) {
                check("quantile", quantiles(&ours, [*p])[0], expected);
            }
        }
        // First order (JCGM 101 calls it the GUM uncertainty framework): good to a per cent here.
        let f0 = column(&notch, &run, "notch-frequency");
        let logs: Vec<f64> = f0.iter().map(|f| f.ln()).collect();
        let mean = logs.iter().sum::<f64>() / logs.len() as f64;
        let deviation =
            (logs.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / logs.len() as f64).sqrt();
        assert!(
            (deviation / expected.first_order.ln_f0 - 1.0).abs() < 0.01,
            "{deviation}"
        );
    }
}

#[test]
fn boards_do_not_hang_on_slices() {
    let reference: Reference = super::reference::read("spread");
    let notch = notch(&reference);
    let (whole, cut) = (
        run(&notch, Law::Uniform, 1000, 3, 1000),
        run(&notch, Law::Uniform, 1000, 3, 1),
    );
    assert_eq!(whole.figure(0), cut.figure(0));
    assert_eq!(whole.bands(), cut.bands());
    assert_eq!(whole.passed(), cut.passed());
    let other = run(&notch, Law::Uniform, 1000, 4, 1000);
    assert_ne!(whole.figure(0), other.figure(0));
    // The first boards of a long run are the boards of a short one.
    let long = run(&notch, Law::Uniform, 2000, 3, 1000);
    assert_eq!(whole.figure(0), &long.figure(0)[..1000]);
}

#[test]
fn bands_against_sorted_boards() {
    let reference: Reference = super::reference::read("spread");
    let notch = notch(&reference);
    let count = 3001;
    let run = run(&notch, Law::Normal, count, 11, 3);
    let (magnitude, phase) = run.bands();
    let mut draws = Draws::new(notch.population(Law::Normal), 11);
    let mut values = vec![0.0; notch.model.program.inputs()];
    let responses: Vec<_> = (0..u64::from(count))
        .map(|board| {
            draws.board(board, &mut values);
            notch.model.program.transfer(&values, notch.model.scale)
        })
        .collect();
    for (k, f) in [1000.0, 2350.0, 5000.0].into_iter().enumerate() {
        let db: Vec<f64> = responses.iter().map(|h| h.magnitude_db(f)).collect();
        for (p, found) in [
            (0.0, &magnitude.low),
            (0.05, &magnitude.q05),
            (0.5, &magnitude.median),
            (0.95, &magnitude.q95),
            (1.0, &magnitude.high),
        ] {
            let expected = quantiles(&db, [p])[0];
            // At the null single precision is good to −130 dB and boards reach −80.
            assert!(
                (found[k] - expected).abs() < 0.03,
                "{f} Hz, {p}: {} against {expected} dB",
                found[k]
            );
        }
        if f != 2350.0 {
            let degrees: Vec<f64> = responses.iter().map(|h| h.phase_deg(f)).collect();
            for (p, found) in [
                (0.0, &phase.low),
                (0.05, &phase.q05),
                (0.5, &phase.median),
                (0.95, &phase.q95),
                (1.0, &phase.high),
            ] {
                let expected = quantiles(&degrees, [p])[0];
                assert!(
                    (found[k] - expected).abs() < 0.06,
                    "{f} Hz, {p}: {} against {expected}°",
                    found[k]
                );
            }
        }
    }
}

/// The 5 and 95 % lines and the median against boards that are sorted, over circuits, frequencies, laws and tolerances
/// down to a band of thousandths of a decibel: off by no more than a two-hundredth of the band's own width, or by what
/// single precision is good for. Quantiles are NumPy's (`numpy.quantile`, linear between sorted values).
#[test]
fn narrow_bands_are_as_good_as_wide_ones() {
    let mut random = Random(11);
    let (mut compared, mut narrowest) = (0, f64::INFINITY);
    for stage in CATALOGUE.iter().step_by(3) {
        let ask = stage.default_ask();
        let mut design = Design::default();
        design.stages[0].circuit = stage.id().to_owned();
        design.stages[0].ask = ask.clone();
        let picked = polewright::solve::solve(&design.edited(&quiet()).expect("a design"));
        let picked = picked.expect("an outcome").stages[0].clone();
        let model = Model::new(*stage, &ask, &OpAmp::default()).expect("a model");
        let mut parts = picked.parts.iter();
        let mut values = vec![0.0; model.netlist.parts().len()];
        for (part, value) in values.iter_mut().enumerate() {
            *value = match model.bought[part] {
                true => parts.next().expect("a part").value,
                false => model.given(part),
            };
        }
        let mut inputs = Vec::new();
        model.inputs(&values, &mut inputs);
        let law = [Law::Uniform, Law::Normal][(random.part() < 0.5) as usize];
        let tolerance = random.between(2e-5, 0.1);
        let distribution = Distribution {
            law,
            ..Distribution::UNIFORM
        };
        let variation = |&nominal: &f64| Variation::within(nominal, tolerance, distribution);
        let population = Population {
            variations: inputs.iter().map(variation).collect(),
            commons: 0,
            temperature_span: 0.0,
        };
        let count = [20, 300, 5000][(random.part() * 3.0) as usize];
        let mut draws = Draws::new(population, 5);
        let mut numbers = vec![0.0; count * inputs.len()];
        draws.boards(0, &mut numbers);
        let centre = ask.asked().frequency();
        let frequencies: Vec<f64> = (0..12)
            .map(|_| centre * random.between(0.03, 30.0))
            .collect();
        let reference = model.transfer(&values);
        let nominal: Vec<_> = frequencies.iter().map(|&f| reference.at(f)).collect();
        let boards = Boards {
            program: &model.program,
            scale: model.scale,
            rows: Rows {
                numbers: &numbers,
                stride: inputs.len(),
                first: 0,
            },
        };
        let (magnitude, phase) = bands(&[boards], &frequencies, &nominal);
        let responses: Vec<_> = numbers
            .chunks_exact(inputs.len())
            .map(|numbers| model.program.transfer(numbers, model.scale))
            .collect();
        for (k, (&f, of)) in frequencies.iter().zip(&nominal).enumerate() {
            let db = |h: &Transfer| h.magnitude_db(f);
            let turned = of.arg().to_degrees();
            let degrees = |h: &Transfer| turned + (h.at(f) / of).arg().to_degrees();
            let single = 2e-5 * 60.0f64.max(reference.magnitude_db(f).abs());
            let looks: [(&Band, Vec<f64>, f64); 2] = [
                (&magnitude, responses.iter().map(db).collect(), single),
                (&phase, responses.iter().map(degrees).collect(), 1e-3),
            ];
            for (band, all, single) in looks {
                let expected = sorted_quantiles(all, [0.0, 0.05, 0.5, 0.95, 1.0]);
                let width = expected[3] - expected[1];
                let found = [
                    band.low[k],
                    band.q05[k],
                    band.median[k],
                    band.q95[k],
                    band.high[k],
                ];
                for (found, expected) in found.iter().zip(expected) {
                    assert!(
                        (found - expected).abs() < width / 200.0 + single,
                        "{} at {f} Hz, {count} boards within {tolerance}: {found} for {expected} in a band of {width}",
                        stage.id()
                    );
                    compared += 1;
                }
                narrowest = narrowest.min(width);
            }
        }
    }
    assert!(
        compared > 1000 && narrowest < 0.03,
        "{compared} {narrowest}"
    );
}

/// As `numpy.quantile` takes them: at place (n − 1)·p among the sorted values, linear between two.
fn sorted_quantiles<const N: usize>(mut values: Vec<f64>, shares: [f64; N]) -> [f64; N] {
    values.sort_by(f64::total_cmp);
    shares.map(|share| {
        let place = share * (values.len() - 1) as f64;
        let (below, part) = (place.floor() as usize, place.fract());
        let above = (below + 1).min(values.len() - 1);
        values[below] + part * (values[above] - values[below])
    })
}

/// Nothing but parts.
fn quiet() -> Vec<polewright::design::Edit> {
    let edit = |path: &str, value: serde_json::Value| polewright::design::Edit {
        path: path.to_owned(),
        value,
    };
    vec![
        edit("/view/compare", false.into()),
        edit("/view/propose", false.into()),
        edit("/view/blame", false.into()),
        edit("/spread/boards", 100.into()),
    ]
}

#[test]
fn extremes_in_lanes_are_those_of_single_boards() {
    let reference: Reference = super::reference::read("spread");
    let notch = notch(&reference);
    let frequencies = [500.0, 2000.0, 2350.0, 9000.0];
    for count in [1, 3, 8, 13, 257, 500] {
        let mut draws = Draws::new(notch.population(Law::Uniform), 5);
        let mut values = vec![0.0; notch.model.program.inputs()];
        let mut boards = Vec::new();
        let mut responses = Vec::new();
        for board in 0..count {
            draws.board(board, &mut values);
            boards.extend_from_slice(&values);
            responses.push(notch.model.program.transfer(&values, notch.model.scale));
        }
        let stage = || Boards {
            program: &notch.model.program,
            scale: notch.model.scale,
            rows: Rows {
                numbers: &boards,
                stride: values.len(),
                first: 0,
            },
        };
        // Once, and three times in a row.
        for (stages, power) in [(vec![stage()], 1), (vec![stage(), stage(), stage()], 3)] {
            let (least, most) = extremes(&stages, &frequencies);
            for (k, &f) in frequencies.iter().enumerate() {
                let gains: Vec<f64> = responses
                    .iter()
                    .map(|h| h.at(f).norm().powi(power))
                    .collect();
                let (low, high) = (
                    gains.iter().copied().fold(f64::INFINITY, f64::min),
                    gains.iter().copied().fold(0.0, f64::max),
                );
                assert!(
                    (least[k] - low).abs() < 1e-6 && (most[k] - high).abs() < 1e-6,
                    "{count} boards at {f} Hz, {power} stages"
                );
            }
        }
    }
}

#[derive(Deserialize)]
struct Intervals {
    confidence: f64,
    cases: Vec<Interval>,
}

#[derive(Deserialize)]
struct Interval {
    k: u64,
    n: u64,
    clopper_pearson: [f64; 2],
}

#[test]
fn interval_on_the_yield() {
    let reference: Intervals = super::reference::read("interval");
    assert!(reference.cases.len() > 50);
    for case in reference.cases {
        let (low, high) = clopper_pearson(case.k, case.n, reference.confidence);
        for (found, expected) in [
            (low, case.clopper_pearson[0]),
            (high, case.clopper_pearson[1]),
        ] {
            assert!(
                (found - expected).abs() < 1e-9 + 1e-6 * expected.min(1.0 - expected),
                "{} of {}: {found} against {expected}",
                case.k,
                case.n
            );
        }
    }
}
