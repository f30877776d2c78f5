//! Whether a reference made again is the one that is kept.

use serde_json::Value;

/// How far a number may stray, relative to the larger of the two or to the largest in its list:
/// a list is a vector, a complex number or a curve, whose small items are no surer than its large.
///
/// Far above the rounding that differs from one processor or library to the next, far below what
/// any test that reads a reference allows.
const TOLERANCE: f64 = 1e-9;

/// What made the reference and how sure it was: another machine may well say something else.
const IGNORED: [&str; 2] = ["versions", "self_check"];

/// Where and how `again` first differs from `kept`, if it does.
///
/// A reference that is less sure of itself than [`TOLERANCE`] says so under the key `made_again_within`.
pub fn first_difference(kept: &Value, again: &Value) -> Option<String> {
    let tolerance = kept["made_again_within"].as_f64().unwrap_or(TOLERANCE);
    difference(kept, again, "$", 0.0, tolerance)
}

/// `scale` is the largest number around the two.
fn difference(
    kept: &Value,
    again: &Value,
    path: &str,
    scale: f64,
    tolerance: f64,
) -> Option<String> {
    match (kept, again) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64()?, b.as_f64()?);
            let close = (a - b).abs() <= tolerance * a.abs().max(b.abs()).max(scale);
            (!close).then(|| format!("{path}: kept {a}, now {b}"))
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            let sizes = a.iter().filter_map(Value::as_f64).map(f64::abs);
            let scale = sizes.fold(0.0, f64::max);
            let mut pairs = a.iter().zip(b).enumerate();
            pairs.find_map(|(at, (a, b))| {
                difference(a, b, &format!("{path}[{at}]"), scale, tolerance)
            })
        }
        (Value::Array(a), Value::Array(b)) => {
            Some(format!("{path}: kept {} items, now {}", a.len(), b.len()))
        }
        (Value::Object(a), Value::Object(b)) => {
            let keys = a.keys().chain(b.keys());
            let mut keys = keys.filter(|key| !IGNORED.contains(&key.as_str()));
            keys.find_map(|key| {
                let path = format!("{path}.{key}");
                match (a.get(key), b.get(key)) {
                    (Some(a), Some(b)) => difference(a, b, &path, 0.0, tolerance),
                    (Some(_), None) => Some(format!("{path}: kept, now missing")),
                    _ => Some(format!("{path}: new, not kept")),
                }
            })
        }
        (a, b) => (a != b).then(|| format!("{path}: kept {a}, now {b}")),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn rounding_and_versions_are_no_difference() {
        let kept = json!({ "a": [1.0, "x", null], "versions": { "numpy": "1" } });
        let again = json!({ "a": [1.0 + 1e-12, "x", null], "versions": { "numpy": "2" } });
        assert_eq!(first_difference(&kept, &again), None);
    }

    #[test]
    fn a_list_has_one_scale() {
        let kept = json!([1.0, 1e-12]);
        assert_eq!(first_difference(&kept, &json!([1.0, 2e-12])), None);
        assert!(first_difference(&kept, &json!([1.0, 1e-6])).is_some());
    }

    #[test]
    fn a_reference_says_how_sure_it_is() {
        let kept = json!({ "a": [1.0], "made_again_within": 1e-5 });
        let again = |a: f64| json!({ "a": [a], "made_again_within": 1e-5 });
        assert_eq!(first_difference(&kept, &again(1.000_001)), None);
        assert!(first_difference(&kept, &again(1.000_1)).is_some());
    }

    #[test]
    fn the_first_difference_is_named() {
        let kept = json!({ "a": [{ "b": 1.0 }, { "b": 2.0 }] });
        let said = |again| first_difference(&kept, &again).unwrap();
        assert_eq!(
            said(json!({ "a": [{ "b": 1.0 }, { "b": 2.1 }] })),
            "$.a[1].b: kept 2, now 2.1"
        );
        assert_eq!(
            said(json!({ "a": [{ "b": 1.0 }] })),
            "$.a: kept 2 items, now 1"
        );
        assert_eq!(said(json!({})), "$.a: kept, now missing");
        assert_eq!(
            said(json!({ "a": [{ "b": "1" }, { "b": 2.0 }] })),
            "$.a[0].b: kept 1.0, now \"1\""
        );
    }
}
