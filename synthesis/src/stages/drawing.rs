//! Where a stage's symbols stand on its schematic, as plain data on a grid.
//!
//! The page draws it; tests join the pins by the wires and compare the result with the netlist.

use serde::{Deserialize, Serialize};

/// A point on the grid; x to the right, y down.
pub type Point = (i16, i16);

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Orientation {
    Horizontal,
    Vertical,
}

/// What a symbol is; the point of a [`Symbol`] is its first pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SymbolKind {
    /// Second pin four steps right or down.
    Resistor(Orientation),
    /// Second pin four steps right or down.
    Capacitor(Orientation),
    /// The point is the inverting input; the other input stands two steps below (`above`: above),
    /// the output five steps right and one below (above).
    OpAmp { plus_above: bool },
    /// One pin, ground.
    Ground,
    /// One pin, where the signal comes in.
    Input,
    /// One pin, where it leaves.
    Output,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Symbol {
    /// The part's designator; empty for ground and terminals.
    pub name: String,
    pub kind: SymbolKind,
    pub at: Point,
}

impl Symbol {
    /// Pins in the order of [`crate::circuit::Kind::nodes`].
    pub fn pins(&self) -> Vec<Point> {
        let (x, y) = self.at;
        let side = |orientation| match orientation {
            Orientation::Horizontal => (x + 4, y),
            Orientation::Vertical => (x, y + 4),
        };
        match self.kind {
            SymbolKind::Resistor(o) | SymbolKind::Capacitor(o) => vec![self.at, side(o)],
            SymbolKind::OpAmp { plus_above } => {
                let down = if plus_above { -1 } else { 1 };
                vec![(x, y + 2 * down), self.at, (x + 5, y + down)]
            }
            SymbolKind::Ground | SymbolKind::Input | SymbolKind::Output => vec![self.at],
        }
    }
}

/// A schematic: symbols, and wires as chains of points. Wires that share a point are joined; where
/// three ends meet a dot is drawn.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Drawing {
    pub symbols: Vec<Symbol>,
    pub wires: Vec<Vec<Point>>,
}

impl Drawing {
    /// Adds a symbol.
    pub fn symbol(mut self, name: &str, kind: SymbolKind, at: Point) -> Drawing {
        self.symbols.push(Symbol {
            name: name.to_owned(),
            kind,
            at,
        });
        self
    }

    /// Adds a wire.
    pub fn wire(mut self, points: &[Point]) -> Drawing {
        self.wires.push(points.to_vec());
        self
    }

    /// The smallest rectangle that holds all pins and wires.
    pub fn bounds(&self) -> (Point, Point) {
        let points = self
            .symbols
            .iter()
            .flat_map(Symbol::pins)
            .chain(self.wires.iter().flatten().copied());
        points.fold(
            ((i16::MAX, i16::MAX), (i16::MIN, i16::MIN)),
            |(lo, hi), p| {
                (
                    (lo.0.min(p.0), lo.1.min(p.1)),
                    (hi.0.max(p.0), hi.1.max(p.1)),
                )
            },
        )
    }

    /// Points where three or more ends meet.
    pub fn joints(&self) -> Vec<Point> {
        let mut ends: Vec<(Point, usize)> = Vec::new();
        let mut count = |point: Point, by: usize| match ends.iter_mut().find(|(p, _)| *p == point) {
            Some((_, n)) => *n += by,
            None => ends.push((point, by)),
        };
        for symbol in &self.symbols {
            for pin in symbol.pins() {
                count(pin, 1);
            }
        }
        for wire in &self.wires {
            for (index, &point) in wire.iter().enumerate() {
                let inner = index != 0 && index + 1 != wire.len();
                count(point, if inner { 2 } else { 1 });
            }
        }
        ends.retain(|(_, n)| *n >= 3);
        ends.into_iter().map(|(point, _)| point).collect()
    }
}
