//! What one stage does to the next: the path multiplies responses, as if each stage were driven by
//! nothing but its own source and loaded by nothing. Here neighbours are joined into one circuit and
//! the difference is told.

use super::line::Line;
use crate::circuit::Scale;
use crate::design::Design;
use crate::outcome::Loading;
use crate::response::log_grid;

const POINTS: usize = 60;

/// For each pair of neighbours, how far the product of their responses is from the pair's own.
pub(super) fn between(design: &Design, lines: &mut [Line]) -> Vec<Loading> {
    let reach = 10f64.powf(design.view.decades);
    (1..lines.len())
        .filter_map(|next| {
            let stage = next - 1;
            let (before, behind) = lines.split_at_mut(next);
            let program = before[stage].joined_with(&behind[0])?.clone();
            let pair = &lines[stage..=next];
            let (first, second) = (pair[0].found.as_ref()?, pair[1].found.as_ref()?);
            let spans = pair.iter().map(|line| line.real.ask.asked().span());
            let (low, high) = spans.fold((f64::INFINITY, 0.0f64), |(low, high), (l, h)| {
                (low.min(l), high.max(h))
            });
            let scale = Scale {
                omega: std::f64::consts::TAU * (low * high).sqrt(),
                ..pair[0].real.scale
            };
            let (mut inputs, mut behind) = (Vec::new(), Vec::new());
            pair[0].real.inputs(&first.values, &mut inputs);
            pair[1].real.inputs(&second.values, &mut behind);
            inputs.extend(behind);
            let together = program.transfer(&inputs, scale);
            let mut loading = Loading {
                stage,
                decibel: 0.0,
                degrees: 0.0,
            };
            for f in log_grid(low / reach, high * reach, POINTS) {
                let apart = first.transfers[2].at(f) * second.transfers[2].at(f);
                let change = together.at(f) / apart;
                loading.decibel = loading.decibel.max((20.0 * change.norm().log10()).abs());
                loading.degrees = loading.degrees.max(change.arg().to_degrees().abs());
            }
            Some(loading)
        })
        .collect()
}
