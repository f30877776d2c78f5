//! The netlist as text: one element a line, as circuit simulators have read it since Berkeley's.
//!
//! The file says what the curves show: each stage is driven by an ideal source and loaded by nothing, so that the
//! responses of the stages multiply.

use std::fmt::Write;

use crate::circuit::{Kind, Netlist, Part};

/// Frequencies a decade of the sweep: as close as the curves' even grid.
const PER_DECADE: usize = 100;

/// One stage of the path.
pub struct Block<'a> {
    pub title: &'a str,
    pub netlist: &'a Netlist,
    /// Values of all its parts, Ω and F; those of op amps are not used.
    pub values: &'a [f64],
    /// Which parts are bought.
    pub bought: &'a [bool],
    /// Its op amps in the netlist's order, each `[1/A0, 1/GBW (s), Ro (Ω)]`.
    pub op_amps: &'a [[f64; 3]],
}

/// The text of a path with at least one stage; the sweep goes over `range` (Hz). ASCII, numbers with every digit and an exponent instead of a prefix, which readers do not agree on.
///
/// ```
/// use polewright::circuit::Netlist;
/// use polewright::export::{Block, netlist};
/// let divider = Netlist::new("in", "out").resistor("R1", "in", "out").resistor("R2", "out", "0");
/// let (values, bought) = ([1e3, 2e3], [true, true]);
/// let block = Block { title: "Divider", netlist: &divider, values: &values, bought: &bought, op_amps: &[] };
/// let text = netlist(&[block], (10.0, 1e4));
/// assert!(text.contains("\nR1 in out 1e3\n"));
/// ```
pub fn netlist(stages: &[Block], range: (f64, f64)) -> String {
    let mut text = String::new();
    let mut lines = head(stages);
    let kinds = kinds(stages);
    for (place, kind) in kinds.iter().enumerate() {
        lines.extend(one_pole(&model(&kinds, place), *kind));
    }
    for (place, stage) in stages.iter().enumerate() {
        let prefix = (stages.len() > 1).then_some(place + 1);
        lines.extend(subcircuit(place + 1, prefix, stage, &kinds));
    }
    lines.extend(chain(stages));
    let (low, high) = range;
    lines.push(format!(".AC DEC {PER_DECADE} {low:e} {high:e}"));
    lines.push(".PRINT AC VDB(out) VP(out)".to_owned());
    lines.push(".END".to_owned());
    for line in lines {
        let _ = writeln!(text, "{line}");
    }
    text
}

/// The first line is the title; comments on how stages stand together.
fn head(stages: &[Block]) -> Vec<String> {
    let titles: Vec<String> = stages.iter().map(|stage| ascii(stage.title)).collect();
    let mut lines = vec![format!("* polewright: {}", titles.join(" > "))];
    if stages.len() > 1 {
        lines.extend(
            [
                "* The responses of the stages multiply: each is driven by an ideal source (E1, E2, ...)",
                "* and loaded by nothing. Join the nodes and drop these sources to see what stages do to",
                "* each other.",
                "* R2_1 is R1 of stage 2.",
            ]
            .map(str::to_owned),
        );
    }
    lines
}

fn is_op_amp(part: &Part) -> bool {
    matches!(part.kind, Kind::OpAmp { .. })
}

/// The op amps that differ, in the order in which they are met.
fn kinds(stages: &[Block]) -> Vec<[f64; 3]> {
    let mut kinds = Vec::new();
    for own in stages.iter().flat_map(|stage| stage.op_amps) {
        if !kinds.contains(own) {
            kinds.push(*own);
        }
    }
    kinds
}

/// What the model at this place is called: by its number where there are several.
fn model(kinds: &[[f64; 3]], place: usize) -> String {
    match kinds.len() {
        1 => "OPAMP".to_owned(),
        _ => format!("OPAMP{}", place + 1),
    }
}

/// `A(s) = 1/(1/A0 + s/(2π·GBW))` behind Ro: a current of 1 A/V into A0 ohms and 1/(2π·GBW) farads, and its
/// voltage through Ro.
fn one_pole(name: &str, [inverse_gain, inverse_bandwidth, resistance]: [f64; 3]) -> Vec<String> {
    let mut lines = vec![
        "* An op amp: open-loop gain A0 with one pole, output resistance RO.".to_owned(),
        format!(".SUBCKT {name} plus minus out"),
        "GM 0 pole plus minus 1e0".to_owned(),
        format!("RA0 pole 0 {:e}", 1.0 / inverse_gain),
        format!(
            "CGBW pole 0 {:e}",
            inverse_bandwidth / std::f64::consts::TAU
        ),
    ];
    // Many readers refuse a resistance of 0.
    if resistance > 0.0 {
        lines.push("EO behind 0 pole 0 1e0".to_owned());
        lines.push(format!("RO behind out {resistance:e}"));
    } else {
        lines.push("EO out 0 pole 0 1e0".to_owned());
    }
    lines.push(format!(".ENDS {name}"));
    lines
}

/// One stage; ground is node 0 everywhere and no pin.
fn subcircuit(
    number: usize,
    prefix: Option<usize>,
    stage: &Block,
    kinds: &[[f64; 3]],
) -> Vec<String> {
    let mut op_amps = stage.op_amps.iter();
    let netlist = stage.netlist;
    let names = node_names(netlist.nodes());
    let node = |node: usize| names[node].as_str();
    let mut pins = vec![node(netlist.input()), node(netlist.output())];
    pins.extend(netlist.inputs()[1..].iter().map(|&input| node(input)));
    let mut lines = vec![
        format!("* Stage {number}: {}", ascii(stage.title)),
        format!(".SUBCKT STAGE{number} {}", pins.join(" ")),
    ];
    let all = netlist.parts().iter().zip(stage.values).zip(stage.bought);
    for ((part, value), bought) in all {
        let nodes = part.kind.nodes().into_iter().map(node);
        let nodes = nodes.collect::<Vec<_>>().join(" ");
        let name = designator(prefix, &part.name);
        if is_op_amp(part) {
            let own = op_amps.next();
            let kind = kinds.iter().position(|kind| Some(kind) == own);
            let model = model(kinds, kind.unwrap_or(0));
            lines.push(format!("X{name} {nodes} {model}"));
            continue;
        }
        if !bought {
            lines.push(format!(
                "* {name} stands for what the stage works between; it is not bought."
            ));
        }
        lines.push(format!("{name} {nodes} {value:e}"));
    }
    lines.push(format!(".ENDS STAGE{number}"));
    lines
}

/// Nodes in words without spaces that differ by more than their case; a number where a name does not.
fn node_names(nodes: &[String]) -> Vec<String> {
    let plain = |letter: char| match letter.is_ascii_alphanumeric() {
        true => letter.to_ascii_lowercase(),
        false => '_',
    };
    let mut names: Vec<String> = Vec::with_capacity(nodes.len());
    for (at, node) in nodes.iter().enumerate() {
        let name: String = node.chars().map(plain).collect();
        let is_taken = names.contains(&name);
        names.push(if is_taken { format!("node_{at}") } else { name });
    }
    names
}

/// `R2_1` for R1 of the second stage: the letter that says what it is stays in front.
fn designator(prefix: Option<usize>, name: &str) -> String {
    let Some((stage, letter)) = prefix.zip(name.chars().next()) else {
        return name.to_owned();
    };
    format!("{letter}{stage}_{}", &name[letter.len_utf8()..])
}

/// The stages in a row, and what drives them.
fn chain(stages: &[Block]) -> Vec<String> {
    let mut lines = vec!["V1 in 0 DC 0 AC 1".to_owned()];
    let last = stages.len();
    for (place, stage) in stages.iter().enumerate() {
        let number = place + 1;
        let from = match number {
            1 => "in".to_owned(),
            _ => {
                lines.push(format!("E{place} in{number} 0 out{place} 0 1e0"));
                format!("in{number}")
            }
        };
        let to = match number == last {
            true => "out".to_owned(),
            false => format!("out{number}"),
        };
        let further = " 0".repeat(stage.netlist.inputs().len() - 1);
        if !further.is_empty() {
            lines.push(format!(
                "* The further input of stage {number} is grounded."
            ));
        }
        lines.push(format!("X{number} {from} {to}{further} STAGE{number}"));
    }
    lines
}

/// A title in letters that every reader takes.
fn ascii(title: &str) -> String {
    let plain = |letter: char| match letter {
        '–' | '—' | '−' => '-',
        letter if letter.is_ascii() && !letter.is_ascii_control() => letter,
        _ => '?',
    };
    title.chars().map(plain).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_have_names_that_every_reader_tells_apart() {
        let nodes = ["0", "in", "p minus", "IN", "p_minus"].map(str::to_owned);
        assert_eq!(
            node_names(&nodes),
            ["0", "in", "p_minus", "node_3", "node_4"]
        );
    }

    #[test]
    fn an_op_amp_without_output_resistance_has_no_such_element() {
        let with = one_pole("OPAMP", [1e-5, 1e-6, 50.0]);
        let without = one_pole("OPAMP", [1e-5, 1e-6, 0.0]);
        assert!(with.iter().any(|line| line == "RO behind out 5e1"));
        assert!(without.iter().all(|line| !line.starts_with("RO")));
        assert!(without.iter().any(|line| line == "EO out 0 pole 0 1e0"));
    }
}
