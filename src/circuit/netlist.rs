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
}

/// Parts between named nodes, with the node that the signal drives and the node that is read.
///
/// ```
/// use polewright::circuit::Netlist;
/// let divider = Netlist::new("in", "mid")
///     .resistor("R1", "in", "mid")
///     .resistor("R2", "mid", "0");
/// assert_eq!(divider.parts().len(), 2);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Netlist {
    nodes: Vec<String>,
    parts: Vec<Part>,
    input: Node,
    output: Node,
}

impl Netlist {
    /// An empty netlist; ground is the node `"0"`.
    pub fn new(input: &str, output: &str) -> Netlist {
        let mut netlist = Netlist {
            nodes: vec!["0".to_owned()],
            parts: Vec::new(),
            input: 0,
            output: 0,
        };
        netlist.input = netlist.node(input);
        netlist.output = netlist.node(output);
        netlist
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

    pub fn input(&self) -> Node {
        self.input
    }

    pub fn output(&self) -> Node {
        self.output
    }

    /// The position of a part by its designator.
    pub fn position(&self, name: &str) -> Option<usize> {
        self.parts.iter().position(|part| part.name == name)
    }
}
