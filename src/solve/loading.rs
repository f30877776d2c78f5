//! What one stage does to the next: the path multiplies responses, as if each stage were driven by
//! nothing but its own source and loaded by nothing. Here neighbours are joined into one circuit and
//! the difference is told.

use std::collections::BTreeMap;

use super::stages::Line;
use crate::circuit::{Netlist, Program, Scale};
use crate::outcome::Loading;
use crate::response::log_grid;

const POINTS: usize = 60;

/// Circuits driving others, by both names: expanded once, not at every keystroke.
pub(super) type Joined = BTreeMap<[&'static str; 2], Option<Program>>;

/// For each pair of neighbours, how far the product of their responses is from the pair's own; over this many
/// decades to each side of what is asked of them.
pub(super) fn between(decades: f64, lines: &[Line], joined: &mut Joined) -> Vec<Loading> {
    let reach = 10f64.powf(decades);
    lines
        .windows(2)
        .enumerate()
        .filter_map(|(stage, pair)| {
            let program = joined
                .entry([0, 1].map(|k| pair[k].real.stage.id()))
                .or_insert_with(|| {
                    let netlist = Netlist::joined(&pair[0].real.netlist, &pair[1].real.netlist);
                    Program::expand(&netlist).ok()
                })
                .as_ref()?;
            let (first, second) = (&pair[0].found, &pair[1].found);
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
