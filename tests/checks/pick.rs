//! The search against brute force: every set that a small shelf allows, ranked by the same rule.

use std::collections::BTreeMap;

use polewright::parts::{Bin, OpAmp, Series, Shelf};
use polewright::pick::{Judge, KEPT, Pick, Preference, Search, Weights, best_share, rank};
use polewright::stages::{Ask, Depth, Model, NotchAsk, Scratch, by_id};

fn shelf(resistors: Series, low: f64, high: f64, capacitors: &[f64]) -> Shelf {
    Shelf {
        resistors: Bin {
            series: resistors,
            lowest: low,
            highest: high,
            ..Bin::resistors()
        },
        capacitors: Bin {
            list: Some(capacitors.to_vec()),
            ..Bin::capacitors()
        },
    }
}

fn search(model: &Model, shelf: &Shelf, pins: &BTreeMap<usize, f64>) -> Vec<Pick> {
    let mut search = Search::new(model, shelf, pins, Preference::Balanced);
    // One small slice after the other: the answer must not hang on how the work is cut.
    let mut left = 0;
    while search
        .advance(model, &mut || {
            left -= 1;
            left > 0
        })
        .is_pending()
    {
        left = 7;
    }
    search.take().picks
}

/// All sets, best first.
fn brute_force(model: &Model, shelf: &Shelf, pins: &BTreeMap<usize, f64>) -> Vec<Pick> {
    let (rs, cs) = (shelf.resistors.values(), shelf.capacitors.values());
    let list =
        |part: usize, all: &[f64]| pins.get(&part).map_or(all.to_vec(), |&value| vec![value]);
    let mut scratch = Scratch::default();
    let (judge, weights) = (Judge::new(model, shelf), Weights::of(Preference::Balanced));
    let mut best = Vec::new();
    for &c1 in &list(1, &cs) {
        for &c2 in &list(2, &cs) {
            for &r1 in &list(0, &rs) {
                for &r2 in &list(3, &rs) {
                    for &r3 in &list(4, &rs) {
                        for &r4 in &list(5, &rs) {
                            let values = vec![r1, c1, c2, r2, r3, r4, 0.0];
                            let terms = model.terms(&values, None, &mut scratch);
                            // What does not hold its limits is of no use where something does.
                            if model.term_shape().miss(&terms) <= 1.0 {
                                let by = (&judge, &weights);
                                let rank = rank(model, by, &values, None, &mut scratch);
                                best.extend(rank.map(|rank| Pick { values, rank }));
                            }
                        }
                    }
                }
            }
        }
    }
    let share = best_share(best.iter().map(|pick| &pick.rank));
    best.sort_by(|a, b| a.rank.order(&b.rank, share));
    best
}

/// The first pick is as good as this set by the rule of rank, or as good as makes no difference: not every set is
/// looked at to the end, so within a step and less than a value's worth of points is as good.
pub fn is_as_good_as(values: &[f64], model: &Model, shelf: &Shelf, picks: &[Pick]) -> bool {
    let by = (
        &Judge::new(model, shelf),
        &Weights::of(Preference::Balanced),
    );
    let Some(other) = rank(model, by, values, None, &mut Scratch::default()) else {
        return true;
    };
    let share = best_share(picks.iter().map(|pick| &pick.rank).chain([&other]));
    picks.first().is_some_and(|first| {
        let first = &first.rank;
        let is_close =
            first.holds() && first.steps_below(share) <= 1 && first.points < other.points + 0.75;
        first.order(&other, share).is_le() || is_close
    })
}

fn compare(ask: NotchAsk, shelf: &Shelf, pins: &[(usize, f64)], op_amp: &OpAmp) {
    let model = Model::new(
        by_id("mfb-notch").expect("the stage"),
        &Ask::Notch(ask.clone()),
        op_amp,
    )
    .expect("a circuit");
    let pins: BTreeMap<usize, f64> = pins.iter().copied().collect();
    let found = search(&model, shelf, &pins);
    let expected = brute_force(&model, shelf, &pins);
    let Some(known) = expected.first() else {
        assert!(!found[0].rank.holds(), "{ask:?}");
        return;
    };
    let best = &found[0];
    let share = known.rank.share.max(best.rank.share);
    println!(
        "{ask:?}: {:.2} points, {:.2} at best; shares {:.3}, {:.3}",
        best.rank.points, known.rank.points, best.rank.share, known.rank.share
    );
    assert!(
        best.rank.holds(),
        "{ask:?}\nfound  {best:?}\nbetter {known:?}"
    );
    let near = best.rank.steps_below(share) <= 1 && best.rank.points < known.rank.points + 1.5;
    assert!(near, "{ask:?}\nfound  {best:?}\nbetter {known:?}");
    compare_all(&model, shelf, &found, &expected);
}

/// All thirteen that are told, against all sets that hold the limits.
///
/// They are sets of which none is told twice, each with the rank that the rule gives it, in order. The list is not the
/// thirteen best: it shows a few sets with each pair of capacitors, so that there is something to choose from. So for
/// each pair of capacitors the sets that are told are held against brute force's in the same places, and a pair that is
/// not told against the last one told. The search is for the first; next-best ones are found by the way, and may lie
/// several steps of the share below what brute force has in their place. How many is bounded here, so that it is seen
/// when that grows.
fn compare_all(model: &Model, shelf: &Shelf, found: &[Pick], expected: &[Pick]) {
    const MOST: (u32, f64) = (8, 2.0);
    let by = (
        &Judge::new(model, shelf),
        &Weights::of(Preference::Balanced),
    );
    let own = best_share(found.iter().map(|pick| &pick.rank));
    for (at, pick) in found.iter().enumerate() {
        let ranked = rank(model, by, &pick.values, None, &mut Scratch::default());
        let ranked = ranked.expect("a rank");
        let is_own = (ranked.points - pick.rank.points).abs() < 1e-6
            && (ranked.miss - pick.rank.miss).abs() < 1e-6
            && (ranked.share - pick.rank.share).abs() < 1e-9;
        assert!(is_own, "{at}: {ranked:?} and told {:?}", pick.rank);
        let is_twice = found[..at].iter().any(|other| other.values == pick.values);
        assert!(!is_twice, "{at}: {:?} is told twice", pick.values);
        if let Some(next) = found.get(at + 1) {
            let is_before = pick.rank.order(&next.rank, own).is_le();
            assert!(is_before, "{at}: {pick:?} before {next:?}");
        }
    }
    let share = best_share(found.iter().chain(expected).map(|pick| &pick.rank));
    // How much worse one is, in steps and in points.
    let worse = |a: &Pick, b: &Pick| {
        let steps = a.rank.steps_below(share);
        (
            steps.saturating_sub(b.rank.steps_below(share)),
            a.rank.points - b.rank.points,
        )
    };
    let pair = |pick: &Pick| [pick.values[1], pick.values[2]].map(f64::to_bits);
    let held: Vec<&Pick> = found.iter().filter(|pick| pick.rank.holds()).collect();
    let mut known: BTreeMap<[u64; 2], Vec<&Pick>> = BTreeMap::new();
    for pick in expected {
        known.entry(pair(pick)).or_default().push(pick);
    }
    let mut far = Vec::new();
    for (pair_of, known) in &known {
        let told = held.iter().filter(|pick| pair(pick) == *pair_of);
        let told: Vec<&&Pick> = told.collect();
        let rivals: Vec<(&Pick, &Pick)> = match (told.is_empty(), held.last()) {
            (false, _) => told
                .iter()
                .map(|pick| **pick)
                .zip(known.iter().copied())
                .collect(),
            // What is not told is held against the last that is, which is better, or nearly so.
            (true, Some(last)) if held.len() < found.len() || found.len() == KEPT => {
                vec![(*last, known[0])]
            }
            _ => Vec::new(),
        };
        far.extend(
            rivals
                .into_iter()
                .map(|(told, known)| (worse(told, known), told, known)),
        );
    }
    let apart = |(a, ..): &&((u32, f64), &Pick, &Pick)| a.0 > MOST.0 || a.1 > MOST.1;
    let steps = far.iter().map(|(a, ..)| a.0).max();
    let points = far.iter().map(|(a, ..)| a.1).fold(f64::MIN, f64::max);
    println!(
        "all: {} told, {} of them hold, {} pairs; {steps:?} steps and {points:.2} points worse",
        found.len(),
        held.len(),
        known.len()
    );
    assert!(!far.is_empty());
    let off: Vec<_> = far.iter().filter(apart).collect();
    assert!(
        off.is_empty(),
        "{} of {}: {:#?}",
        off.len(),
        far.len(),
        off[0]
    );
}

#[test]
fn best_of_a_coarse_shelf() {
    let shelf = shelf(Series::E6, 330.0, 150e3, &[1e-9, 2.2e-9, 10e-9]);
    for frequency in [700.0, 2350.0, 9e3] {
        for q in [0.8, 1.5, 3.0] {
            let ask = NotchAsk {
                frequency,
                q,
                ..NotchAsk::default()
            };
            compare(ask, &shelf, &[], &OpAmp::default());
        }
    }
}

#[test]
fn best_of_a_finer_shelf() {
    let shelf = shelf(Series::E12, 1e3, 68e3, &[4.7e-9, 10e-9]);
    for (frequency, q, depth) in [
        (1234.0, 1.1, Depth::FullNull(())),
        (3100.0, 1.9, Depth::FullNull(())),
        (2000.0, 1.0, Depth::Decibel(25.0)),
    ] {
        let ask = NotchAsk {
            frequency,
            q,
            depth,
            ..NotchAsk::default()
        };
        compare(ask, &shelf, &[], &OpAmp::default());
    }
}

#[test]
fn best_round_pinned_parts() {
    let shelf = shelf(Series::E12, 1e3, 82e3, &[2.2e-9, 4.7e-9, 10e-9]);
    let ask = NotchAsk::default();
    for pins in [
        vec![(1, 4.7e-9)],
        vec![(0, 3.9e3)],
        vec![(4, 4.7e3), (2, 4.7e-9)],
        vec![(3, 50e3), (5, 33e3)],
    ] {
        compare(ask.clone(), &shelf, &pins, &OpAmp::default());
    }
}

#[test]
fn best_with_a_slow_op_amp() {
    let shelf = shelf(Series::E12, 1e3, 68e3, &[1e-9, 2.2e-9]);
    let slow = OpAmp {
        gain_bandwidth: 1e6,
        ..OpAmp::default()
    };
    let ask = NotchAsk {
        frequency: 9e3,
        q: 1.5,
        ..NotchAsk::default()
    };
    compare(ask, &shelf, &[], &slow);
}

#[test]
fn never_worse_than_rounding_the_exact_values() {
    // Two hundred asks within reach, from a fixed sequence.
    let shelf = Shelf::default();
    let (rs, cs) = (shelf.resistors.values(), shelf.capacitors.values());
    let nearest = |value: f64, list: &[f64]| {
        list.iter()
            .copied()
            .min_by(|a, b| (a / value).ln().abs().total_cmp(&(b / value).ln().abs()))
            .expect("a shelf")
    };
    let mut close = 0;
    for k in 0..200 {
        let part = |m: f64| (f64::from(k) * m).fract();
        let ask = NotchAsk {
            frequency: 20.0 * 1000f64.powf(part(0.618_034)),
            q: 0.5 * 16f64.powf(part(0.414_214)),
            ..NotchAsk::default()
        };
        let model = Model::new(
            by_id("mfb-notch").expect("the stage"),
            &Ask::Notch(ask.clone()),
            &OpAmp::default(),
        )
        .expect("a circuit");
        let picks = search(&model, &shelf, &BTreeMap::new());
        let c = nearest(1e-5 / ask.frequency, &cs);
        let mut values = vec![0.0, c, c, 0.0, 0.0, 0.0, 0.0];
        model.stage.solve(&model.ask, &mut values);
        for part in [0, 3, 4, 5] {
            values[part] = nearest(values[part], &rs);
        }
        let best = &picks[0].rank;
        assert!(
            is_as_good_as(&values, &model, &shelf, &picks),
            "{ask:?}: {best:?} against {values:?}"
        );
        close += usize::from(best.miss < 0.75);
    }
    // Near the shelf's ends there is less to choose from.
    assert!(close > 190, "{close} of 200");
}
