//! What may stand between an ask and a circuit: the ends of the shelf, and the op amp's speed.

use crate::parts::{Bin, OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Alike, Ask, Stage, guidance};

/// About so many combinations of chosen parts are looked at; of longer lists some values, their ends
/// among them, tell enough.
const LOOKED_AT: f64 = 8000.0;

/// What would bring a circuit's parts back on the shelf.
pub struct Remedy {
    /// When a part comes out larger than all there are.
    pub large: &'static str,
    /// When it comes out smaller.
    pub small: &'static str,
    /// A whole sentence, when the equations have no solution for any chosen parts.
    pub none: &'static str,
}

/// Why the shelf does not have what the design equations call for, tried with all chosen parts.
pub fn off_shelf(stage: &dyn Stage, ask: &Ask, shelf: &Shelf, remedy: &Remedy) -> Vec<String> {
    let Some(Off { by, part, value }) = nearest(stage, ask, shelf) else {
        return Vec::new();
    };
    if by.is_infinite() {
        return vec![remedy.none.to_owned()];
    }
    let netlist = stage.netlist();
    let part = &netlist.parts()[part];
    let (Some(bin), Some(unit)) = (shelf.bin(part.kind), Unit::of(part.kind)) else {
        return Vec::new();
    };
    let all = bin.values();
    let (low, high) = (middle(&all, 0.0), middle(&all, f64::INFINITY));
    let (verb, end, remedy) = if value > high {
        ("ends", high, remedy.large)
    } else {
        ("begins", low, remedy.small)
    };
    vec![format!(
        "The shelf does not reach: at best {} comes out at {}, and the shelf {verb} at {}. {remedy} would make it possible.",
        part.name,
        rounded(value, unit, 3),
        rounded(end, unit, 3),
    )]
}

/// A part that comes out beyond the shelf.
#[derive(Clone, Copy)]
struct Off {
    /// How far, as ln of a ratio; infinite where it has no value.
    by: f64,
    /// Its place in the netlist.
    part: usize,
    value: f64,
}

/// Of the chosen parts that bring all others nearest to the shelf, the one that is furthest off; none where some bring
/// all onto it.
fn nearest(stage: &dyn Stage, ask: &Ask, shelf: &Shelf) -> Option<Off> {
    let (netlist, grouping) = (stage.netlist(), stage.grouping());
    let parts = netlist.parts();
    let list = |group: &Alike| {
        let bin = shelf.bin(parts[group[0]].kind);
        bin.map_or_else(Vec::new, Bin::values)
    };
    let each = LOOKED_AT.powf(1.0 / grouping.chosen.len().max(1) as f64) as usize;
    let chosen = grouping.chosen.iter().map(|g| (*g, thinned(list(g), each)));
    let free = grouping
        .free
        .iter()
        .map(|g| (*g, vec![middle(&list(g), 10e3)]));
    let groups: Vec<(Alike, Vec<f64>)> = chosen.chain(free).collect();
    let solved: Vec<(Alike, Vec<f64>)> = grouping.solved.iter().map(|g| (*g, list(g))).collect();
    let total: usize = groups.iter().map(|(_, values)| values.len()).product();
    let mut nearest = Off {
        by: f64::INFINITY,
        part: 0,
        value: f64::NAN,
    };
    for mut number in 0..total {
        let mut values = vec![0.0; parts.len()];
        for (group, list) in &groups {
            group
                .iter()
                .for_each(|&part| values[part] = list[number % list.len()]);
            number /= list.len();
        }
        stage.solve(ask, &mut values);
        let worst = furthest(&solved, &values)?;
        if worst.by < nearest.by {
            nearest = worst;
        }
    }
    Some(nearest)
}

/// The part furthest off its list; none where each is within its own.
fn furthest(lists: &[(Alike, Vec<f64>)], values: &[f64]) -> Option<Off> {
    let mut worst: Option<Off> = None;
    for (group, list) in lists {
        let part = group[0];
        let value = values[part];
        let by = match (list.first(), list.last()) {
            (Some(low), Some(high)) if value > 0.0 => (low / value).max(value / high).ln(),
            _ => f64::INFINITY,
        };
        if by > worst.map_or(0.0, |worst| worst.by) {
            worst = Some(Off { by, part, value });
        }
    }
    worst
}

/// Why the op amp does not keep up, when `gain` stands against its own at `frequency` (Hz).
pub fn too_slow(op_amp: &OpAmp, gain: f64, frequency: f64) -> Option<String> {
    guidance::too_slow(op_amp, gain, frequency, "a lower gain")
}

/// What is said of every integrator without a limit: it holds only inside a loop.
pub fn runs_away(op_amp: &OpAmp) -> String {
    format!(
        "Outside a closed loop the output runs to a supply: at DC the op amp's own gain of {} dB works on its offset. Limit or reset \
         the integrator wherever the loop can be open or its actuator at a stop (windup).",
        rounded(op_amp.gain_db, Unit::One, 3),
    )
}

fn thinned(values: Vec<f64>, most: usize) -> Vec<f64> {
    let count = values.len();
    if count <= most {
        return values;
    }
    (0..most)
        .map(|k| values[k * (count - 1) / (most - 1)])
        .collect()
}

/// A value as near as a rising list comes to it.
fn middle(list: &[f64], value: f64) -> f64 {
    match (list.first(), list.last()) {
        (Some(&low), Some(&high)) => value.clamp(low, high),
        _ => value,
    }
}
