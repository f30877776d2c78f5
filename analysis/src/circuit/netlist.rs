//! Parts between nodes.

/// A node's index in its netlist; 0 is ground.
pub type Node = usize;

/// What a part is, and the nodes it joins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Resistor { a: Node, b: Node },
    Capacitor { a: Node, b: Node },
    OpAmp { plus: Node, minus: Node, out: Node },
}

impl Kind {
    /// How many numbers describe such a part to a [`super::Program`].
    pub fn inputs(self) -> usize {
        match self {
            Kind::Resistor { .. } | Kind::Capacitor { .. } => 1,
            Kind::OpAmp { .. } => 3,
        }
    }

    /// The same part between other nodes.
    fn moved(self, to: impl Fn(Node) -> Node) -> Kind {
        match self {
            Kind::Resistor { a, b } => Kind::Resistor { a: to(a), b: to(b) },
            Kind::Capacitor { a, b } => Kind::Capacitor { a: to(a), b: to(b) },
            Kind::OpAmp { plus, minus, out } => Kind::OpAmp {
                plus: to(plus),
                minus: to(minus),
                out: to(out),
            },
        }
    }

    /// Whether both are resistors, both capacitors, or both op amps.
    pub fn is_like(self, other: Kind) -> bool {
        std::mem::discriminant(&self) == std::mem::discriminant(&other)
    }

    /// The nodes of its pins: both ends, or (plus, minus, out).
    pub fn nodes(self) -> Vec<Node> {
        match self {
            Kind::Resistor { a, b } | Kind::Capacitor { a, b } => vec![a, b],
            Kind::OpAmp { plus, minus, out } => vec![plus, minus, out],
        }
    }
}

/// A part with its designator.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    pub name: String,
    pub kind: Kind,
}

/// Why a netlist cannot be analysed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NetlistError {
    #[error("node “{0}” is driven by two op-amp outputs")]
    DrivenTwice(String),
    #[error("node “{0}” is driven both by the signal and by an op-amp output")]
    DrivenInput(String),
    #[error(
        "the circuit has no single answer: a node hangs free or a loop of op amps is undefined"
    )]
    Singular,
    #[error("more than {0} nodes")]
    TooLarge(usize),
    #[error("more parts or steps than a program has registers")]
    TooLong,
}

/// Parts between named nodes, with the node that the signal drives and the node that is read.
///
/// ```
/// use analysis::circuit::Netlist;
/// let divider = Netlist::new("in", "mid")
///     .resistor("R1", "in", "mid")
///     .resistor("R2", "mid", "0");
/// assert_eq!(divider.parts().len(), 2);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Netlist {
    nodes: Vec<String>,
    parts: Vec<Part>,
    /// The signal's first.
    inputs: Vec<Node>,
    output: Node,
}

impl Netlist {
    /// An empty netlist; ground is the node `"0"`.
    pub fn new(input: &str, output: &str) -> Netlist {
        let mut netlist = Netlist {
            nodes: vec!["0".to_owned()],
            parts: Vec::new(),
            inputs: Vec::new(),
            output: 0,
        };
        let signal = netlist.node(input);
        netlist.inputs.push(signal);
        netlist.output = netlist.node(output);
        netlist
    }

    /// Names a node that another signal drives; for the first signal it is grounded.
    pub fn second_input(mut self, name: &str) -> Netlist {
        let node = self.node(name);
        self.inputs.push(node);
        self
    }

    /// Its op amps, in the order of its parts.
    pub fn op_amps(&self) -> impl Iterator<Item = &Part> {
        let parts = self.parts.iter();
        parts.filter(|part| matches!(part.kind, Kind::OpAmp { .. }))
    }

    /// Adds a resistor between two nodes.
    pub fn resistor(mut self, name: &str, a: &str, b: &str) -> Netlist {
        let (a, b) = (self.node(a), self.node(b));
        self.push(name, Kind::Resistor { a, b })
    }

    /// Adds a capacitor between two nodes.
    pub fn capacitor(mut self, name: &str, a: &str, b: &str) -> Netlist {
        let (a, b) = (self.node(a), self.node(b));
        self.push(name, Kind::Capacitor { a, b })
    }

    /// Adds an op amp; its output is a source against ground.
    pub fn op_amp(mut self, name: &str, plus: &str, minus: &str, out: &str) -> Netlist {
        let (plus, minus, out) = (self.node(plus), self.node(minus), self.node(out));
        self.push(name, Kind::OpAmp { plus, minus, out })
    }

    fn push(mut self, name: &str, kind: Kind) -> Netlist {
        self.parts.push(Part {
            name: name.to_owned(),
            kind,
        });
        self
    }

    fn node(&mut self, name: &str) -> Node {
        match self.nodes.iter().position(|n| n == name) {
            Some(index) => index,
            None => {
                self.nodes.push(name.to_owned());
                self.nodes.len() - 1
            }
        }
    }

    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// Names of the nodes, ground first.
    pub fn nodes(&self) -> &[String] {
        &self.nodes
    }

    /// The node that the signal drives.
    pub fn input(&self) -> Node {
        self.inputs[0]
    }

    /// All driven nodes, the signal's first.
    pub fn inputs(&self) -> &[Node] {
        &self.inputs
    }

    /// One circuit driving another: the first's output is the second's input, and the parts of the
    /// second stand behind those of the first. Further inputs of either are grounded.
    pub fn joined(first: &Netlist, second: &Netlist) -> Netlist {
        let mut joined = first.driven_at(0);
        let behind = second.driven_at(0);
        let at: Vec<Node> = (0..behind.nodes.len())
            .map(|node| match node {
                0 => 0,
                n if n == behind.input() => joined.output,
                n => joined.node(&format!("2 {}", behind.nodes[n])),
            })
            .collect();
        for part in &behind.parts {
            joined.parts.push(Part {
                name: format!("2 {}", part.name),
                kind: part.kind.moved(|node| at[node]),
            });
        }
        joined.output = at[behind.output];
        joined
    }

    /// The same circuit with only one of its inputs driven, all others grounded.
    pub(super) fn driven_at(&self, input: usize) -> Netlist {
        if self.inputs.len() == 1 {
            return self.clone();
        }
        let driven = self.inputs[input];
        let grounded = |node: &Node| self.inputs.contains(node) && *node != driven;
        let kept: Vec<Node> = (0..self.nodes.len()).filter(|n| !grounded(n)).collect();
        let moved = |node: Node| kept.iter().position(|&n| n == node).unwrap_or(0);
        Netlist {
            nodes: kept.iter().map(|&n| self.nodes[n].clone()).collect(),
            parts: self
                .parts
                .iter()
                .map(|part| Part {
                    name: part.name.clone(),
                    kind: part.kind.moved(moved),
                })
                .collect(),
            inputs: vec![moved(driven)],
            output: moved(self.output),
        }
    }

    pub fn output(&self) -> Node {
        self.output
    }

    /// The position of a part by its designator.
    pub fn position(&self, name: &str) -> Option<usize> {
        self.parts.iter().position(|part| part.name == name)
    }
}
