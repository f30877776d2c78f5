//! A plot on a canvas.

mod fine;
mod painter;

use wasm_bindgen::JsCast;
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement};

use fine::{FINE, Fine};

use super::theme::Theme;
use crate::plots::{Frame, Plot};

/// A canvas's width and height, in CSS pixels.
pub fn size(canvas: &HtmlCanvasElement) -> (f64, f64) {
    let scale = scale();
    (
        f64::from(canvas.width()) / scale,
        f64::from(canvas.height()) / scale,
    )
}

/// Fits a canvas's pixels to its place on the page. Asking for that place makes the browser lay the
/// page out at once, so this is done only when the place may have changed.
pub fn fit(canvas: &HtmlCanvasElement) {
    let box_ = canvas.get_bounding_client_rect();
    if box_.width() < 80.0 || box_.height() < 60.0 {
        return;
    }
    let scale = scale();
    let (width, height) = (
        (box_.width() * scale) as u32,
        (box_.height() * scale) as u32,
    );
    if canvas.width() != width || canvas.height() != height {
        canvas.set_width(width);
        canvas.set_height(height);
    }
}

/// Draws; a canvas that cannot be drawn on stays as it is.
pub fn draw(canvas: &HtmlCanvasElement, plot: &Plot, theme: &Theme) {
    if canvas.width() < 80 {
        return;
    }
    let context = canvas.get_context("2d").ok().flatten();
    let Some(context) = context.and_then(|c| c.dyn_into::<CanvasRenderingContext2d>().ok()) else {
        return;
    };
    let backend = Fine::on(canvas, &context);
    if let (Some(backend), Some(frame)) = (backend, Frame::of(plot, size(canvas))) {
        let scale = scale() * f64::from(FINE);
        // Drawing on a canvas only fails when the canvas has gone.
        let _ = painter::paint(backend, &context, plot, frame, theme, scale);
    }
}

/// Canvas pixels to a CSS pixel.
fn scale() -> f64 {
    leptos::prelude::window()
        .device_pixel_ratio()
        .clamp(1.0, 4.0)
}
