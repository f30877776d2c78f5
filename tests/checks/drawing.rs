//! Every stage's drawing shows every part of its netlist once and joins exactly the netlist's nodes.

use std::collections::{BTreeMap, BTreeSet};

use polewright::stages::{CATALOGUE, SymbolKind};

type Point = (i16, i16);

/// Points joined by wires, each as the lowest point of its net.
struct Nets(BTreeMap<Point, Point>);

impl Nets {
    fn root(&self, point: Point) -> Point {
        match self.0.get(&point) {
            Some(&next) if next != point => self.root(next),
            _ => point,
        }
    }

    fn join(&mut self, a: Point, b: Point) {
        let (a, b) = (self.root(a), self.root(b));
        self.0.insert(a.max(b), a.min(b));
    }
}

#[test]
fn drawings_are_their_netlists() {
    for stage in CATALOGUE {
        let (netlist, drawing) = (stage.netlist(), stage.drawing());
        let mut nets = Nets(BTreeMap::new());
        for wire in &drawing.wires {
            for pair in wire.windows(2) {
                assert!(
                    pair[0].0 == pair[1].0 || pair[0].1 == pair[1].1,
                    "{}: a slanting wire {pair:?}",
                    stage.id()
                );
                nets.join(pair[0], pair[1]);
            }
        }
        // Pins of each netlist node, as the drawing has them.
        let mut drawn: BTreeMap<usize, BTreeSet<Point>> = BTreeMap::new();
        for part in netlist.parts() {
            let symbols: Vec<_> = drawing
                .symbols
                .iter()
                .filter(|s| s.name == part.name)
                .collect();
            assert_eq!(
                symbols.len(),
                1,
                "{}: {} is drawn {} times",
                stage.id(),
                part.name,
                symbols.len()
            );
            for (node, pin) in part.kind.nodes().into_iter().zip(symbols[0].pins()) {
                drawn.entry(node).or_default().insert(nets.root(pin));
            }
        }
        for symbol in &drawing.symbols {
            let node = match symbol.kind {
                SymbolKind::Ground => 0,
                SymbolKind::Input if symbol.name.is_empty() => netlist.input(),
                // A further input has its node's name.
                SymbolKind::Input => {
                    let named = |&&node: &&usize| netlist.nodes()[node] == symbol.name;
                    let node = netlist.inputs()[1..].iter().find(named);
                    *node.unwrap_or_else(|| panic!("{}: no input {}", stage.id(), symbol.name))
                }
                SymbolKind::Output => netlist.output(),
                other if symbol.name.is_empty() => {
                    panic!("{}: {other:?} without a name", stage.id())
                }
                _ => continue,
            };
            drawn.entry(node).or_default().insert(nets.root(symbol.at));
        }
        let mut seen = BTreeSet::new();
        for (node, roots) in &drawn {
            // Ground may be drawn in several places.
            assert!(
                *node == 0 || roots.len() == 1,
                "{}: node {} is torn",
                stage.id(),
                netlist.nodes()[*node]
            );
            for root in roots {
                assert!(
                    seen.insert(*root),
                    "{}: node {} touches another",
                    stage.id(),
                    netlist.nodes()[*node]
                );
            }
        }
        // A circuit without a part on ground has no ground to draw.
        let touched = |node: &usize| {
            let mut parts = netlist.parts().iter();
            *node != 0 || parts.any(|part| part.kind.nodes().contains(&0))
        };
        let nodes = (0..netlist.nodes().len()).filter(touched).count();
        assert_eq!(drawn.len(), nodes, "{}", stage.id());
    }
}
