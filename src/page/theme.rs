//! Colours for what is drawn on canvas, from the style sheet, and when to draw again.

use crate::page::prelude::*;
use gloo_events::EventListener;
use plotters::style::RGBColor;

use super::desk::Desk;

/// The page's few colours.
#[derive(Clone, Copy)]
pub struct Theme {
    pub ink: RGBColor,
    pub faint: RGBColor,
    pub rule: RGBColor,
    pub accent: RGBColor,
}

impl Theme {
    /// As the style sheet has them now.
    pub fn now() -> Theme {
        let style = document()
            .document_element()
            .and_then(|root| window().get_computed_style(&root).ok().flatten());
        let colour = |name: &str| {
            let text = style
                .as_ref()
                .and_then(|s| s.get_property_value(name).ok())
                .unwrap_or_default();
            hex(text.trim()).unwrap_or(RGBColor(128, 128, 128))
        };
        Theme {
            ink: colour("--ink"),
            faint: colour("--faint"),
            rule: colour("--rule"),
            accent: colour("--accent"),
        }
    }
}

fn hex(text: &str) -> Option<RGBColor> {
    let digits = text.strip_prefix('#').filter(|d| d.len() == 6)?;
    let part = |at: usize| u8::from_str_radix(digits.get(at..at + 2)?, 16).ok();
    Some(RGBColor(part(0)?, part(2)?, part(4)?))
}

/// Has charts drawn again when the scheme, the window's size or the pixel ratio changes.
pub fn watch(desk: Desk) {
    let again = move || desk.redraw.update(|n| *n = n.wrapping_add(1));
    EventListener::new(&window(), "resize", move |_| again()).forget();
    if let Ok(Some(scheme)) = window().match_media("(prefers-color-scheme: dark)") {
        EventListener::new(&scheme, "change", move |_| again()).forget();
    }
}
