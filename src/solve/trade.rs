//! What a next-best pick trades away, in words.

use crate::pick::{Pick, discomfort_of};
use crate::quantity::{Unit, rounded};
use crate::stages::Model;

/// One line on `other` against `best`.
pub(super) fn against(model: &Model, best: &Pick, other: &Pick) -> String {
    if std::ptr::eq(best, other) {
        return "the best on this shelf".into();
    }
    let mut losses = Vec::new();
    let mut gains = Vec::new();
    if other.rank.step != best.rank.step {
        losses.push(format!(
            "misses by {} of the limit",
            rounded(other.rank.miss, Unit::Percent, 2)
        ));
    }
    let more = i64::from(other.rank.distinct) - i64::from(best.rank.distinct);
    match more {
        1 => losses.push("one more value to buy".into()),
        2.. => losses.push(format!("{more} more values to buy")),
        -1 => gains.push("one value fewer to buy".to_owned()),
        ..=-2 => gains.push(format!("{} values fewer to buy", -more)),
        0 => {}
    }
    let worst = |pick: &Pick| {
        let parts = model
            .netlist
            .parts()
            .iter()
            .zip(&pick.values)
            .zip(&model.bought);
        parts
            .filter(|(_, bought)| **bought)
            .map(|((part, &value), _)| (discomfort_of(part.kind, value), part, value))
            .max_by(|a, b| a.0.total_cmp(&b.0))
    };
    if let (Some((before, ..)), Some((after, part, value))) = (worst(best), worst(other)) {
        let unit = part.kind.unit().unwrap_or(Unit::One);
        if after > before + 0.5 {
            losses.push(format!(
                "{} is an uncomfortable {}",
                part.name,
                rounded(value, unit, 3)
            ));
        } else if other.rank.discomfort + 0.5 < best.rank.discomfort {
            gains.push("more comfortable values".into());
        }
    }
    if losses.is_empty() && other.rank.miss > best.rank.miss * 1.2 {
        losses.push(format!(
            "misses by {} of the limit",
            rounded(other.rank.miss, Unit::Percent, 2)
        ));
    }
    match (losses.is_empty(), gains.is_empty()) {
        (true, true) => "as good, in slightly less common values".into(),
        (false, true) => losses.join(", "),
        (true, false) => format!("gains: {}", gains.join(", ")),
        (false, false) => format!("{}; but {}", losses.join(", "), gains.join(", ")),
    }
}
