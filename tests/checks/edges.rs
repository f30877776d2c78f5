//! Edges at −3 dB against a dense scan of |H| with bisection: random asks of every family that has edges, real op amps,
//! the set as solved and boards round it, which take the first one's figures as hints.

use polewright::parts::OpAmp;
use polewright::response::Transfer;
use polewright::stages::{Ask, CATALOGUE, Model, Stage};

use super::asks::{Random, vary};
use super::catalogue::solved;

/// The first place from `from` on, in ratios of `step`, where |H| passes the level.
fn scanned(h: &Transfer, from: f64, level: f64, step: f64) -> Option<f64> {
    let is_above = |f: f64| h.at(f).norm() > level;
    let at_first = is_above(from);
    let mut f = from;
    while f > from * 1e-9 && f > 1e-7 && f < 1e12 {
        let next = f * step;
        if is_above(next) != at_first {
            let (mut near, mut far) = (f, next);
            for _ in 0..60 {
                let middle = (near * far).sqrt();
                if is_above(middle) == at_first {
                    near = middle;
                } else {
                    far = middle;
                }
            }
            return Some((near * far).sqrt());
        }
        f = next;
    }
    None
}

/// Where the scan starts, and the level: as the figures' meanings say.
fn start(ask: &Ask, h: &Transfer, figures: &[f64]) -> (f64, f64) {
    let of = |at: f64| h.at(at).norm() * 0.5f64.sqrt();
    match ask {
        Ask::Notch(_) => (figures[0], of(0.0)),
        Ask::LowPass2(pair) => (pair.frequency * 1e-3, of(0.0)),
        Ask::LowPass3(triple) => (triple.frequency.min(triple.corner) * 1e-3, of(0.0)),
        Ask::HighPass2(pair) => (10.0 * pair.frequency, of(10.0 * pair.frequency)),
        Ask::HighPass3(triple) => (10.0 * triple.frequency, of(10.0 * triple.frequency)),
        Ask::BandPass(pair) => (pair.frequency, of(pair.frequency)),
        Ask::Gain(gain) => (gain.frequency, of(gain.frequency)),
        Ask::Follower(follower) => (follower.frequency, of(follower.frequency)),
        other => panic!("no edges known of {other:?}"),
    }
}

/// Narrow ones too.
fn asked(stage: &dyn Stage, random: &mut Random) -> Option<Ask> {
    let ask = vary(stage, random).unwrap_or_else(|| stage.default_ask());
    let mut json = serde_json::to_value(&ask).expect("an ask");
    if json["family"] == "band-pass" || json["family"] == "notch" {
        json["q"] = random.between(0.35, 40.0).into();
    }
    serde_json::from_value(json).ok()
}

#[test]
fn edges_are_found_wherever_they_exist() {
    let mut random = Random(42);
    let (mut found, mut none, mut families) = (0, 0, std::collections::BTreeMap::new());
    for &stage in CATALOGUE {
        let yardstick = stage.default_ask().yardstick();
        if !yardstick
            .figures()
            .iter()
            .any(|f| f.name.starts_with("edge-"))
        {
            continue;
        }
        for _ in 0..12 {
            let Some((ask, values)) = (0..50).find_map(|_| {
                let ask = asked(stage, &mut random)?;
                solved(stage, ask, &mut random)
            }) else {
                continue;
            };
            let op_amp = OpAmp {
                gain_db: 80.0 + 50.0 * random.part(),
                gain_bandwidth: random.between(1e6, 100e6),
                output_resistance: random.between(1.0, 200.0),
            };
            let model = Model::new(stage, &ask, &op_amp).expect("a model");
            let nominal = model.figures(&values, None, &mut Default::default());
            for board in 0..5 {
                let off = [0.0, 0.01, 0.03, 0.1, 0.3][board];
                let built: Vec<f64> = (values.iter())
                    .map(|value| value * (1.0 + off * (2.0 * random.part() - 1.0)))
                    .collect();
                let hint = (board > 0).then_some(nominal.as_slice());
                let figures = model.figures(&built, hint, &mut Default::default());
                let h = model.transfer(&built);
                let (from, level) = start(&ask, &h, &figures);
                // A notch that is too shallow has none: below the level on no side.
                if !from.is_finite() || (matches!(ask, Ask::Notch(_)) && h.at(from).norm() >= level)
                {
                    continue;
                }
                for (figure, edge) in model.yardstick.figures().iter().zip(&figures) {
                    let step = match figure.name {
                        "edge-low" => 1.0 / 1.0005,
                        "edge-high" => 1.0005,
                        _ => continue,
                    };
                    let expected = scanned(&h, from, level, step);
                    match expected {
                        Some(expected) => assert!(
                            (edge / expected - 1.0).abs() < 1e-8,
                            "{} {} of {ask:?}, off by {off}: {edge} and not {expected}",
                            stage.id(),
                            figure.name
                        ),
                        None => assert!(
                            !(*edge < 0.99e12 && *edge > 1e-6 && *edge > from * 1e-8),
                            "{} {} of {ask:?}: {edge} is none",
                            stage.id(),
                            figure.name
                        ),
                    }
                    found += i32::from(expected.is_some());
                    none += i32::from(expected.is_none());
                    *families.entry(ask.family().to_owned()).or_insert(0) += 1;
                }
            }
        }
    }
    assert!(
        found > 1000 && none < found / 4,
        "{found} found, {none} not there"
    );
    assert!(families.len() >= 8, "{families:?}");
}

/// The two that were reported: the band-pass in closed form (f0·(√(1 + 1/4Q²) ∓ 1/2Q)), and the inverting amplifier's by
/// its closed loop, near GBW/(1 + gain).
#[test]
fn two_edges_in_closed_form() {
    let ideal = |ask: &str, circuit: &str, op_amp: &OpAmp, seed: u64| {
        let ask: Ask = serde_json::from_str(ask).expect("an ask");
        let stage = polewright::stages::by_id(circuit).expect("a circuit");
        let mut random = Random(seed);
        let found = (0..100).find_map(|_| solved(stage, ask.clone(), &mut random));
        let (ask, values) = found.expect("a set");
        let model = Model::new(stage, &ask, op_amp).expect("a model");
        let figures = model.figures(&values, None, &mut Default::default());
        let at = |name: &str| {
            let place = model
                .yardstick
                .figures()
                .iter()
                .position(|f| f.name == name);
            place.map(|place| figures[place])
        };
        (at("edge-low"), at("edge-high"))
    };
    let ask = r#"{"family": "band-pass", "frequency": 171.2, "q": 1.55, "gain": 1.82}"#;
    let (low, high) = ideal(ask, "mfb-band-pass", &OpAmp::IDEAL, 3);
    let half = 0.5 / 1.55;
    for (found, sign) in [(low, -1.0), (high, 1.0)] {
        let expected = 171.2 * ((1.0f64 + half * half).sqrt() + sign * half);
        let found = found.expect("an edge");
        assert!((found / expected - 1.0).abs() < 1e-9, "{found} {expected}");
    }
    let op_amp = OpAmp {
        gain_db: 110.0,
        gain_bandwidth: 5e6,
        output_resistance: 60.0,
    };
    let ask = r#"{"family": "gain", "frequency": 1714.0, "gain": 11.9}"#;
    let (_, high) = ideal(ask, "gain-inverting", &op_amp, 4);
    let expected = 5e6 / 12.9;
    let high = high.expect("an edge");
    assert!((high / expected - 1.0).abs() < 0.01, "{high} {expected}");
}
