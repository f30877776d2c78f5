//! The schematic: symbols and wires where the stage's drawing says, with designators and values, and beside each
//! symbol a bar for its variance contribution.

use crate::page::prelude::*;

use super::desk::Desk;
use super::spread::contributions;
use crate::quantity::exact;
use crate::stages::{Drawing, Orientation, Symbol, SymbolKind};

/// Pixels of a grid step.
const GRID: f64 = 16.0;
/// Length of a resistor or a capacitor with its leads, pixels.
const SPAN: f64 = 4.0 * GRID;

#[component]
pub fn Schematic() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let circuit = memo(move || {
        desk.stage.with(|stage| {
            stage
                .as_ref()
                .map(|s| (s.title.to_ascii_lowercase(), s.drawing.clone()))
        })
    });
    let now = move || {
        circuit
            .get()
            .map(|(title, drawing)| drawn(desk, title, &drawing))
    };
    now.into_node()
}

/// The drawing, which stays while its values change.
fn drawn(desk: Desk, title: String, drawing: &Drawing) -> impl Content + use<> {
    let ((x0, y0), (x1, y1)) = drawing.bounds();
    let at = |v: i16| f64::from(v) * GRID;
    let (left, top) = (at(x0) - 34.0, at(y0) - 36.0);
    let (width, height) = (at(x1) - at(x0) + 72.0, at(y1) - at(y0) + 72.0);
    let wires = drawing
        .wires
        .iter()
        .map(|wire| {
            let points: Vec<String> = wire
                .iter()
                .map(|&(x, y)| format!("{},{}", at(x), at(y)))
                .collect();
            view! { <polyline points=points.join(" ") /> }
        })
        .collect_nodes();
    let joints = drawing
        .joints()
        .into_iter()
        .map(|(x, y)| view! { <circle class="joint" cx=at(x) cy=at(y) r="3" /> })
        .collect_nodes();
    let symbols = drawing
        .symbols
        .iter()
        .map(|symbol| {
            let part = symbol.name.clone();
            let share = memo(move || contributions::share_of(&desk, &part));
            view! {
                {drawn_symbol(symbol, value_of(desk, symbol.name.clone()))}
                {bar(symbol, share)}
            }
        })
        .collect_nodes();
    let described = move || format!("Schematic of the {title}: {}", parts(&desk));
    // A long circuit keeps its text readable and is moved sideways instead.
    let least = format!("{:.0}px", 0.6 * width);
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label="Schematic">
        <svg
            class="schematic"
            style:min-width=least
            viewBox=format!("{left} {top} {width} {height}")
            role="img"
            aria-label=described
        >
            {wires}
            {joints}
            {symbols}
        </svg>
        </div>
    }
}

/// The value of the part with this name, bought or given.
fn value_of(desk: Desk, name: String) -> Derived<String> {
    memo(move || {
        desk.stage.with(|stage| {
            let Some(stage) = stage else {
                return String::new();
            };
            let bought = stage.parts.iter().find(|p| p.name == name);
            let given = stage.given.iter().find(|p| p.name == name);
            let bought = bought.map(|p| exact(p.value, p.unit));
            bought
                .or_else(|| given.map(|p| exact(p.value, p.unit)))
                .unwrap_or_default()
        })
    })
}

/// Bought parts with their values, for those who do not see the drawing.
fn parts(desk: &Desk) -> String {
    desk.stage.with(|stage| {
        let parts = stage.iter().flat_map(|s| &s.parts);
        let parts: Vec<String> = parts
            .map(|p| format!("{} {}", p.name, exact(p.value, p.unit)))
            .collect();
        parts.join(", ")
    })
}

/// A bar along the symbol, as long as the part's variance contribution; the list beside the spread says the same
/// in numbers.
fn bar(symbol: &Symbol, share: Derived<Option<f64>>) -> impl Content + use<> {
    const THICK: f64 = 3.0;
    let (x, y) = (f64::from(symbol.at.0) * GRID, f64::from(symbol.at.1) * GRID);
    let (x, y, long, is_upright) = match symbol.kind {
        SymbolKind::Resistor(Orientation::Horizontal)
        | SymbolKind::Capacitor(Orientation::Horizontal) => (x + 12.0, y + 12.5, 40.0, false),
        SymbolKind::Resistor(Orientation::Vertical)
        | SymbolKind::Capacitor(Orientation::Vertical) => (x - 13.0 - THICK, y + 12.0, 40.0, true),
        SymbolKind::OpAmp { plus_above } => {
            let down = if plus_above { -8.0 } else { 24.0 };
            (x + 20.0, y + down, 24.0, false)
        }
        _ => return None,
    };
    let size = move |length: f64| {
        if is_upright {
            (THICK, length)
        } else {
            (length, THICK)
        }
    };
    let drawn = move || {
        let share = share.get()?;
        let (whole, part) = (size(long), size(long * share));
        // Upright bars grow from below.
        let from = if is_upright { y + long - part.1 } else { y };
        Some(view! {
            <g class="contribution-bar" aria-hidden="true">
                <rect class="ground" x=x y=y width=whole.0 height=whole.1 />
                <rect class="part" x=x y=from width=part.0 height=part.1 />
            </g>
        })
    };
    Some(drawn)
}

/// A symbol with its designator and its value.
fn drawn_symbol(symbol: &Symbol, value: Derived<String>) -> Node {
    let (x, y) = (f64::from(symbol.at.0) * GRID, f64::from(symbol.at.1) * GRID);
    let (name_at, value_at, anchor) = match symbol.kind {
        SymbolKind::Resistor(Orientation::Vertical)
        | SymbolKind::Capacitor(Orientation::Vertical) => (
            (x + 17.0, y + SPAN / 2.0 - 3.0),
            (x + 17.0, y + SPAN / 2.0 + 12.0),
            "start",
        ),
        SymbolKind::OpAmp { plus_above } => {
            let down = if plus_above { -11.0 } else { 21.0 };
            ((x + 32.0, y + down), (x, y), "middle")
        }
        _ => (
            (x + SPAN / 2.0, y - 17.0),
            (x + SPAN / 2.0, y + 29.0),
            "middle",
        ),
    };
    let named = !symbol.name.is_empty() && symbol.kind != SymbolKind::Input;
    view! {
        {body(symbol, (x, y))}
        {named.then(|| view! { <text class="name" x=name_at.0 y=name_at.1 text-anchor=anchor>{symbol.name.clone()}</text> })}
        <text class="value" x=value_at.0 y=value_at.1 text-anchor=anchor>{value}</text>
    }
    .into_node()
}

/// A symbol's lines, and the name of a terminal.
fn body(symbol: &Symbol, (x, y): (f64, f64)) -> Node {
    let span = SPAN;
    let turn = |orientation: Orientation| match orientation {
        Orientation::Horizontal => format!("translate({x} {y})"),
        Orientation::Vertical => format!("translate({x} {y}) rotate(90)"),
    };
    match symbol.kind {
        SymbolKind::Resistor(orientation) => view! {
            <g transform=turn(orientation)>
                <path d=format!("M0 0H12M{} 0H{span}", span - 12.0) />
                <rect x="12" y="-7" width=span - 24.0 height="14" />
            </g>
        }
        .into_node(),
        SymbolKind::Capacitor(orientation) => {
            let middle = span / 2.0;
            view! {
                <g transform=turn(orientation)>
                    <path d=format!("M0 0H{}M{} 0H{span}", middle - 4.0, middle + 4.0) />
                    <path class="plate" d=format!("M{0} -12V12M{1} -12V12", middle - 4.0, middle + 4.0) />
                </g>
            }
            .into_node()
        }
        SymbolKind::OpAmp { plus_above } => {
            let flip = if plus_above { -1.0 } else { 1.0 };
            let tip = 5.0 * GRID;
            view! {
                <g transform=format!("translate({x} {y})")>
                    <path d=format!("M10 {}L{} {}L10 {}Z", -18.0 * flip, tip - 4.0, 16.0 * flip, 50.0 * flip) />
                    <path d=format!("M0 0H10M0 {}H10M{} {}H{tip}", 32.0 * flip, tip - 4.0, 16.0 * flip) />
                    <path d=format!("M16 0h8M16 {}h8M20 {}v8", 32.0 * flip, 32.0 * flip - 4.0) />
                </g>
            }
            .into_node()
        }
        SymbolKind::Ground => view! {
            <path d=format!("M{} {y}h20M{} {}h12M{} {}h4", x - 10.0, x - 6.0, y + 5.0, x - 2.0, y + 10.0) />
        }
        .into_node(),
        SymbolKind::Input | SymbolKind::Output => {
            let (name, dx) = match symbol.kind {
                SymbolKind::Output => ("out".to_owned(), 9.0),
                _ if symbol.name.is_empty() => ("in".to_owned(), -9.0),
                _ => (symbol.name.clone(), -9.0),
            };
            let anchor = if dx < 0.0 { "end" } else { "start" };
            view! {
                <circle class="terminal" cx=x cy=y r="3.500" />
                <text x=x + dx y=y + 4.0 text-anchor=anchor>{name}</text>
            }
            .into_node()
        }
    }
}
