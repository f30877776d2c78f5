//! The worst case against brute force written apart from the program's: every combination of ends, through
//! the model alone; functions whose extremes are known; and the guided search against every corner.

use polewright::design::{Design, StageDesign};
use polewright::outcome::{Outcome, StageOutcome};
use polewright::parts::OpAmp;
use polewright::quantity::Unit;
use polewright::solve::{Step, Work, solve};
use polewright::spread::{
    Corners, CornersSetting, Distribution, Extremes, Figures, Formula, PhaseAt, Population, Reach,
    StageFigures, Variation, VariationKind,
};
use polewright::stages::{Model, Scratch, by_id};

fn design(circuit: &str) -> Design {
    let stage = by_id(circuit).expect("the stage");
    let mut design = Design {
        stages: vec![StageDesign {
            circuit: circuit.to_owned(),
            ask: stage.default_ask(),
            ..StageDesign::default()
        }],
        ..Design::default()
    };
    design.view.compare = false;
    design.view.propose = false;
    design.spread.boards = 1000;
    design
}

/// The stage's model and the values of all its parts, as bought.
fn model(design: &Design, stage: &StageOutcome) -> (Model, Vec<f64>) {
    let asked = &design.stages[0];
    let model = Model::new(
        by_id(&asked.circuit).expect("the stage"),
        &asked.ask,
        &design.op_amp.op_amp(),
    )
    .expect("a circuit")
    .between(asked.between);
    let value = |(at, name): (usize, &str)| {
        let bought = stage.parts.iter().find(|part| part.name == name);
        bought.map_or_else(|| model.given(at), |part| part.value)
    };
    let parts = model.netlist.parts().iter().enumerate();
    let values = parts
        .map(|(at, part)| value((at, part.name.as_str())))
        .collect();
    (model, values)
}

/// How far one kind of part may go: what is its own, and what its lot shares, as delivered and by drift.
struct Room {
    own: [f64; 2],
    lot: [f64; 2],
}

fn room(tolerance: f64, tempco: f64, ageing: f64, span: f64, lot: f64) -> Room {
    let drift = tempco * span + ageing;
    Room {
        own: [tolerance * (1.0 - lot), drift * (1.0 - lot)],
        lot: [tolerance * lot, drift * lot],
    }
}

/// Lowest and highest figures over all corners of a stage with one op amp at most: a bit for each part,
/// two for the op amp, one for each lot.
fn brute_force(design: &Design, stage: &StageOutcome) -> Vec<[f64; 2]> {
    let (marked, values) = model(design, stage);
    let spread = &design.spread;
    let span = spread.temperature_span;
    let (shelf, bought) = (&design.shelf, stage.parts.len() as u32);
    let resistors = room(
        shelf.resistors.tolerance,
        shelf.resistors.tempco,
        spread.resistors.ageing,
        span,
        spread.resistors.lot,
    );
    let capacitors = room(
        shelf.capacitors.tolerance,
        shelf.capacitors.tempco,
        spread.capacitors.ageing,
        span,
        spread.capacitors.lot,
    );
    let nominal = marked.figures(&values, None, &mut Scratch::default());
    let mut ends: Vec<[f64; 2]> = vec![[f64::INFINITY, f64::NEG_INFINITY]; nominal.len() + 1];
    let bits = bought + 4;
    for corner in 0u32..1 << bits {
        let side = |bit: u32| if corner >> bit & 1 == 1 { 1.0 } else { -1.0 };
        let (gain, bandwidth) = (side(bought), side(bought + 1));
        let op_amp = OpAmp {
            gain_db: design.op_amp.gain_db + spread.op_amps.gain_db * gain,
            gain_bandwidth: design.op_amp.gain_bandwidth
                * (1.0 + spread.op_amps.gain_bandwidth * bandwidth),
            ..design.op_amp.op_amp()
        };
        let mut bit = 0;
        let parts = marked.netlist.parts().iter().zip(&values).enumerate();
        let moved: Vec<f64> = parts
            .map(|(at, (part, &value))| {
                if !marked.bought[at] {
                    return value;
                }
                let is_resistor = part.name.starts_with('R');
                let (room, lot) = if is_resistor {
                    (&resistors, side(bought + 2))
                } else {
                    (&capacitors, side(bought + 3))
                };
                let own = side(bit);
                bit += 1;
                let off = |k: usize| own * room.own[k] + lot * room.lot[k];
                value * (1.0 + off(0)) * (1.0 + off(1))
            })
            .collect();
        let mut scratch = Scratch::default();
        let mut figures = marked
            .with_op_amp(&op_amp)
            .figures(&moved, Some(&nominal), &mut scratch);
        figures.push(scratch.transfer.phase_deg(design.view.phase_at));
        for (ends, value) in ends.iter_mut().zip(figures) {
            ends[0] = ends[0].min(value);
            ends[1] = ends[1].max(value);
        }
    }
    ends
}

fn near(found: f64, expected: f64, what: &str) {
    assert!(
        (found - expected).abs() <= 1e-7 * expected.abs().max(1e-3),
        "{what}: {found} against {expected}"
    );
}

fn compare(design: &Design, outcome: &Outcome) {
    let corners = outcome.corners.as_ref().expect("corners");
    assert!(corners.is_complete);
    let ends = brute_force(design, &outcome.stages[0]);
    assert_eq!(ends.len(), corners.figures.len());
    for (figure, ends) in corners.figures.iter().zip(ends) {
        let what = format!("{} of {}", figure.name, design.stages[0].circuit);
        near(figure.lowest.at_corners, ends[0], &what);
        near(figure.highest.at_corners, ends[1], &what);
        // Nothing is promised that a corner breaks.
        assert!(
            figure.lowest.value <= ends[0] + 1e-6 * ends[0].abs(),
            "{what}"
        );
        assert!(
            figure.highest.value >= ends[1] - 1e-6 * ends[1].abs(),
            "{what}"
        );
        let spread = outcome.spread.as_ref().expect("a spread");
        let drawn = spread.figures.iter().find(|f| f.name == figure.name);
        let drawn = drawn.expect("the same figure");
        let range = figure.highest.value - figure.lowest.value;
        assert!(figure.lowest.value <= drawn.least + 1e-4 * range, "{what}");
        assert!(figure.highest.value >= drawn.most - 1e-4 * range, "{what}");
    }
}

#[test]
fn corners_are_those_of_brute_force() {
    for circuit in [
        "mfb-notch",
        "mfb-low-pass",
        "type-three",
        "pid-one-op-amp",
        "sallen-key-low-pass-3",
    ] {
        let design = design(circuit);
        let outcome = solve(&design).expect("an outcome");
        compare(&design, &outcome);
    }
}

#[test]
fn lots_drift_and_ageing_are_in_the_corners() {
    let mut design = design("mfb-notch");
    let spread = &mut design.spread;
    spread.resistors.lot = 0.6;
    spread.capacitors.lot = 0.25;
    spread.resistors.ageing = 0.005;
    spread.capacitors.ageing = 0.02;
    spread.temperature_span = 40.0;
    let outcome = solve(&design).expect("an outcome");
    compare(&design, &outcome);
    let corners = outcome.corners.expect("corners");
    // Six parts, an op amp's two numbers, two lots.
    assert_eq!(corners.method, "all 1\u{202f}024 corners");
}

/// The parts that are told make the value that is told, through the model alone.
#[test]
fn told_parts_make_the_told_value() {
    let mut seen_inside = 0;
    for circuit in ["mfb-notch", "state-variable-notch", "bainter-notch"] {
        let design = design(circuit);
        let outcome = solve(&design).expect("an outcome");
        let (marked, values) = model(&design, &outcome.stages[0]);
        let nominal = marked.figures(&values, None, &mut Scratch::default());
        let corners = outcome.corners.expect("corners");
        for (index, figure) in corners.figures.iter().enumerate() {
            for board in [&figure.lowest, &figure.highest] {
                seen_inside += u32::from(board.is_inside);
                let of = |label: &str| {
                    let part = board.parts.iter().find(|part| part.label == label);
                    part.map(|part| part.value)
                };
                // Each op amp is another one: numbers go in as the program takes them.
                let mut inputs = Vec::new();
                for (part, &value) in marked.netlist.parts().iter().zip(&values) {
                    if Unit::of(part.kind).is_some() {
                        inputs.push(of(&part.name).unwrap_or(value));
                        continue;
                    }
                    let gain = of(&format!("open-loop gain of {}", part.name)).expect("a gain");
                    let bandwidth = of(&format!("gain-bandwidth of {}", part.name));
                    let op_amp = OpAmp {
                        gain_db: gain,
                        gain_bandwidth: bandwidth.expect("a bandwidth"),
                        ..design.op_amp.op_amp()
                    };
                    inputs.extend(op_amp.values());
                }
                let transfer = marked.program.transfer(&inputs, marked.scale);
                let mut figures = vec![0.0; nominal.len()];
                marked
                    .yardstick
                    .read((&transfer).into(), Some(&nominal), &mut figures);
                figures.push(transfer.phase_deg(design.view.phase_at));
                // A null's depth hangs on the last digits.
                let found = figures[index];
                assert!(
                    (found - board.value).abs() < 1e-6 * board.value.abs().max(1.0),
                    "{circuit} {}: {found} against {}",
                    figure.name,
                    board.value
                );
            }
        }
    }
    assert!(seen_inside >= 3, "{seen_inside}");
}

/// The notch's depth is best inside the box, where its null is complete, and its Q is largest where C1 and C2
/// are alike: 1/Qp = (C1 + C2)/√(C1 C2) · √(R1/R2) (see tests/reference/spread.py).
#[test]
fn a_figure_that_turns_is_said_to_turn() {
    let outcome = solve(&design("mfb-notch")).expect("an outcome");
    let corners = outcome.corners.expect("corners");
    let of = |name: &str| {
        let found = corners.figures.iter().find(|f| f.name == name);
        found.expect("a figure")
    };
    let depth = of("depth-db");
    assert!(depth.highest.is_inside && !depth.lowest.is_inside);
    assert!(depth.highest.value > depth.highest.at_corners + 20.0);
    assert!(
        depth.guarantee.contains("not at a corner"),
        "{}",
        depth.guarantee
    );
    for name in ["C1", "C2"] {
        assert!(of("q").turns.iter().any(|turn| turn == name), "{name}");
    }
    for name in ["notch-frequency", "gain-low-db"] {
        assert_eq!(of(name).turns, [""; 0], "{name}");
        assert!(!of(name).lowest.is_inside && !of(name).highest.is_inside);
    }
    // The demo's capacitors of 5 % cannot hold 5 % of frequency together with 1 % resistors.
    assert_eq!(of("notch-frequency").holds, Some(false));
    assert_eq!(of("depth-db").holds, None);
}

#[test]
fn slices_change_nothing() {
    for circuit in ["mfb-notch", "state-variable-notch"] {
        let design = design(circuit);
        let whole = solve(&design).expect("an outcome");
        let mut work = Work::begin(&design).expect("a design");
        let (mut steps, mut done) = (0u32, std::collections::BTreeMap::new());
        loop {
            let mut left = 2;
            let step = work.advance(&mut || {
                left -= 1;
                left >= 0
            });
            steps += 1;
            match step {
                // Each rises through all of its work.
                Step::Working { field, share } => {
                    let done = done.entry(field).or_insert(0.0);
                    assert!(
                        (*done..=1.0).contains(&share),
                        "{field}: {share} after {done}"
                    );
                    *done = share;
                }
                Step::Done => break,
                _ => {}
            }
        }
        assert!(steps > 500, "{steps}");
        assert!(done["corners"] > 0.5 && done["blame"] > 0.5, "{done:?}");
        // As text, in which what is no number equals itself.
        let text = |outcome: &Outcome| {
            serde_json::to_string(&(&outcome.corners, &outcome.contributions)).expect("JSON")
        };
        assert!(text(&work.outcome()) == text(&whole), "{circuit}");
        let mut without = design;
        without.view.contributions = false;
        without.view.propose = false;
        let without = solve(&without).expect("an outcome");
        assert!(without.corners.is_none() && without.contributions.is_none());
        let spread = |outcome: &Outcome| serde_json::to_string(&outcome.spread).expect("JSON");
        assert!(spread(&without) == spread(&whole), "{circuit}");
    }
}

/// The shown stage of a path has the worst case that it has alone.
#[test]
fn the_second_stage_of_a_path() {
    let alone = solve(&design("mfb-notch")).expect("an outcome");
    let mut path = design("sallen-key-low-pass");
    path.stages.push(design("mfb-notch").stages[0].clone());
    path.view.stage = 1;
    let path = solve(&path).expect("an outcome");
    let (alone, path) = (
        alone.corners.expect("corners"),
        path.corners.expect("corners"),
    );
    for (a, b) in alone.figures.iter().zip(&path.figures) {
        near(b.lowest.at_corners, a.lowest.at_corners, &a.name);
        near(b.highest.at_corners, a.highest.at_corners, &a.name);
        assert_eq!(a.turns, b.turns);
    }
}

/// Numbers around 1 that stray by a half, so that `2 (x − 1)` lies from −1 to 1.
fn cube(count: usize) -> Population {
    Population {
        variations: vec![Variation::within(1.0, 0.5, Distribution::UNIFORM); count],
        commons: 0,
        temperature_span: 0.0,
    }
}

fn run(population: Population, figures: &mut dyn Figures, every: usize) -> Corners {
    let mut corners = Corners::new(CornersSetting {
        population,
        seed: 3,
        drawn: Vec::new(),
        every,
    });
    assert!(corners.advance(figures, &mut || true).is_ready());
    corners
}

/// A product rises or falls with each factor according to the other: extremes at corners. A parabola has its
/// top inside: at x = 0.3, y = −0.2.
#[test]
fn extremes_that_are_known() {
    let mut figures = Formula {
        numbers: 2,
        figures: vec![0.0; 2],
        of: |board: &[f64], figures: &mut [f64]| {
            let (x, y) = (2.0 * (board[0] - 1.0), 2.0 * (board[1] - 1.0));
            figures[0] = x * y;
            figures[1] = -(x - 0.3).powi(2) - 2.0 * (y + 0.2).powi(2);
        },
    };
    let found = run(cube(2), &mut figures, 16);
    let (product, hill) = (&found.extremes()[0], &found.extremes()[1]);
    let value = |extremes: &Extremes, side: usize| {
        let known = |place: &Option<polewright::spread::Extreme>| {
            place.as_ref().map_or(f64::NAN, |e| e.value)
        };
        (
            known(&extremes.corners[side]),
            known(&extremes.boards[side]),
        )
    };
    assert_eq!(value(product, 0), (-1.0, -1.0));
    assert_eq!(value(product, 1), (1.0, 1.0));
    assert!(!product.is_inside(0) && !product.is_inside(1));
    for bend in found.bends(0) {
        assert!(bend.rises && bend.falls && !bend.turns);
    }
    assert!(found.bends(1).iter().all(|bend| bend.turns));
    // Far corner (−1, 1), near corner (1, −1).
    let (low, high) = (value(hill, 0), value(hill, 1));
    assert!((low.0 + 1.69 + 2.88).abs() < 1e-12 && low.0 == low.1);
    assert!((high.0 + 0.49 + 1.28).abs() < 1e-12);
    assert!(high.1 > -1e-4, "{high:?}");
    assert!(hill.is_inside(1) && !hill.is_inside(0));
}

/// What two parts feel of a lot in different proportions is several deviations: the ratio moves by its drift
/// even where tolerances are shared.
#[test]
fn a_lot_that_parts_feel_differently() {
    let variation = |tolerance: f64, tempco: f64| Variation {
        kind: VariationKind::Ratio,
        shared: Some(polewright::spread::Shared {
            common: 0,
            reach: Reach {
                tolerance,
                tempco,
                ageing: 0.0,
            },
        }),
        ..Variation::fixed(1.0)
    };
    let population = |second: Variation| Population {
        variations: vec![variation(0.1, 1e-3), second],
        commons: 1,
        temperature_span: 10.0,
    };
    let mut ratio = Formula {
        numbers: 2,
        figures: vec![0.0],
        of: |board: &[f64], figures: &mut [f64]| figures[0] = board[0] / board[1],
    };
    let highest = |found: &Corners| {
        let corner = found.extremes()[0].corners[1].clone();
        corner.expect("a corner").value
    };
    let alike = run(population(variation(0.1, 1e-3)), &mut ratio, 16);
    assert_eq!((alike.axes().len(), highest(&alike)), (1, 1.0));
    // 1.1 · 1.01 over 1.1 · 1.02, and the other way round.
    let unlike = run(population(variation(0.1, 2e-3)), &mut ratio, 16);
    assert_eq!(unlike.axes().len(), 2);
    assert!((highest(&unlike) - 0.99 / 0.98).abs() < 1e-12);
}

/// All numbers of a stage's boards: 1 % and 5 % parts, op amps as by default.
fn population_of(model: &Model, values: &[f64]) -> Population {
    let mut variations = Vec::new();
    for ((part, &value), &bought) in model.netlist.parts().iter().zip(values).zip(&model.bought) {
        let within = |tolerance| Variation::within(value, tolerance, Distribution::UNIFORM);
        if Unit::of(part.kind).is_none() {
            let [gain, bandwidth, resistance] = model.op_amps()[0];
            let variation = |nominal, kind, tolerance| Variation {
                kind,
                ..Variation::within(nominal, tolerance, Distribution::UNIFORM)
            };
            variations.push(variation(gain, VariationKind::InverseDecibel, 6.0));
            variations.push(variation(bandwidth, VariationKind::Inverse, 0.3));
            variations.push(Variation::fixed(resistance));
        } else if !bought {
            variations.push(Variation::fixed(value));
        } else if part.name.starts_with('R') {
            variations.push(within(0.01));
        } else {
            variations.push(within(0.05));
        }
    }
    Population {
        variations,
        commons: 0,
        temperature_span: 0.0,
    }
}

/// The guided search against every corner, on stages of twelve to fourteen independent deviations.
#[test]
fn the_guided_search_finds_the_furthest_corners() {
    let mut compared = 0;
    for circuit in [
        "subtracted-notch",
        "gyrator-notch",
        "bainter-notch",
        "twin-t-notch",
        "lead-lag",
        "bainter-uneven-notch",
    ] {
        let mut design = design(circuit);
        design.view.contributions = false;
        design.view.propose = false;
        let outcome = solve(&design).expect("an outcome");
        let (model, values) = model(&design, &outcome.stages[0]);
        let nominal = model.figures(&values, None, &mut Scratch::default());
        let mut figures = StageFigures::new(
            &model,
            &nominal,
            PhaseAt::new(420.0, &model.transfer(&values)),
        );
        let population = population_of(&model, &values);
        let every = run(population.clone(), &mut figures, 16);
        let guided = run(population, &mut figures, 0);
        assert!((12..=16).contains(&every.axes().len()), "{circuit}");
        assert!(
            guided.counts().1 > 1000 && every.counts().1 == 1 << every.axes().len(),
            "{circuit}"
        );
        for (figure, (a, b)) in every.extremes().iter().zip(guided.extremes()).enumerate() {
            for side in [0, 1] {
                let (Some(a), Some(b)) = (&a.corners[side], &b.corners[side]) else {
                    panic!("{circuit}, figure {figure}: unreadable");
                };
                compared += 1;
                near(b.value, a.value, &format!("{circuit}, figure {figure}"));
            }
        }
    }
    assert!(compared > 80, "{compared}");
}

/// Functions that are hard for it: every pair of fourteen numbers pulls in a direction by chance. It finds the
/// furthest corners of all of these, which is no proof for others; the page says so.
#[test]
fn the_guided_search_on_pairs_by_chance() {
    const NUMBERS: usize = 14;
    const FUNCTIONS: usize = 20;
    // Numbers from −1 to 1 by a linear congruence (Knuth's MMIX constants, from memory).
    let mut state = 1u64;
    let mut chance = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    };
    let pairs: Vec<f64> = (0..FUNCTIONS * NUMBERS * NUMBERS)
        .map(|_| chance())
        .collect();
    let mut figures = Formula {
        numbers: NUMBERS,
        figures: vec![0.0; FUNCTIONS],
        of: |board: &[f64], figures: &mut [f64]| {
            for (figure, pairs) in figures.iter_mut().zip(pairs.chunks(NUMBERS * NUMBERS)) {
                let x = |k: usize| 2.0 * (board[k] - 1.0);
                *figure = (0..NUMBERS * NUMBERS)
                    .filter(|k| k / NUMBERS < k % NUMBERS)
                    .map(|k| pairs[k] * x(k / NUMBERS) * x(k % NUMBERS))
                    .sum();
            }
        },
    };
    let every = run(cube(NUMBERS), &mut figures, 16);
    let guided = run(cube(NUMBERS), &mut figures, 0);
    let mut same = 0;
    for (a, b) in every.extremes().iter().zip(guided.extremes()) {
        for side in [0, 1] {
            let (Some(a), Some(b)) = (&a.corners[side], &b.corners[side]) else {
                panic!("unreadable");
            };
            let sign = [-1.0, 1.0][side];
            assert!(sign * (a.value - b.value) > -1e-9, "beyond every corner");
            same += usize::from((a.value - b.value).abs() < 1e-9);
        }
    }
    assert_eq!(same, 2 * FUNCTIONS);
}
