//! The curves of a stage: the ask, the bought parts with an ideal op amp, and with the real one.

use crate::design::View;
use crate::outcome::{Curve, Curves};
use crate::response::{Transfer, resolving_grid, step_response};

/// Points of the even grid; more stand where curves bend.
const POINTS: usize = 181;
/// Samples of the answer to a step.
const SAMPLES: usize = 241;

/// Draws the three curves on common axes round `centre` (Hz).
pub(super) fn draw(view: &View, centre: f64, transfers: [&Transfer; 3]) -> Curves {
    let reach = 10f64.powf(view.decades);
    let roots: Vec<_> = transfers
        .iter()
        .flat_map(|transfer| transfer.zeros().into_iter().chain(transfer.poles()))
        .collect();
    let frequency = resolving_grid(centre / reach, centre * reach, POINTS, &roots);
    let span = step_span(transfers[0], centre);
    let dt = span / (SAMPLES - 1) as f64;
    let [ask, ideal, real] = transfers.map(|transfer| Curve {
        magnitude_db: frequency
            .iter()
            .map(|&f| transfer.magnitude_db(f).max(-400.0))
            .collect(),
        phase_deg: frequency.iter().map(|&f| transfer.phase_deg(f)).collect(),
        delay: frequency.iter().map(|&f| transfer.group_delay(f)).collect(),
        step: step_response(transfer, dt, SAMPLES),
    });
    Curves {
        time: (0..SAMPLES).map(|k| k as f64 * dt).collect(),
        frequency,
        ask,
        ideal,
        real,
    }
}

/// Long enough for the slowest pole to settle within half a per cent, within reason.
fn step_span(transfer: &Transfer, centre: f64) -> f64 {
    let slowest = transfer
        .poles()
        .iter()
        .map(|p| p.re.abs())
        .fold(f64::INFINITY, f64::min);
    let span = 5.3 / slowest;
    if span.is_finite() {
        span.min(1000.0 / centre)
    } else {
        1.0 / centre
    }
}
