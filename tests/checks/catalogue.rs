//! What holds for every stage of the catalogue, found out by asking its trait only.

use std::collections::{BTreeMap, BTreeSet};

use polewright::circuit::Kind;
use polewright::design::{Design, StageDesign, View};
use polewright::parts::{Bin, OpAmp, Series, Shelf};
use polewright::pick::{Pick, Preference, Search};
use polewright::quantity::Unit;
use polewright::solve::solve;
use polewright::stages::{Ask, CATALOGUE, Model, Scratch, Stage};

use super::asks::{Random, vary, with_gain};
use super::pick::is_as_good_as;

#[test]
fn every_stage_says_what_it_is() {
    let mut ids = BTreeSet::new();
    for &stage in CATALOGUE {
        let id = stage.id();
        assert!(ids.insert(id), "{id} twice");
        let kebab = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        assert!(!id.is_empty() && id.chars().all(kebab), "{id}");
        assert!(!stage.title().is_empty(), "{id}");
        let summary = stage.summary();
        assert!(
            summary.ends_with('.') && summary.len() < 170,
            "{id}: {summary}"
        );
        assert!(!stage.sources().is_empty(), "{id}");
        assert!(stage.sign().abs() == 1, "{id}");
    }
}

#[test]
fn every_bought_part_is_in_one_group() {
    for &stage in CATALOGUE {
        let (grouping, netlist) = (stage.grouping(), stage.netlist());
        let alike = [grouping.chosen, grouping.free, grouping.solved].concat();
        let pairs = grouping.dividers.iter().flat_map(|&(u, l)| [u, l]);
        let mut grouped: Vec<usize> = alike.concat().into_iter().chain(pairs).collect();
        grouped.extend(grouping.given.iter().map(|(part, _)| *part));
        grouped.sort_unstable();
        let parts = netlist.parts().iter().enumerate();
        let bought: Vec<usize> = parts
            .filter(|(_, part)| Unit::of(part.kind).is_some())
            .map(|(index, _)| index)
            .collect();
        assert_eq!(grouped, bought, "{}", stage.id());
        for group in alike {
            let kind = |part: usize| netlist.parts()[part].kind;
            let same = group.iter().all(|&p| kind(p).is_like(kind(group[0])));
            assert!(same, "{}: {group:?} are not alike", stage.id());
        }
    }
}

/// Comfortable chosen and free parts, and what the design equations make of them; the ask may have to
/// follow where chosen parts alone set the gain.
pub(super) fn solved(stage: &dyn Stage, ask: Ask, random: &mut Random) -> Option<(Ask, Vec<f64>)> {
    let (grouping, netlist) = (stage.grouping(), stage.netlist());
    let mut values = vec![0.0; netlist.parts().len()];
    let capacitors = Series::E6.between(1e-9, 47e-9);
    for group in [grouping.chosen, grouping.free].concat() {
        let value = match netlist.parts()[group[0]].kind {
            Kind::Capacitor { .. } => random.one_of(&capacitors),
            _ => random.between(1e3, 50e3),
        };
        group.iter().for_each(|&part| values[part] = value);
    }
    let at = |name: &str| netlist.position(name).expect("a part of this name");
    let ask = match stage.id() {
        "mfb-high-pass" => with_gain(&ask, values[at("C1")] / values[at("C2")]),
        _ => ask,
    };
    stage.solve(&ask, &mut values);
    let parts = netlist.parts().iter().zip(&values);
    let fits = |(part, &value): (&polewright::circuit::Part, &f64)| {
        !matches!(part.kind, Kind::Resistor { .. }) || (10.0..=10e6).contains(&value)
    };
    parts.into_iter().all(fits).then_some((ask, values))
}

#[test]
fn design_equations_give_what_is_asked() {
    for &stage in CATALOGUE {
        // A passive circuit between a source and a load meets no ask: that is what it is there to show.
        if !stage.grouping().given.is_empty() {
            continue;
        }
        let mut random = Random(7);
        let (mut tried, mut checked) = (0, 0);
        while checked < 60 {
            tried += 1;
            assert!(
                tried < 20_000,
                "{}: only {checked} asks within reach",
                stage.id()
            );
            let Some(ask) = vary(stage, &mut random) else {
                break;
            };
            let (shelf, ideal) = (Shelf::default(), OpAmp::IDEAL);
            let Some((ask, values)) = solved(stage, ask, &mut random) else {
                continue;
            };
            // Capacitors of the test need not be the shelf's, so only the rest of the reasons counts.
            if stage.id() != "mfb-high-pass" && !stage.reach(&ask, &shelf, &ideal).is_empty() {
                continue;
            }
            check(stage, &ask, &values);
            checked += 1;
        }
    }
}

fn check(stage: &dyn Stage, ask: &Ask, values: &[f64]) {
    let stage = polewright::stages::by_id(stage.id()).expect("a stage of the catalogue");
    let model = Model::new(stage, ask, &OpAmp::IDEAL).expect("a circuit with an answer");
    let found = model.figures(values, None, &mut Scratch::default());
    for (figure, found) in model.yardstick.figures().iter().zip(found) {
        // The one-op-amp all-pass has a gain that is its own.
        let own_gain = figure.name == "gain-db" && stage.id() == "mfb-all-pass";
        let Some(wanted) = figure.wanted.filter(|w| w.is_finite() && !own_gain) else {
            continue;
        };
        let (found, wanted) = match figure.unit {
            polewright::quantity::Unit::Decibel => {
                (10f64.powf(found / 20.0), 10f64.powf(wanted / 20.0))
            }
            _ => (found, wanted),
        };
        println!(
            "{}: {} {:e}",
            stage.id(),
            figure.name,
            (found / wanted - 1.0).abs()
        );
        assert!(
            (found / wanted - 1.0).abs() < 1e-6,
            "{} {ask:?} {values:?}: {} {found} for {wanted}",
            stage.id(),
            figure.name
        );
    }
    // The whole response with its sign, where the ask says it all.
    let Some(goal) = model.yardstick.goal(f64::from(stage.sign())) else {
        return;
    };
    let h = model.transfer(values);
    let own = match stage.id() {
        "mfb-all-pass" => h.at(ask.frequency()).norm(),
        _ => 1.0,
    };
    let most = (-20..=20)
        .map(|k| ask.frequency() * 10f64.powf(f64::from(k) / 10.0))
        .map(|f| (goal.at(f), h.at(f) / own))
        .map(|(goal, h)| (goal - h).norm() / goal.norm())
        .fold(0.0, f64::max);
    assert!(most < 1e-6, "{} {ask:?}: {most} off the goal", stage.id());
}

fn search(model: &Model, shelf: &Shelf) -> Vec<Pick> {
    let mut search = Search::new(model, shelf, &BTreeMap::new(), Preference::Balanced);
    assert!(search.advance(model, &mut || true).is_ready());
    search.take().picks
}

/// Every picked part rounded to the shelf from the design equations, the chosen ones as picked.
pub fn rounded(model: &Model, shelf: &Shelf, picked: &[f64]) -> Vec<f64> {
    let mut values = picked.to_vec();
    model.stage.solve(&model.ask, &mut values);
    for (part, value) in model.netlist.parts().iter().zip(&mut values) {
        if let Some(bin) = shelf.bin(part.kind) {
            // Where the equations have no answer, rounding has none either.
            if !(*value > 0.0 && value.is_finite()) {
                continue;
            }
            let away = |v: &f64| (v / *value).ln().abs();
            let nearest = bin.values().into_iter();
            let nearest = nearest.min_by(|a, b| away(a).total_cmp(&away(b)));
            *value = nearest.expect("a shelf");
        }
    }
    values
}

/// The default shelf, or a coarse one for circuits whose search would take a test too long.
fn shelf(stage: &dyn Stage) -> (Shelf, bool) {
    let grouping = stage.grouping();
    if grouping.dividers.is_empty() && grouping.chosen.len() < 3 {
        return (Shelf::default(), true);
    }
    // Dividers want short lists, capacitors apart want long ones.
    let (resistors, capacitors) = if grouping.dividers.is_empty() {
        ((330.0, 330e3), (100e-12, 220e-9))
    } else {
        ((1e3, 100e3), (470e-12, 100e-9))
    };
    let coarse = Shelf {
        resistors: Bin {
            series: Series::E24,
            lowest: resistors.0,
            highest: resistors.1,
            ..Bin::resistors()
        },
        capacitors: Bin {
            series: Series::E3,
            lowest: capacitors.0,
            highest: capacitors.1,
            ..Bin::capacitors()
        },
    };
    (coarse, false)
}

/// Two hundred asks within reach: none picked worse than plain rounding, nearly all within their limits,
/// and on the default shelf mostly close.
fn pick_two_hundred(stage: &'static dyn Stage) {
    if !stage.grouping().given.is_empty() {
        return;
    }
    const COUNT: usize = 200;
    let (shelf, is_fine) = shelf(stage);
    let op_amp = OpAmp::default();
    let mut random = Random(11);
    let (mut tried, mut picked, mut held, mut close) = (0, 0, 0, 0);
    while picked < COUNT {
        tried += 1;
        assert!(tried < 10 * COUNT, "{}: only {picked}", stage.id());
        let Some(ask) = vary(stage, &mut random) else {
            return;
        };
        if !stage.reach(&ask, &shelf, &op_amp).is_empty() {
            continue;
        }
        let model = Model::new(stage, &ask, &op_amp).expect("a circuit");
        picked += 1;
        let picks = search(&model, &shelf);
        // A coarse and short shelf may have nothing at all for an ask that its ends allow.
        let Some(best) = picks.first() else {
            assert!(!is_fine, "{} {ask:?}: nothing found", stage.id());
            continue;
        };
        let values = rounded(&model, &shelf, &best.values);
        assert!(
            is_as_good_as(&values, &model, &shelf, &picks),
            "{} {ask:?}: {best:?} against {values:?}",
            stage.id()
        );
        held += usize::from(best.rank.miss <= 1.0);
        close += usize::from(best.rank.miss < 0.5);
    }
    println!("{}: {held} held, {close} close of {COUNT}", stage.id());
    let (least_held, least_close) = if is_fine { (195, 140) } else { (180, 0) };
    assert!(
        held >= least_held && close >= least_close,
        "{}: {held} held and {close} close",
        stage.id()
    );
}

#[test]
fn picks_of_simple_stages_are_never_worse_than_rounding() {
    let simple = |stage: &&&dyn Stage| shelf(**stage).1;
    CATALOGUE
        .iter()
        .filter(simple)
        .copied()
        .for_each(pick_two_hundred);
}

#[test]
fn picks_with_dividers_are_never_worse_than_rounding() {
    // The notch has a test of its own.
    let slow = |stage: &&&dyn Stage| !shelf(**stage).1 && stage.id() != "mfb-notch";
    CATALOGUE
        .iter()
        .filter(slow)
        .copied()
        .for_each(pick_two_hundred);
}

/// Without one no frequency is too low.
fn has_capacitor(stage: &dyn Stage) -> bool {
    let netlist = stage.netlist();
    let kinds = netlist.parts().iter().map(|part| part.kind);
    kinds
        .into_iter()
        .any(|kind| matches!(kind, Kind::Capacitor { .. }))
}

#[test]
fn what_is_out_of_reach_is_said_in_sentences() {
    let (shelf, op_amp) = (Shelf::default(), OpAmp::default());
    for &stage in CATALOGUE {
        let mut random = Random(3);
        let is_passive = !stage.grouping().given.is_empty();
        if is_passive || vary(stage, &mut random).is_none() {
            continue;
        }
        let json = serde_json::to_value(stage.default_ask()).expect("JSON");
        let with = |changes: &[(&str, f64)]| -> Ask {
            let mut json = json.clone();
            for (name, value) in changes {
                json[*name] = (*value).into();
            }
            serde_json::from_value(json).expect("an ask")
        };
        assert!(
            stage
                .reach(&stage.default_ask(), &shelf, &op_amp)
                .is_empty(),
            "{} opens out of reach",
            stage.id()
        );
        let mut far = Vec::new();
        for entry in stage.default_ask().asked().entries() {
            match entry.name {
                // The notch says so only once nothing is found.
                "frequency" if stage.id() != "mfb-notch" && has_capacitor(stage) => {
                    far.push(with(&[("frequency", 0.02)]));
                    far.push(with(&[("frequency", 9e6)]));
                }
                "q" => far.push(with(&[("q", entry.highest), ("frequency", 20e3)])),
                "gain" => far.push(with(&[("gain", entry.highest), ("frequency", 20e3)])),
                _ => {}
            }
        }
        for ask in far {
            let reasons = stage.reach(&ask, &shelf, &op_amp);
            assert!(!reasons.is_empty(), "{} {ask:?}", stage.id());
            for reason in reasons {
                let is_sentence =
                    reason.ends_with('.') && reason.contains("would make it possible");
                assert!(is_sentence && !reason.contains("NaN"), "{reason}");
            }
        }
    }
}

#[test]
fn gains_that_a_circuit_cannot_have() {
    for (id, gain) in [
        ("sallen-key-low-pass", 2.0),
        ("sallen-key-low-pass-gain", 0.5),
        ("sallen-key-high-pass", 0.5),
        ("sallen-key-high-pass-gain", 1.0),
        ("sallen-key-band-pass", 500.0),
        ("sallen-key-low-pass-3", 1.5),
        ("sallen-key-high-pass-3", 0.8),
        ("follower-low-pass", 3.0),
        ("non-inverting-low-pass", 0.9),
    ] {
        let stage = polewright::stages::by_id(id).expect("the stage");
        let ask = with_gain(&stage.default_ask(), gain);
        let reasons = stage.reach(&ask, &Shelf::default(), &OpAmp::default());
        assert!(
            reasons.iter().any(|r| r.to_lowercase().contains("gain")),
            "{id}: {reasons:?}"
        );
    }
}

/// Every group delay that is told is a number, and is the slope of the phase: against central differences of the
/// phase from both sides, of which a jump by half a turn on the axis is no part. Where a bend is sharper than the
/// difference is wide, two widths disagree and nothing is compared.
#[test]
fn group_delays_are_slopes_of_the_phase_everywhere() {
    let (mut compared, mut on_axis) = (0, 0);
    for &stage in CATALOGUE {
        let mut design = Design::default();
        design.stages[0] = StageDesign {
            circuit: stage.id().to_owned(),
            ask: stage.default_ask(),
            ..StageDesign::default()
        };
        design.spread.boards = 100;
        design.view = View {
            compare: false,
            propose: false,
            contributions: false,
            ..design.view
        };
        let outcome = solve(&design).expect("an outcome");
        let shown = &outcome.stages[0];
        let curves = shown.curves.as_ref().expect("curves");
        for curve in [&curves.ask, &curves.ideal, &curves.real] {
            let finite = curve.delay.iter().all(|delay| delay.is_finite());
            assert!(finite, "{}: {:?}", stage.id(), curve.delay);
        }
        let slow = outcome.spread.as_ref().and_then(|s| s.slow.as_ref());
        let bands = &slow.expect("bands").delay;
        for column in [
            &bands.low,
            &bands.q05,
            &bands.median,
            &bands.q95,
            &bands.high,
        ] {
            assert!(column.iter().all(|v| v.is_finite()), "{}", stage.id());
        }
        let model = Model::new(stage, &stage.default_ask(), &OpAmp::IDEAL).expect("a model");
        let picked = &shown.picks[shown.choice].values;
        let mut bought = picked.iter();
        let mut values = vec![0.0; model.netlist.parts().len()];
        for (part, value) in values.iter_mut().enumerate() {
            *value = match model.bought[part] {
                true => *bought.next().expect("a value"),
                false => model.given(part),
            };
        }
        let h = model.transfer(&values);
        for (&f, &delay) in curves.frequency.iter().zip(&curves.ideal.delay) {
            let slope = |part: f64| {
                let (above, below) = (h.at(f * (1.0 + part)), h.at(f * (1.0 - part)));
                let twice = (above / below).powi(2).arg();
                -twice / 2.0 / (std::f64::consts::TAU * 2.0 * f * part)
            };
            let (wide, narrow) = (slope(1e-4), slope(2.5e-5));
            let room = 1e-6 / f + 1e-3 * wide.abs();
            if (wide - narrow).abs() < room {
                compared += 1;
                on_axis += i32::from(h.at(f).norm() < 1e-9 * h.at(f * 1.1).norm());
                assert!(
                    (delay - narrow).abs() < 3.0 * room,
                    "{} at {f} Hz: {delay} against {narrow}",
                    stage.id()
                );
            }
        }
    }
    assert!(compared > 47 * 100 && on_axis >= 2, "{compared} {on_axis}");
}

/// What an ask leaves out is its own family's, so that an ask with nothing but a family, or without one of the
/// fields that its circuits open with, is one that can be made.
#[test]
fn what_an_ask_leaves_out_does_not_contradict_it() {
    for stage in CATALOGUE {
        let json = serde_json::to_value(stage.default_ask()).expect("JSON");
        let whole = json.as_object().expect("an object");
        let bare = whole.iter().filter(|(name, _)| *name == "family");
        let bare = bare.map(|(name, value)| (name.clone(), value.clone()));
        let without = |name: &String| {
            let mut less = whole.clone();
            less.remove(name);
            less
        };
        let fields = whole.keys().filter(|name| *name != "family");
        for given in fields.map(without).chain([bare.collect()]) {
            let ask: Ask = serde_json::from_value(given.into()).expect("an ask");
            let conflicts = ask.asked().conflicts();
            assert!(conflicts.is_empty(), "{}: {conflicts:?}", stage.id());
        }
    }
}
