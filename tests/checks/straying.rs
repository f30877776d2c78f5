//! How parts of a board stray together, against closed forms: variances and covariances of sums of
//! independent uniform quantities (any textbook of probability), and the limits that are promised.

use polewright::design::{Design, Network, PartSpread};
use polewright::parts::DataSheet;
use polewright::spread::{
    Distribution, Draws, Factor, Law, Population, Reach, Shared, Variation, VariationKind,
};

const BOARDS: u64 = 200_000;

/// Relative deviations of `BOARDS` boards, a column a stray.
fn columns(population: &Population) -> Vec<Vec<f64>> {
    let mut draws = Draws::new(population.clone(), 3);
    let mut values = vec![0.0; population.variations.len()];
    let mut columns = vec![Vec::new(); values.len()];
    for board in 0..BOARDS {
        draws.board(board, &mut values);
        for ((column, value), variation) in
            columns.iter_mut().zip(&values).zip(&population.variations)
        {
            column.push(value / variation.nominal - 1.0);
        }
    }
    columns
}

fn covariance(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len() as f64;
    let mean = |x: &[f64]| x.iter().sum::<f64>() / n;
    let (p, q) = (mean(a), mean(b));
    a.iter().zip(b).map(|(a, b)| (a - p) * (b - q)).sum::<f64>() / n
}

fn most(column: impl Iterator<Item = f64>) -> f64 {
    column.fold(0.0, |most, v| most.max(v.abs()))
}

/// A stray of 1 kΩ with a tolerance of its own and one that it shares.
fn sharing(own: f64, shared: f64) -> Variation {
    Variation {
        shared: Some(Shared {
            common: 0,
            reach: Reach {
                tolerance: shared,
                ..Reach::default()
            },
        }),
        ..Variation::within(1e3, own, Distribution::UNIFORM)
    }
}

/// Of uniform quantities the variance is a third of the reach's square; independent ones add.
#[test]
fn a_lot_shares_what_it_says() {
    let (tolerance, share) = (0.05, 0.8);
    let variation = sharing(tolerance * (1.0 - share), tolerance * share);
    let population = Population {
        variations: vec![variation; 2],
        commons: 1,
        temperature_span: 0.0,
    };
    let columns = columns(&population);
    let third = |reach: f64| reach * reach / 3.0;
    let own = third(tolerance * (1.0 - share));
    let common = third(tolerance * share);
    let near = |found: f64, expected: f64, what: &str| {
        assert!(
            (found / expected - 1.0).abs() < 0.02,
            "{what}: {found} against {expected}"
        );
    };
    near(
        covariance(&columns[0], &columns[0]),
        own + common,
        "variance",
    );
    near(covariance(&columns[0], &columns[1]), common, "covariance");
    assert!(most(columns[0].iter().copied()) <= tolerance);
}

#[test]
fn a_network_keeps_its_ratio() {
    let mut design = Design::default();
    design.spread.networks = vec![Network {
        ratio_tolerance: 0.001,
        ratio_tempco: 5e-6,
    }];
    design.spread.temperature_span = 20.0;
    design.shelf.resistors.tempco = 100e-6;
    for name in ["R3", "R4"] {
        let part = PartSpread {
            network: Some(1),
            ..PartSpread::default()
        };
        design.stages[0].variations.insert(name.to_owned(), part);
    }
    let outcome = polewright::solve::solve(&design).expect("an outcome");
    let spread = outcome.spread.expect("a spread");
    let at = |name: &str| {
        spread
            .figures
            .iter()
            .position(|f| f.name == name)
            .expect(name)
    };
    // The gain at DC is R4/(R3 + R4): k = 1/(1 + r) moves by k(1 − k) times the ratio's deviation.
    let values = |name: &str| {
        let part = outcome.stages[0].parts.iter().find(|p| p.name == name);
        part.expect("a part").value
    };
    let k = values("R4") / (values("R3") + values("R4"));
    let gain = &spread.sample.values[at("gain-low-db")];
    let marked = outcome.stages[0].figures[at("gain-low-db")].value;
    let off = gain.iter().map(|db| 10f64.powf((db - marked) / 20.0) - 1.0);
    let reach = (1.0 - k) * (0.001 + 5e-6 * 20.0);
    let found = most(off);
    assert!(found < reach * 1.02, "{found} beyond {reach}");
    assert!(
        found > reach * 0.5,
        "{found} of {reach}: too tame to be the ratio"
    );
    // Without the network the ratio strays twenty times as far.
    design.stages[0].variations.clear();
    let loose = polewright::solve::solve(&design)
        .expect("an outcome")
        .spread
        .expect("a spread");
    let off = loose.sample.values[at("gain-low-db")].iter();
    assert!(most(off.map(|db| 10f64.powf((db - marked) / 20.0) - 1.0)) > 10.0 * reach);
}

#[test]
fn drift_and_ageing_reach_as_far_as_they_say() {
    let variation = |tempco: f64, ageing: f64| Variation {
        kind: VariationKind::Ratio,
        own: Reach {
            tolerance: 0.0,
            tempco,
            ageing,
        },
        ..Variation::fixed(1e-9)
    };
    let population = Population {
        variations: vec![
            variation(1e-4, 0.0),
            variation(0.0, 0.01),
            variation(1e-4, 0.01),
        ],
        commons: 0,
        temperature_span: 40.0,
    };
    let columns = columns(&population);
    for (column, reach) in columns.iter().zip([0.004, 0.01, 0.014]) {
        let found = most(column.iter().copied());
        assert!(
            found <= reach + 1e-12 && found > 0.97 * reach,
            "{found} of {reach}"
        );
    }
    // A product of two uniform quantities within ±1 has a variance of a ninth.
    let variance = covariance(&columns[0], &columns[0]);
    assert!(
        (variance / (0.004f64.powi(2) / 9.0) - 1.0).abs() < 0.02,
        "{variance}"
    );
    // Boards are hot or cold as a whole, but parts drift either way: nothing in common on the average.
    let correlation = covariance(&columns[0], &columns[2]) / variance;
    assert!(correlation.abs() < 0.05, "{correlation}");
}

#[test]
fn an_op_amp_strays_by_its_own_numbers() {
    let mut design = Design::default();
    design.view.compare = false;
    design.view.contributions = false;
    design.view.propose = false;
    design.spread.op_amps.gain_bandwidth = 0.4;
    design.spread.op_amps.gain_db = 10.0;
    design.op_amp = DataSheet {
        gain_bandwidth: 1e6,
        ..DataSheet::default()
    };
    let mut work = polewright::solve::Work::begin(&design).expect("a design");
    while work.advance(&mut || true) != polewright::solve::Step::Done {}
    let mut seen = (f64::INFINITY, 0.0f64, 0.0f64);
    for number in 0..500 {
        let board = work.board(number).expect("a board");
        for part in &board.parts {
            if part.label.starts_with("gain-bandwidth") {
                assert!((part.marked / 1e6 - 1.0).abs() < 1e-12);
                seen.0 = seen.0.min(part.value);
                seen.1 = seen.1.max(part.value);
            }
            if part.label.starts_with("open-loop gain") {
                seen.2 = seen.2.max((part.value - 120.0).abs());
            }
        }
    }
    assert!(seen.0 >= 0.6e6 && seen.0 < 0.62e6, "{seen:?}");
    assert!(seen.1 <= 1.4e6 && seen.1 > 1.38e6, "{seen:?}");
    assert!(seen.2 <= 10.0 && seen.2 > 9.5, "{seen:?}");
}

/// A board that is built again has the figures that the run read.
#[test]
fn a_board_built_again_is_the_board_of_the_run() {
    let mut design = Design::default();
    design.view.compare = false;
    design.view.contributions = false;
    design.view.propose = false;
    design.stages.push(design.stages[0].clone());
    design.view.stage = 1;
    let mut work = polewright::solve::Work::begin(&design).expect("a design");
    while work.advance(&mut || true) != polewright::solve::Step::Done {}
    let spread = work.outcome().spread.clone().expect("a spread");
    for number in [0, 1, 2, 255, 256, 700, 999] {
        let board = work.board(number).expect("a board");
        let at = number as usize;
        for (values, found) in spread.sample.values.iter().zip(&board.figures) {
            let read = values[at];
            assert!(
                (read / found - 1.0).abs() < 1e-9,
                "{number}: {read} {found}"
            );
        }
        assert_eq!(board.holds.iter().all(|h| *h), spread.sample.good[at]);
    }
    let bad = spread.bad.iter().filter(|n| **n < 1000).count();
    assert_eq!(
        bad,
        spread.sample.good.iter().filter(|good| !**good).count()
    );
}

/// Factors are independent and rebuild the board; what they contribute adds up to first order.
#[test]
fn factors_make_the_board() {
    let population = Population {
        variations: vec![
            sharing(0.002, 0.01),
            Variation::fixed(5.0),
            Variation {
                distribution: Distribution {
                    law: Law::Normal,
                    sigmas: 3.0,
                    hole: 0.3,
                },
                ..sharing(0.004, 0.01)
            },
        ],
        commons: 1,
        temperature_span: 10.0,
    };
    let mut draws = Draws::new(population.clone(), 9);
    let factors = draws.factors();
    assert_eq!(
        factors,
        [
            Factor::Temperature,
            Factor::Common(0),
            Factor::Own(0),
            Factor::Own(2)
        ]
    );
    let mut units = vec![0.0; draws.unit_count()];
    let (mut values, mut again) = (vec![0.0; 3], vec![0.0; 3]);
    let mut moved = vec![0.0; factors.len()];
    for board in [5, 4, 4000] {
        draws.units(board, &mut units);
        draws.values(&units, &mut values);
        draws.board(board, &mut again);
        assert_eq!(values, again);
        draws.factor_deviations(&units, &mut moved);
        let off = values[0] / population.variations[0].nominal - 1.0;
        assert!((off - moved[1] - moved[2]).abs() < 1e-12);
        assert_eq!(values[1], 5.0);
    }
}

/// Without any spread the bands of delay and step are the curves; with it they end where the boards' own gains
/// do, and hold the curve of the board as marked.
#[test]
fn bands_of_delay_and_step() {
    let mut design = Design::default();
    design.view.compare = false;
    design.view.contributions = false;
    design.view.propose = false;
    let outcome = polewright::solve::solve(&design).expect("an outcome");
    let spread = outcome.spread.expect("a spread");
    let slow = spread.slow.expect("bands");
    let curves = outcome.stages[0].curves.as_ref().expect("curves");
    let at = spread
        .figures
        .iter()
        .position(|f| f.name == "gain-low-db")
        .expect("a figure");
    let mut gains: Vec<f64> = spread.sample.values[at][..slow.boards as usize]
        .iter()
        .map(|db| 10f64.powf(db / 20.0))
        .collect();
    gains.sort_by(f64::total_cmp);
    let last = slow.step.low.len() - 1;
    // The step is followed until the slowest pole has settled within half a per cent.
    for (found, expected) in [
        (slow.step.low[last], gains[0]),
        (slow.step.high[last], gains[gains.len() - 1]),
        (slow.step.median[last], gains[gains.len() / 2]),
    ] {
        assert!(
            (found / expected - 1.0).abs() < 0.006,
            "{found} against {expected}"
        );
    }
    for k in 0..=last {
        let real = curves.real.step[k];
        assert!(slow.step.low[k] <= real && real <= slow.step.high[k], "{k}");
        assert!(slow.step.q05[k] <= slow.step.median[k] && slow.step.median[k] <= slow.step.q95[k]);
    }
    design.shelf.resistors.tolerance = 0.0;
    design.shelf.capacitors.tolerance = 0.0;
    design.spread.temperature_span = 0.0;
    design.spread.op_amps.gain_bandwidth = 0.0;
    design.spread.op_amps.gain_db = 0.0;
    let still = polewright::solve::solve(&design)
        .expect("an outcome")
        .spread
        .expect("a spread");
    let slow = still.slow.expect("bands");
    for (k, real) in curves.real.step.iter().enumerate() {
        assert!((slow.step.low[k] - real).abs() < 1e-9 && (slow.step.high[k] - real).abs() < 1e-9);
    }
    for (k, f) in still.frequency.iter().enumerate() {
        let at = curves
            .frequency
            .partition_point(|v| v < f)
            .clamp(1, curves.frequency.len() - 1);
        let ends = [curves.real.delay[at - 1], curves.real.delay[at]];
        let room = 0.02 * (ends[0] - ends[1]).abs() + 1e-9;
        let (low, high) = (ends[0].min(ends[1]) - room, ends[0].max(ends[1]) + room);
        assert_eq!(slow.delay.low[k], slow.delay.high[k]);
        let found = slow.delay.low[k];
        assert!(
            (low..=high).contains(&found),
            "{f} Hz: {found} of {low} to {high}"
        );
    }
}
