//! A set reads the same with its own figures as hints as without hints: hints make a search shorter and decide
//! nothing. Random asks up to where the op amp cannot follow. Sets beyond [`FAR`] limits by either reading are left
//! out: there it is open which root the ask means.

use polewright::parts::OpAmp;
use polewright::stages::{Ask, CATALOGUE, Model, Scratch, by_id};

use super::asks::{Random, vary};
use super::catalogue::solved;

const FAR: f64 = 10.0;

#[test]
fn own_figures_as_hints_change_nothing() {
    let mut random = Random(17);
    let mut scratch = Scratch::default();
    let (mut same, mut far, mut other) = (0, 0, Vec::new());
    for &stage in CATALOGUE {
        for _ in 0..100 {
            let ask = vary(stage, &mut random).unwrap_or_else(|| stage.default_ask());
            let Some((ask, mut values)) = solved(stage, ask, &mut random) else {
                continue;
            };
            let op_amp = OpAmp {
                gain_bandwidth: random.between(3e3, 3e5),
                ..OpAmp::default()
            };
            let Ok(model) = Model::new(stage, &ask, &op_amp) else {
                continue;
            };
            for value in &mut values {
                *value *= random.between(0.3, 3.0);
            }
            let alone = model.terms(&values, None, &mut scratch);
            let figures = model.figures(&values, None, &mut scratch);
            let with_own = model.terms(&values, Some(&figures), &mut scratch);
            let shape = model.term_shape();
            if shape.miss(&alone) > FAR && shape.miss(&with_own) > FAR {
                far += 1;
                continue;
            }
            let near = |a: &f64, b: &f64| {
                (a - b).abs() <= 1e-6 * a.abs().max(1.0) || (a.is_nan() && b.is_nan())
            };
            if alone.iter().zip(&with_own).all(|(a, b)| near(a, b)) {
                same += 1;
            } else {
                other.push((stage.id(), values, figures, alone, with_own));
            }
        }
    }
    assert!(same > 600, "{same} sets, {far} left out");
    assert!(
        other.is_empty(),
        "{} of {}: {other:#?}",
        other.len(),
        same + other.len()
    );
}

/// Zeros that are far from the axis: followed from a null on the axis they are not come by, and all roots have to be
/// looked at.
#[test]
fn a_null_that_is_washed_out_is_read_with_hints_too() {
    let stage = by_id("state-variable-uneven-notch").expect("a circuit");
    let mut json = serde_json::to_value(stage.default_ask()).expect("an ask");
    for name in ["frequency", "null"] {
        json[name] = (1e3 * json[name].as_f64().expect("a frequency")).into();
    }
    let ask: Ask = serde_json::from_value(json).expect("an ask");
    let model = Model::new(stage, &ask, &OpAmp::default()).expect("a model");
    let values = [
        5490.0, 5490.0, 5490.0, 100.0, 1e6, 0.0, 976.0, 1e-10, 0.0, 976.0, 1e-7, 0.0, 523e3,
        5490.0, 5490.0, 0.0,
    ];
    let mut scratch = Scratch::default();
    let alone = model.terms(&values, None, &mut scratch);
    let figures = model.figures(&values, None, &mut scratch);
    let with_own = model.terms(&values, Some(&figures), &mut scratch);
    let shape = model.term_shape();
    assert!(shape.miss(&alone) < 1.0, "{alone:?}");
    assert!(
        (shape.miss(&with_own) - shape.miss(&alone)).abs() < 1e-9,
        "{with_own:?}"
    );
}
