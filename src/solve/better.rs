//! Whether the circuit that is taken is a poor choice for its ask, and which one is better.

use crate::outcome::{BetterOutcome, OtherOutcome};
use crate::wording::per_cent;

/// A better circuit keeps so much more of the boards.
const MORE: f64 = 0.1;
/// Or about as many with parts that cost so many points less; an op amp counts like so many points.
const POINTS: f64 = 2.5;
const OP_AMP: f64 = 1.0;
/// Shares are about the same when they differ by less than this times p·(1 − p), and never by less than a step.
const ABOUT: f64 = 0.25;
const STEP: f64 = 0.01;

/// The best of the others, where it is better by enough to be worth a word.
pub(super) fn better(rows: &[OtherOutcome]) -> Option<BetterOutcome> {
    let taken = rows.iter().find(|row| row.taken)?;
    let others = || rows.iter().filter(|row| !row.taken && row.reach.is_none());
    let most = others().map(|row| row.share).fold(0.0, f64::max);
    // Among those that keep as many, the one whose parts cost least.
    let best = others()
        .filter(|row| row.share >= about(most))
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))?;
    let told = if taken.reach.is_some() {
        format!(
            "{} holds every limit, and this circuit does not.",
            best.title
        )
    } else if best.share >= taken.share + MORE {
        format!(
            "{} suits this requirement better: its yield is {}, and that of this circuit {} ({} boards each).",
            best.title,
            per_cent(best.share),
            per_cent(taken.share),
            best.boards,
        )
    } else if best.share >= about(taken.share) && cost(best) + POINTS <= cost(taken) {
        format!(
            "{} suits this requirement better: about the same yield, with fewer values or more usual ones.",
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

/// The least share that is about the same as this one.
fn about(share: f64) -> f64 {
    share - (ABOUT * share * (1.0 - share)).max(STEP)
}

fn cost(row: &OtherOutcome) -> f64 {
    row.points + OP_AMP * f64::from(row.op_amps)
}
