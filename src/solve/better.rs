//! Whether the circuit that is taken is a poor choice for its ask, and which one is better.

use crate::outcome::{BetterOutcome, OtherOutcome};
use crate::quantity::{Unit, rounded};

/// A better circuit keeps so much more of the boards.
const MORE: f64 = 0.05;
/// Or as many, within this, with parts that cost so many points less; an op amp counts like so many points.
const AS_GOOD: f64 = 0.02;
const POINTS: f64 = 4.0;
const OP_AMP: f64 = 1.0;

/// The best of the others, where it is better by enough to be worth a word.
pub(super) fn better(rows: &[OtherOutcome]) -> Option<BetterOutcome> {
    let taken = rows.iter().find(|row| row.taken)?;
    let others = || rows.iter().filter(|row| !row.taken && row.reach.is_none());
    let most = others().map(|row| row.share).fold(0.0, f64::max);
    // Among those that keep as many, the one whose parts cost least.
    let best = others()
        .filter(|row| row.share >= most - AS_GOOD)
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))?;
    let told = if taken.reach.is_some() {
        format!(
            "{} holds every limit, and this circuit does not.",
            best.title
        )
    } else if best.share >= taken.share + MORE {
        let per_cent = |share: f64| rounded(share, Unit::Percent, 2);
        format!(
            "{} suits this ask better: {} of its boards hold every limit, and {} of this circuit's.",
            best.title,
            per_cent(best.share),
            per_cent(taken.share),
        )
    } else if best.share >= taken.share - AS_GOOD && cost(best) + POINTS <= cost(taken) {
        format!(
            "{} suits this ask better: as many good boards, with fewer or more usual values.",
            best.title
        )
    } else {
        return None;
    };
    Some(BetterOutcome {
        circuit: best.circuit.clone(),
        told,
    })
}

fn cost(row: &OtherOutcome) -> f64 {
    row.points + OP_AMP * f64::from(row.op_amps)
}
