//! What would change the yield: each promise is what the changed design's own spread says; searches against
//! brute force.

use polewright::design::{Design, PartSpread};
use polewright::outcome::{Outcome, Proposal};
use polewright::solve::solve;
use polewright::stages::{Model, Scratch, by_id};
use polewright::wording::{per_cent, points};

/// The demo, in figures only.
fn design() -> Design {
    let mut design = Design::default();
    design.view.compare = false;
    design.view.contributions = false;
    design
}

fn solved(design: &Design) -> Outcome {
    solve(design).expect("an outcome")
}

fn share(design: &Design) -> f64 {
    let mut design = design.clone();
    design.view.propose = false;
    solved(&design).spread.expect("a spread").share.fraction
}

/// What the spread says when a proposal is taken.
fn taken(design: &Design, proposal: &Proposal) -> f64 {
    let changed = design.edited(&proposal.edits).expect("edits that fit");
    share(&changed)
}

#[test]
fn a_failing_yield_is_repaired_by_one_change() {
    let mut design = design();
    design.spread.wanted = 0.99;
    design.shelf.resistors.tolerance = 0.02;
    let outcome = solved(&design);
    let found = outcome.proposals.as_ref().expect("proposals");
    let before = outcome.spread.as_ref().expect("a spread").share.fraction;
    // The promise is made on the very boards of the spread.
    assert_eq!(found.boards, 10_000);
    assert_eq!(found.share, before);
    assert!(before < 0.95, "{before}");
    let tighten = found.tighten.as_ref().expect("better parts");
    assert!(tighten.share >= 0.985, "{}", tighten.words);
    assert_eq!(taken(&design, tighten), tighten.share, "{}", tighten.words);
    assert!((tighten.gain - (tighten.share - before)).abs() < 1e-12);
    // The sentence has both yields and their difference, in percentage points.
    let change = format!(
        "from {} to {} ({})",
        per_cent(before),
        per_cent(tighten.share),
        points(before, tighten.share)
    );
    assert!(tighten.words.contains(&change), "{}", tighten.words);
    // The same boards say what each part does on its own.
    assert!(!found.singles.is_empty());
    for single in &found.singles {
        assert!(
            (single.gain - (single.share - before)).abs() < 1e-12,
            "{single:?}"
        );
    }
    // Other boards agree within what two yields of as many boards may differ.
    let mut other = design.edited(&tighten.edits).expect("edits that fit");
    other.spread.seed = 77;
    let error = (2.0 * tighten.share * (1.0 - tighten.share) / 10_000.0).sqrt();
    assert!((share(&other) - tighten.share).abs() < 4.5 * error);
}

/// What one better class of one part does, against designs in which that part is bought so.
#[test]
fn singles_are_what_they_say() {
    let mut design = design();
    design.spread.wanted = 0.99;
    design.spread.boards = 4096;
    let outcome = solved(&design);
    let found = outcome.proposals.expect("proposals");
    assert_eq!(found.singles.len(), outcome.stages[0].parts.len());
    let base = share(&design);
    for single in &found.singles {
        let mut changed = design.clone();
        let part = PartSpread {
            tolerance: Some(single.tolerance),
            ..PartSpread::default()
        };
        changed.stages[0]
            .variations
            .insert(single.part.clone(), part);
        let after = share(&changed);
        let gain = after - base;
        assert_eq!(after, single.share, "{single:?}");
        assert!((gain - single.gain).abs() < 1e-12, "{single:?}: {gain}");
    }
    let sorted = found.singles.is_sorted_by(|a, b| a.gain >= b.gain);
    assert!(sorted, "{:?}", found.singles);
}

/// No fewer steps of class would do: all pairs, and all singles, by brute force.
#[test]
fn nothing_smaller_repairs_it() {
    let mut design = design();
    design.spread.boards = 4096;
    design.spread.wanted = 0.985;
    let outcome = solved(&design);
    let found = outcome.proposals.expect("proposals");
    let tighten = found.tighten.expect("better parts");
    assert!(tighten.share >= 0.98, "{}", tighten.words);
    let steps: Vec<(String, f64)> = found
        .singles
        .iter()
        .map(|single| (single.part.clone(), single.tolerance))
        .collect();
    let with = |moves: &[&(String, f64)]| {
        let mut changed = design.clone();
        for (part, tolerance) in moves {
            let own = PartSpread {
                tolerance: Some(*tolerance),
                ..PartSpread::default()
            };
            changed.stages[0].variations.insert(part.clone(), own);
        }
        share(&changed)
    };
    let count = tighten.edits.len();
    assert!(count <= 3, "{}", tighten.words);
    if count > 1 {
        for single in &steps {
            assert!(with(&[single]) < 0.985, "{single:?} alone");
        }
    }
    if count > 2 {
        for (at, first) in steps.iter().enumerate() {
            for second in &steps[at + 1..] {
                assert!(with(&[first, second]) < 0.985, "{first:?} {second:?}");
            }
        }
    }
}

#[test]
fn cheaper_parts_keep_the_yield() {
    let mut design = design();
    design.shelf.capacitors.tolerance = 0.01;
    design.spread.wanted = 0.95;
    let outcome = solved(&design);
    let found = outcome.proposals.expect("proposals");
    assert!(
        found.share > 0.98 && found.tighten.is_none(),
        "{}",
        found.share
    );
    let loosen = found.loosen.expect("cheaper parts");
    assert_eq!(taken(&design, &loosen), loosen.share, "{}", loosen.words);
    assert!(loosen.share > 0.94, "{}", loosen.words);
    // Nothing that is left could be loosened as well.
    let changed = design.edited(&loosen.edits).expect("edits");
    let again = solved(&changed).proposals.expect("proposals").loosen;
    let more = again.map_or(0, |more| more.edits.len());
    assert!(more <= 1, "{more} more of {}", loosen.words);
}

#[test]
fn centring_gains_what_it_says() {
    // The nominal pick lies at the edge: a limit far more on one side.
    let mut gained = 0;
    for frequency in [1800.0, 2350.0, 2910.0, 4170.0] {
        for series in ["E6", "E12", "E24"] {
            let mut tree = serde_json::json!({
                "stages": [{"ask": {"family": "notch", "frequency": frequency, "q": 3.0}}],
                "view": {"compare": false},
                "shelf": {"resistors": {"series": series}}
            });
            tree["spread"] = serde_json::json!({"wanted": 0.999});
            let design = Design::from_tree(tree).expect("a design");
            let Ok(outcome) = solve(&design) else {
                continue;
            };
            let Some(found) = outcome.proposals.clone() else {
                continue;
            };
            if let Some(centre) = found.centre {
                gained += 1;
                assert!(centre.gain > 3.0 * centre.error && centre.gain >= 0.005);
                let after = taken(&design, &centre);
                assert_eq!(after, centre.share, "{}", centre.words);
                // Its side effects are what the changed design's figures are.
                let changed = solved(&design.edited(&centre.edits).expect("edits that fit"));
                assert!(!centre.effects.is_empty(), "{}", centre.words);
                for effect in &centre.effects {
                    let of = |outcome: &Outcome| {
                        let mut figures = outcome.stages[0].figures.iter();
                        let own = figures.find(|figure| figure.label == effect.label);
                        own.expect("its figure").value
                    };
                    let near = |a: f64, b: f64| (a - b).abs() <= 1e-6 * b.abs();
                    assert!(near(effect.before, of(&outcome)), "{effect:?}");
                    assert!(near(effect.after, of(&changed)), "{effect:?}");
                }
            }
        }
    }
    assert!(gained >= 2, "{gained}");
}

/// A trimmer brings boards where it says: tried by hand on boards that are built again.
#[test]
fn a_trimmer_does_what_it_says() {
    let mut design = design();
    design.spread.boards = 2000;
    let mut work = polewright::solve::Work::begin(&design).expect("a design");
    while work.advance(&mut || true) != polewright::solve::Step::Done {}
    let found = work.outcome().proposals.clone().expect("proposals");
    let trim = found
        .trims
        .iter()
        .find(|trim| trim.figure == "notch-frequency");
    let trim = trim.expect("a trimmer for the frequency");
    assert!(trim.yield_after > found.share + 0.01, "{}", trim.words);
    assert!(
        trim.low < 1.0 && trim.high > 1.0 && trim.share >= 0.97,
        "{}",
        trim.words
    );
    // By hand: the deepest point of the notch goes as one over the root of R1·R2·C1·C2 (tests/reference/spread.py
    // derives it), with an ideal op amp; how far R1 or R2 must turn follows from each board's parts.
    let wanted = 2350.0;
    let mut turns: Vec<f64> = (0..1000)
        .map(|number| {
            let board = work.board(number).expect("a board");
            let f0 = board.figures[0];
            // Twice as far as the frequency is off, to first order.
            (f0 / wanted).powi(2)
        })
        .collect();
    turns.sort_by(f64::total_cmp);
    assert!(["R1", "R2"].contains(&trim.part.as_str()), "{}", trim.part);
    let (low, high) = (turns[10], turns[989]);
    assert!(
        (trim.low / low - 1.0).abs() < 0.01,
        "{} against {low}",
        trim.low
    );
    assert!(
        (trim.high / high - 1.0).abs() < 0.01,
        "{} against {high}",
        trim.high
    );
}

/// The yield with a trimmer, by brute force: each board is built again and its part turned in many steps over the
/// range that was told; it is left where its figure comes nearest to what is wanted, which is the range's end for
/// boards that want more, and is judged by its limits there.
#[test]
fn a_trimmed_board_is_judged_where_the_trimmer_stands() {
    let (mut trims, mut beyond) = (0, 0);
    for (circuit, tolerance, trimmed) in [
        ("mfb-notch", 0.01, 0.98),
        ("mfb-notch", 0.03, 0.6),
        ("twin-t-notch", 0.01, 0.8),
    ] {
        let mut design = design();
        design.stages[0].circuit = circuit.to_owned();
        design.spread.boards = 1100;
        design.spread.trimmed = trimmed;
        design.spread.op_amps.gain_bandwidth = 0.0;
        design.spread.op_amps.gain_db = 0.0;
        design.shelf.resistors.tolerance = tolerance;
        let mut work = polewright::solve::Work::begin(&design).expect("a design");
        while work.advance(&mut || true) != polewright::solve::Step::Done {}
        let found = work.outcome().proposals.clone().expect("proposals");
        let stage = by_id(circuit).expect("a circuit");
        let model =
            Model::new(stage, &design.stages[0].ask, &design.op_amp.op_amp()).expect("a model");
        let figures = model.yardstick.figures();
        let mut scratch = Scratch::default();
        for trim in &found.trims {
            let at = figures.iter().position(|f| f.name == trim.figure);
            let at = at.expect("its figure");
            let wanted = figures[at].wanted.expect("a wanted value");
            let part = model.netlist.position(&trim.part).expect("its part");
            let boards = 1024;
            let mut good = 0;
            for number in 0..boards {
                let board = work.board(number).expect("a board");
                let built = model.netlist.parts().iter().map(|part| {
                    let of = board.parts.iter().find(|of| of.label == part.name);
                    of.map_or(0.0, |of| of.value)
                });
                let built: Vec<f64> = built.collect();
                let mut look = |factor: f64| {
                    let mut values = built.clone();
                    values[part] *= factor;
                    model.figures(&values, None, &mut scratch)
                };
                let (mut low, mut high) = (trim.low, trim.high);
                let mut nearest = 0;
                // Closing in on the nearest of eleven places.
                for round in 0..7 {
                    let place = |k: usize| low + (high - low) * k as f64 / 10.0;
                    let mut off = |k: &usize| (look(place(*k))[at] - wanted).abs();
                    let offs: Vec<f64> = (0..=10).map(|k| off(&k)).collect();
                    nearest = (0..=10)
                        .min_by(|a, b| offs[*a].total_cmp(&offs[*b]))
                        .expect("a place");
                    let is_end =
                        nearest == 0 && low == trim.low || nearest == 10 && high == trim.high;
                    beyond += i32::from(round == 6 && is_end);
                    let ends = (nearest.saturating_sub(1), (nearest + 1).min(10));
                    (low, high) = (place(ends.0), place(ends.1));
                }
                let middle = if nearest == 0 && low == trim.low {
                    low
                } else if nearest == 10 && high == trim.high {
                    high
                } else {
                    0.5 * (low + high)
                };
                let read = look(middle);
                let mut judged = figures.iter().zip(&read);
                good += i32::from(judged.all(|(figure, value)| figure.keeps(*value)));
            }
            let share = f64::from(good) / f64::from(boards);
            assert!(
                (share - trim.yield_after).abs() <= 1.0 / f64::from(boards),
                "{circuit} {}: by hand {share} and not {}",
                trim.words,
                trim.yield_after
            );
            trims += 1;
        }
    }
    assert!(
        trims >= 3 && beyond > 100,
        "{trims} trimmers, {beyond} boards beyond"
    );
}

/// What comes out does not hang on slices.
#[test]
fn proposals_do_not_hang_on_slices() {
    let mut design = design();
    design.spread.boards = 1000;
    let whole = solved(&design).proposals;
    let mut work = polewright::solve::Work::begin(&design).expect("a design");
    let mut turn = 0u32;
    let mut longest = 0;
    let mut calls = 0;
    while work.advance(&mut || {
        turn += 1;
        !turn.is_multiple_of(3)
    }) != polewright::solve::Step::Done
    {
        calls += 1;
        longest = longest.max(calls);
    }
    assert!(longest > 100);
    assert_eq!(work.outcome().proposals, whole);
}
