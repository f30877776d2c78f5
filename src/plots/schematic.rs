//! A stage's schematic: symbols and wires where its drawing says, with designators and values; the geometry, and the
//! picture by itself.

use maud::{Markup, html};

use super::ink::{ACCENT, FAINT, INK, LETTERS, PAPER};
use super::xml::{Px, Words, chain};
use crate::outcome::StageOutcome;
use crate::quantity::exact;
use crate::stages::{Drawing, Orientation, Symbol, SymbolKind};

/// CSS pixels of a grid step.
const GRID: f64 = 16.0;
/// Length of a resistor or a capacitor with its leads, CSS pixels.
const SPAN: f64 = 4.0 * GRID;
/// Height of the letters, CSS pixels.
const LETTER_SIZE: f64 = 14.0;

/// Where a text stands, and which part of it stands there (`text-anchor`).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    pub at: (f64, f64),
    pub anchor: &'static str,
}

/// Left, top, width and height of all that is drawn, CSS pixels.
pub fn view_box(drawing: &Drawing) -> [f64; 4] {
    let (from, to) = drawing.bounds();
    if from.0 > to.0 {
        return [0.0; 4];
    }
    let (from, to) = (on_grid(from), on_grid(to));
    [
        from.0 - 34.0,
        from.1 - 36.0,
        to.0 - from.0 + 72.0,
        to.1 - from.1 + 72.0,
    ]
}

/// A point of the grid in CSS pixels.
pub fn on_grid((x, y): (i16, i16)) -> (f64, f64) {
    (f64::from(x) * GRID, f64::from(y) * GRID)
}

/// The value of the part with this name, bought or given; none for what has no single value.
pub fn value_of(stage: &StageOutcome, name: &str) -> Option<String> {
    let bought = stage.parts.iter().map(|p| (&p.name, p.value, p.unit));
    let given = stage.given.iter().map(|p| (&p.name, p.value, p.unit));
    let (_, value, unit) = bought.chain(given).find(|(own, ..)| *own == name)?;
    Some(exact(value, unit))
}

/// Where a part's value stands, below its designator; none for symbols without one.
pub fn value_place(symbol: &Symbol) -> Option<Place> {
    let (x, y) = on_grid(symbol.at);
    match symbol.kind {
        SymbolKind::Resistor(Orientation::Vertical)
        | SymbolKind::Capacitor(Orientation::Vertical) => Some(Place {
            at: (x + 17.0, y + SPAN / 2.0 + 12.0),
            anchor: "start",
        }),
        SymbolKind::Resistor(_) | SymbolKind::Capacitor(_) => Some(Place {
            at: (x + SPAN / 2.0, y + 29.0),
            anchor: "middle",
        }),
        _ => None,
    }
}

/// Where a part's designator stands.
fn name_place(symbol: &Symbol) -> Option<Place> {
    let (x, y) = on_grid(symbol.at);
    match symbol.kind {
        SymbolKind::Resistor(Orientation::Vertical)
        | SymbolKind::Capacitor(Orientation::Vertical) => Some(Place {
            at: (x + 17.0, y + SPAN / 2.0 - 3.0),
            anchor: "start",
        }),
        SymbolKind::Resistor(_) | SymbolKind::Capacitor(_) => Some(Place {
            at: (x + SPAN / 2.0, y - 17.0),
            anchor: "middle",
        }),
        SymbolKind::OpAmp { plus_above } => Some(Place {
            at: (x + 32.0, y + if plus_above { -11.0 } else { 21.0 }),
            anchor: "middle",
        }),
        _ => None,
    }
}

/// All but the values, as the inside of an `svg` element. Classes are for a style sheet that has other colours.
pub fn still(drawing: &Drawing) -> String {
    inside(drawing, &|_| None).0
}

/// A picture of a stage with its values on white, as large as it is by itself (CSS pixels).
pub fn svg(stage: &StageOutcome, title: &str) -> String {
    let drawing = &stage.drawing;
    let [left, top, width, height] = view_box(drawing);
    let value = |name: &str| value_of(stage, name);
    let picture = html! {
        svg xmlns="http://www.w3.org/2000/svg" role="img" width=(Px(width)) height=(Px(height))
            viewBox={ (Px(left)) " " (Px(top)) " " (Px(width)) " " (Px(height)) }
            font-family=(LETTERS) font-size=(Px(LETTER_SIZE))
        {
            title { (Words(title)) }
            rect x=(Px(left)) y=(Px(top)) width=(Px(width)) height=(Px(height)) fill=(PAPER) {}
            (inside(drawing, &value))
        }
    };
    picture.0
}

fn inside(drawing: &Drawing, value: &dyn Fn(&str) -> Option<String>) -> Markup {
    html! {
        g fill="none" stroke=(INK) stroke-width="1.5" stroke-linejoin="round" stroke-linecap="round" {
            @for wire in &drawing.wires {
                polyline points=(chain(wire.iter().copied().map(on_grid))) {}
            }
            @for (x, y) in drawing.joints().into_iter().map(on_grid) {
                circle class="joint" cx=(Px(x)) cy=(Px(y)) r="3" fill=(INK) stroke="none" {}
            }
            @for symbol in &drawing.symbols { (body(symbol)) }
        }
        @for symbol in &drawing.symbols {
            @if let Some(place) = name_place(symbol).filter(|_| !symbol.name.is_empty()) {
                (text(Some("name"), place, FAINT, None, &symbol.name))
            }
            @if let Some((place, value)) = value_place(symbol).zip(value(&symbol.name)) {
                (text(Some("value"), place, ACCENT, Some("600"), &value))
            }
            @if let Some((place, name)) = terminal(symbol) {
                (text(None, place, INK, None, name))
            }
        }
    }
}

fn text(
    class: Option<&str>,
    place: Place,
    colour: &str,
    weight: Option<&str>,
    words: &str,
) -> Markup {
    let (x, y) = place.at;
    html! {
        text class=[class] x=(Px(x)) y=(Px(y)) text-anchor=(place.anchor) fill=(colour) font-weight=[weight] {
            (Words(words))
        }
    }
}

/// The name of a terminal, and where it stands.
fn terminal(symbol: &Symbol) -> Option<(Place, &str)> {
    let (name, dx, anchor) = match symbol.kind {
        SymbolKind::Output => ("out", 9.0, "start"),
        SymbolKind::Input if symbol.name.is_empty() => ("in", -9.0, "end"),
        SymbolKind::Input => (symbol.name.as_str(), -9.0, "end"),
        _ => return None,
    };
    let (x, y) = on_grid(symbol.at);
    let at = (x + dx, y + 4.0);
    Some((Place { at, anchor }, name))
}

/// A symbol's lines.
fn body(symbol: &Symbol) -> Markup {
    let (x, y) = on_grid(symbol.at);
    let turn = |orientation: Orientation| match orientation {
        Orientation::Horizontal => format!("translate({x} {y})"),
        Orientation::Vertical => format!("translate({x} {y}) rotate(90)"),
    };
    match symbol.kind {
        SymbolKind::Resistor(orientation) => html! {
            g transform=(turn(orientation)) {
                path d=(format!("M0 0H12M{} 0H{SPAN}", SPAN - 12.0)) {}
                rect x="12" y="-7" width=(SPAN - 24.0) height="14" {}
            }
        },
        SymbolKind::Capacitor(orientation) => {
            let (near, far) = (SPAN / 2.0 - 4.0, SPAN / 2.0 + 4.0);
            html! {
                g transform=(turn(orientation)) {
                    path d=(format!("M0 0H{near}M{far} 0H{SPAN}")) {}
                    path class="plate" stroke-width="2.4" d=(format!("M{near} -12V12M{far} -12V12")) {}
                }
            }
        }
        SymbolKind::OpAmp { plus_above } => {
            let flip = if plus_above { -1.0 } else { 1.0 };
            let tip = 5.0 * GRID;
            let (back, middle, below) = (tip - 4.0, 16.0 * flip, 32.0 * flip);
            html! {
                g transform=(format!("translate({x} {y})")) {
                    path d=(format!("M10 {}L{back} {middle}L10 {}Z", -18.0 * flip, 50.0 * flip)) {}
                    path d=(format!("M0 0H10M0 {below}H10M{back} {middle}H{tip}")) {}
                    path d=(format!("M16 0h8M16 {below}h8M20 {}v8", below - 4.0)) {}
                }
            }
        }
        SymbolKind::Ground => html! {
            path d=(format!("M{} {y}h20M{} {}h12M{} {}h4", x - 10.0, x - 6.0, y + 5.0, x - 2.0, y + 10.0)) {}
        },
        SymbolKind::Input | SymbolKind::Output => html! {
            circle class="terminal" cx=(x) cy=(y) r="3.5" {}
        },
    }
}
