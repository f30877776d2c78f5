//! Drawing op amps with their networks: rungs of parts between rails.

use crate::stages::drawing::Point;
use crate::stages::{Drawing, Orientation, SymbolKind};

/// A drawing in the making; a part's kind is told by the first letter of its designator.
#[derive(Default)]
pub struct Sketch(Drawing);

impl Sketch {
    /// An input; `name` is its node's where it is not the signal's.
    pub fn input(self, name: &str, at: Point) -> Sketch {
        Sketch(self.0.symbol(name, SymbolKind::Input, at))
    }

    pub fn output(self, at: Point) -> Sketch {
        Sketch(self.0.symbol("", SymbolKind::Output, at))
    }

    pub fn ground(self, at: Point) -> Sketch {
        Sketch(self.0.symbol("", SymbolKind::Ground, at))
    }

    pub fn wire(self, points: &[Point]) -> Sketch {
        Sketch(self.0.wire(points))
    }

    /// A vertical wire that can be joined at each of these heights.
    pub fn rail(self, x: i16, heights: &[i16]) -> Sketch {
        let points: Vec<Point> = heights.iter().map(|&y| (x, y)).collect();
        self.wire(&points)
    }

    /// Parts in series at a height, in the middle between two rails.
    pub fn rung(mut self, y: i16, (left, right): (i16, i16), names: &[&str]) -> Sketch {
        const SPAN: i16 = 4;
        let count = i16::try_from(names.len()).unwrap_or(1);
        let mut x = left + (right - left - count * SPAN - (count - 1)) / 2;
        let mut end = left;
        for name in names {
            if end != x {
                self = self.wire(&[(end, y), (x, y)]);
            }
            self = self.part(name, Orientation::Horizontal, (x, y));
            end = x + SPAN;
            x = end + 1;
        }
        if end != right {
            self = self.wire(&[(end, y), (right, y)]);
        }
        self
    }

    /// One resistor or capacitor from its first pin on.
    pub fn part(self, name: &str, orientation: Orientation, at: Point) -> Sketch {
        let kind = if name.starts_with('C') {
            SymbolKind::Capacitor(orientation)
        } else {
            SymbolKind::Resistor(orientation)
        };
        Sketch(self.0.symbol(name, kind, at))
    }

    /// An op amp whose inverting input is at a point, with a stub to the rail one step before it; its
    /// output goes on to the rail at `right`.
    pub fn op_amp(self, name: &str, (x, y): Point, right: i16) -> Sketch {
        let symbol = SymbolKind::OpAmp { plus_above: false };
        Sketch(self.0.symbol(name, symbol, (x, y)))
            .wire(&[(x - 1, y), (x, y)])
            .wire(&[(x + 5, y + 1), (right, y + 1)])
    }

    /// The same with the other input on ground.
    pub fn inverting(self, name: &str, (x, y): Point, right: i16) -> Sketch {
        self.op_amp(name, (x, y), right)
            .wire(&[(x, y + 2), (x, y + 4)])
            .ground((x, y + 4))
    }

    /// The output, three steps behind a rail.
    pub fn out_of(self, (x, y): Point) -> Sketch {
        self.wire(&[(x, y), (x + 3, y)]).output((x + 3, y))
    }

    pub fn done(self) -> Drawing {
        self.0
    }
}
