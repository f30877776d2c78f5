//! A limit on noise: the pick respects it, the spread counts it, and what is out of reach is told with what would be enough.

use polewright::design::Design;
use polewright::noise::{self, Setting};
use polewright::outcome::{Note, Outcome};
use polewright::parts::OpAmp;
use polewright::stages::{CATALOGUE, Model};

use super::asks::Random;
use super::designs::{quiet, solved};

fn rms(outcome: &Outcome) -> f64 {
    outcome.noise.as_ref().expect("noise").stages[0].total.rms
}

/// The geometric mean of the shown stage's resistors, Ω.
fn level(outcome: &Outcome) -> f64 {
    let parts = outcome.stages[0].parts.iter();
    let logs: Vec<f64> = parts
        .filter(|part| part.name.starts_with('R'))
        .map(|part| part.value.ln())
        .collect();
    (logs.iter().sum::<f64>() / logs.len() as f64).exp()
}

fn reach(outcome: &Outcome) -> Option<String> {
    let notes = outcome.stages[0].notes.iter();
    let mut reach = notes.filter_map(|note| match note {
        Note::Reach(told) => Some(told.clone()),
        Note::Advice(_) => None,
    });
    reach.next()
}

#[test]
fn the_pick_holds_a_limit_at_a_lower_impedance() {
    let mut design = quiet(Design::default(), 400);
    let free = solved(&design);
    design.stages[0].noise_limit = Some(0.75 * rms(&free));
    let held = solved(&design);
    assert_eq!(reach(&held), None);
    assert!(
        rms(&held) <= 0.75 * rms(&free),
        "{} {}",
        rms(&held),
        rms(&free)
    );
    assert!(level(&held) < level(&free));
    let stage = &held.stages[0];
    assert!(stage.picks[stage.choice].miss <= 1.0);
    let figure = stage.figures.iter().find(|f| f.name == "output-noise");
    let figure = figure.expect("a figure");
    assert!((figure.value / rms(&held) - 1.0).abs() < 1e-9);
    assert_eq!(figure.highest, Some(0.75 * rms(&free)));
    // Nothing else of the ask is given up.
    let figures = held.spread.as_ref().expect("a spread").figures.iter();
    assert!(
        figures
            .clone()
            .any(|f| f.name == "output-noise" && f.held.is_some())
    );
    // Without a limit there is no such figure, and nothing of the pick hangs on op amps' noise.
    assert!(
        free.stages[0]
            .figures
            .iter()
            .all(|f| f.name != "output-noise")
    );
}

/// A limit on the noise of the board as marked is held by about half of the boards.
#[test]
fn the_yield_counts_the_limit() {
    let mut design = quiet(Design::default(), 2000);
    let free = solved(&design);
    design.stages[0].pins = free.stages[0]
        .parts
        .iter()
        .map(|part| (part.name.clone(), part.value))
        .collect();
    let share = |outcome: &Outcome| outcome.spread.as_ref().expect("a spread").share.fraction;
    let held = |outcome: &Outcome| {
        let figures = &outcome.spread.as_ref().expect("a spread").figures;
        let noise = figures.iter().find(|f| f.name == "output-noise");
        noise
            .and_then(|noise| noise.held)
            .expect("a limited figure")
    };
    design.stages[0].noise_limit = Some(1.000_001 * rms(&free));
    let tight = solved(&design);
    assert!((0.3..0.7).contains(&held(&tight)), "{}", held(&tight));
    assert!(share(&tight) <= held(&tight));
    assert!(share(&tight) < share(&free));
    design.stages[0].noise_limit = Some(2.0 * rms(&free));
    let wide = solved(&design);
    assert_eq!(held(&wide), 1.0);
    assert_eq!(share(&wide), share(&free));
}

/// The worst case, what contributes and what would change the yield know the limit as any other.
#[test]
fn the_limit_is_one_among_others() {
    let mut design = quiet(Design::default(), 500);
    let free = solved(&design);
    design.stages[0].noise_limit = Some(0.8 * rms(&free));
    design.view.contributions = true;
    design.view.propose = true;
    let outcome = solved(&design);
    let corners = outcome.corners.expect("a worst case").figures;
    let noise = corners.iter().find(|f| f.name == "output-noise");
    let noise = noise.expect("its worst case");
    let marked = outcome.noise.as_ref().expect("noise").stages[0].total.rms;
    assert!(noise.lowest.value < marked && marked < noise.highest.value);
    // A per cent of resistance is half of one of thermal noise.
    assert!(noise.highest.value < 1.1 * marked);
    let told = outcome.contributions.expect("contributions").figures;
    let noise = told.iter().find(|f| f.name == "output-noise");
    let shares = &noise.expect("its contributions").shares;
    assert!(shares.iter().sum::<f64>() > 0.9, "{shares:?}");
    assert!(outcome.proposals.is_some());
}

#[test]
fn what_is_out_of_reach_is_told() {
    let mut design = quiet(Design::default(), 100);
    let free = solved(&design);
    design.stages[0].noise_limit = Some(0.02 * rms(&free));
    let outcome = solved(&design);
    let told = reach(&outcome).expect("a sentence");
    assert!(told.contains("times as much"), "{told}");
    assert!(told.contains("noise added up to"), "{told}");
    assert!(outcome.stages[0].picks[0].miss > 1.0);
    assert_eq!(outcome.spread.expect("a spread").share.passed, 0);
    // A quieter op amp and a narrower band bring it back, and so does a wider limit.
    design.op_amp.voltage_noise *= 0.01;
    design.op_amp.current_noise *= 0.01;
    design.noise.to = 300.0;
    design.noise.from = 100.0;
    assert_eq!(reach(&solved(&design)), None);
}

#[test]
fn resistors_lie_round_the_level_that_is_asked_for() {
    let mut design = quiet(Design::default(), 100);
    let mut before = f64::INFINITY;
    for wanted in [47e3, 10e3, 2.2e3] {
        design.stages[0].impedance = Some(wanted);
        let outcome = solved(&design);
        assert!(outcome.stages[0].picks[0].miss <= 1.0, "{wanted}");
        let found = level(&outcome);
        assert!((0.4..2.5).contains(&(found / wanted)), "{wanted} {found}");
        // Thermal noise goes with it.
        assert!(rms(&outcome) < before, "{wanted}");
        before = rms(&outcome);
    }
}

/// Boards' noise by powers of their parts against the same boards worked out in full, for every circuit.
#[test]
fn boards_near_a_set_by_its_powers() {
    let mut draws = Random(29);
    let mut even = || (draws.next() % 2001) as f64 / 1000.0 - 1.0;
    let op_amp = OpAmp::default();
    let mut worst: f64 = 0.0;
    for stage in CATALOGUE {
        let ask = stage.default_ask();
        let model = Model::new(*stage, &ask, &op_amp).expect("a circuit");
        let mut values: Vec<f64> = model
            .netlist
            .parts()
            .iter()
            .enumerate()
            .map(|(at, part)| match part.name.as_bytes()[0] {
                _ if !model.bought[at] => model.given(at),
                b'C' => 4.7e-9,
                _ => 10e3,
            })
            .collect();
        stage.solve(&ask, &mut values);
        if values.iter().any(|value| !value.is_finite()) {
            continue;
        }
        let own = polewright::parts::DataSheet::default().noise();
        let setting = Setting {
            band: (10.0, 100e3),
            kelvin: 300.0,
            op_amps: vec![own; model.op_amp_count() as usize],
        };
        let rule = noise::rule(&model, &values, &setting, 1.0).expect("a rule");
        for _ in 0..6 {
            let mut board = values.clone();
            for (at, part) in model.netlist.parts().iter().enumerate() {
                let reach = if part.name.starts_with('C') {
                    0.05
                } else {
                    0.01
                };
                if model.bought[at] {
                    board[at] *= 1.0 + reach * even();
                }
            }
            let grid = noise::grid(setting.band, &model.transfer(&board));
            let known = noise::output_rms(&model, &board, &setting, grid).expect("a noise");
            let mut numbers = Vec::new();
            model.inputs(&board, &mut numbers);
            let miss = (rule.at(&numbers) / known - 1.0).abs();
            worst = worst.max(miss);
            assert!(miss < 5e-3, "{}: {miss}", stage.id());
        }
    }
    println!("at most {worst:.1e}");
}

/// How long the noise of a circuit takes: printed, and bounded far above what it takes.
#[test]
fn noise_is_worked_out_in_bounded_time() {
    let mut longest = (0.0, "");
    for stage in CATALOGUE {
        let ask = stage.default_ask();
        let model = Model::new(*stage, &ask, &OpAmp::default()).expect("a circuit");
        let parts = model.netlist.parts().iter();
        let values: Vec<f64> = parts
            .map(|part| match part.name.as_bytes()[0] {
                b'C' => 4.7e-9,
                _ => 10e3,
            })
            .collect();
        let own = polewright::parts::DataSheet::default().noise();
        let setting = Setting {
            band: (1.0, 1e6),
            kelvin: 300.0,
            op_amps: vec![own; model.op_amp_count() as usize],
        };
        let begun = std::time::Instant::now();
        let grid = noise::grid(setting.band, &model.transfer(&values));
        let points = grid.len();
        let found = noise::of_stage(&model, &values, &setting, grid);
        assert!(found.is_some() && points < 900, "{}: {points}", stage.id());
        let took = begun.elapsed().as_secs_f64();
        if took > longest.0 {
            longest = (took, stage.id());
        }
    }
    println!("at most {:.1} ms: {}", 1e3 * longest.0, longest.1);
    assert!(longest.0 < 1.0, "{longest:?}");
}
