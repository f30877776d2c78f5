//! The schematic: the picture of the stage with its values, and beside each symbol a bar for its variance
//! contribution.

use crate::page::prelude::*;

use super::desk::Desk;
use super::saving::Saving;
use super::spread::contributions;
use crate::plots::schematic::{self, Place};
use crate::quantity::exact;
use crate::stages::{Drawing, Orientation, Symbol, SymbolKind};

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
    let [left, top, width, height] = schematic::view_box(drawing);
    let values = drawing.symbols.iter().filter_map(|symbol| {
        let Place { at, anchor } = schematic::value_place(symbol)?;
        let value = value_of(desk, symbol.name.clone());
        Some(view! { <text class="value" x=at.0 y=at.1 text-anchor=anchor>{value}</text> })
    });
    let values = values.collect_nodes();
    let bars = drawing.symbols.iter().map(|symbol| {
        let part = symbol.name.clone();
        let share = memo(move || contributions::share_of(&desk, &part));
        bar(symbol, share)
    });
    let bars = bars.collect_nodes();
    let picture = Box::new(move || {
        desk.stage.with_untracked(|stage| {
            let stage = stage.as_ref()?;
            Some(schematic::svg(stage, &stage.title))
        })
    });
    let described = move || format!("Schematic of the {title}: {}", parts(&desk));
    // A long circuit keeps its text readable and is moved sideways instead.
    let least = format!("{:.0}px", 0.6 * width);
    view! {
        <div class="drawn">
        <div class="scroll" tabindex="0" role="region" aria-label="Schematic">
        <svg
            class="schematic"
            style:min-width=least
            viewBox=format!("{left} {top} {width} {height}")
            role="img"
            aria-label=described
        >
            <g prop:innerHTML=schematic::still(drawing)></g>
            {values}
            {bars}
        </svg>
        </div>
        <Saving title="Schematic" file="schematic" picture />
        </div>
    }
}

/// The value of the part with this name, bought or given.
fn value_of(desk: Desk, name: String) -> Derived<String> {
    memo(move || {
        let value = desk
            .stage
            .with(|stage| schematic::value_of(stage.as_ref()?, &name));
        value.unwrap_or_default()
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
    let (x, y) = schematic::on_grid(symbol.at);
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
