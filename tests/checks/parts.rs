//! Preferred values against the `eseries` package and IEC 60063 (tests/reference/e_series.py).

use std::collections::BTreeMap;

use polewright::parts::Series;
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    series: BTreeMap<String, Vec<f64>>,
    nearest: Vec<Nearest>,
}

#[derive(Deserialize)]
struct Nearest {
    value: f64,
    nearest: BTreeMap<String, f64>,
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * b.abs()
}

#[test]
fn every_value_of_every_series() {
    let reference: Reference = super::reference::read("e_series");
    for series in Series::ALL {
        let expected = &reference.series[&format!("{series:?}")];
        assert_eq!(expected.len(), series.per_decade() as usize, "{series:?}");
        for (index, value) in expected.iter().enumerate() {
            assert!(
                close(series.value(index as i32), *value),
                "{series:?}[{index}]"
            );
        }
    }
}

#[test]
fn nearest_by_ratio() {
    let reference: Reference = super::reference::read("e_series");
    assert_eq!(reference.nearest.len(), 200);
    for case in reference.nearest {
        for series in Series::ALL {
            let found = series.value(series.nearest(case.value));
            let expected = case.nearest[&format!("{series:?}")];
            assert!(
                close(found, expected),
                "{} in {series:?}: {found}, not {expected}",
                case.value
            );
        }
    }
}
