//! What a next-best pick trades away, in the terms that picks are ordered by.

use crate::pick::{Pick, strain_of};
use crate::quantity::{Unit, rounded};
use crate::stages::Model;
use crate::wording::estimated_points;

/// Smaller differences are not told: of shares of good boards, of decades, and of misses in limits.
const SHARE: f64 = 0.01;
const DECADES: f64 = 0.3;
const MISS: f64 = 0.15;

/// One line on `other` against `best`.
pub(super) fn against(model: &Model, best: &Pick, other: &Pick) -> String {
    if std::ptr::eq(best, other) {
        return match best.rank.holds() {
            true => "the first choice".into(),
            false => "the nearest to the limits".into(),
        };
    }
    let (gains, losses) = differences(model, best, other);
    match (losses.is_empty(), gains.is_empty()) {
        (true, true) => "equally good, with other values".into(),
        (false, true) => losses.join(", "),
        (true, false) => format!("{}; with slightly less usual values", gains.join(", ")),
        (false, false) => format!("{}; but {}", losses.join(", "), gains.join(", ")),
    }
}

/// What `other` gains and loses against `best`, the weightiest first.
fn differences(model: &Model, best: &Pick, other: &Pick) -> (Vec<String>, Vec<String>) {
    let (mut gains, mut losses) = (Vec::new(), Vec::new());
    let (before, after) = (&best.rank, &other.rank);
    if before.holds() && !after.holds() {
        losses.push("does not hold the limits".to_owned());
    }
    let yield_by = |_: f64| format!("yield {}", estimated_points(before.share, after.share));
    tell(
        after.share - before.share,
        SHARE,
        yield_by,
        yield_by,
        (&mut gains, &mut losses),
    );
    let values = |count: f64, what: &str| match count {
        1.0 => format!("one value {what} to buy"),
        _ => format!("{count} values {what} to buy"),
    };
    tell(
        f64::from(before.bother.distinct) - f64::from(after.bother.distinct),
        0.5,
        |by| values(by, "fewer"),
        |by| values(by, "more"),
        (&mut gains, &mut losses),
    );
    tell(
        before.bother.spread - after.bother.spread,
        DECADES,
        |_| "values in a narrower range".to_owned(),
        |_| "values in a wider range".to_owned(),
        (&mut gains, &mut losses),
    );
    let worst = |pick: &Pick| worst_part(model, &pick.values);
    if let (Some(mine), Some(theirs)) = (worst(best), worst(other)) {
        tell(
            mine.0 - theirs.0,
            2.0 * DECADES,
            |_| format!("{} avoided, outside the preferred range", mine.1),
            |_| format!("{} is outside the preferred range", theirs.1),
            (&mut gains, &mut losses),
        );
    }
    tell(
        before.miss - after.miss,
        MISS,
        |_| format!("smaller deviation ({} of the limit)", share_of(after.miss)),
        |_| format!("larger deviation ({} of the limit)", share_of(after.miss)),
        (&mut gains, &mut losses),
    );
    (gains, losses)
}

/// Says a difference that is large enough, as a gain where it is positive.
fn tell(
    by: f64,
    least: f64,
    gain: impl Fn(f64) -> String,
    loss: impl Fn(f64) -> String,
    (gains, losses): (&mut Vec<String>, &mut Vec<String>),
) {
    if by >= least {
        gains.push(gain(by));
    } else if by <= -least {
        losses.push(loss(-by));
    }
}

/// The part that lies farthest outside the preferred range of values, by how much, and what it is. Between two sets that
/// differ by as much as is told, the worse one's part is outside: inside, [`strain_of`] is a tenth of a decade at most.
fn worst_part(model: &Model, values: &[f64]) -> Option<(f64, String)> {
    let parts = model.netlist.parts().iter().zip(values).zip(&model.bought);
    parts
        .filter(|(_, bought)| **bought)
        .map(|((part, &value), _)| (strain_of(part.kind, value), part, value))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(strain, part, value)| {
            let unit = Unit::of(part.kind).unwrap_or(Unit::One);
            (
                strain,
                format!("{} of {}", part.name, rounded(value, unit, 3)),
            )
        })
}

fn share_of(miss: f64) -> String {
    rounded(miss, Unit::Percent, 2)
}
