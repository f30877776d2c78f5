//! Finer coordinates for a canvas.
//!
//! Plotters draws at whole coordinates. On a canvas with the screen's own pixels that makes a sloping
//! line a staircase; a canvas with more pixels is slow to paint. So each pixel is cut into [`FINE`]
//! coordinates, and the canvas scales them back.

use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use plotters_canvas::CanvasBackend;
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement};

/// Coordinates to a pixel of the canvas.
pub const FINE: u32 = 4;

/// The canvas backend with a larger size than its canvas has.
pub struct Fine {
    inner: CanvasBackend,
    size: (u32, u32),
}

impl Fine {
    /// Clears the canvas and has its context scale what is drawn from now on.
    pub fn on(canvas: &HtmlCanvasElement, context: &CanvasRenderingContext2d) -> Option<Fine> {
        let inner = CanvasBackend::with_canvas_object(canvas.clone())?;
        let (width, height) = (canvas.width(), canvas.height());
        let each = 1.0 / f64::from(FINE);
        context.set_transform(each, 0.0, 0.0, each, 0.0, 0.0).ok()?;
        let size = (width * FINE, height * FINE);
        context.clear_rect(0.0, 0.0, f64::from(size.0), f64::from(size.1));
        Some(Fine { inner, size })
    }
}

type Drawn<E> = Result<(), DrawingErrorKind<E>>;

impl DrawingBackend for Fine {
    type ErrorType = <CanvasBackend as DrawingBackend>::ErrorType;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Drawn<Self::ErrorType> {
        self.inner.ensure_prepared()
    }

    fn present(&mut self) -> Drawn<Self::ErrorType> {
        self.inner.present()
    }

    fn draw_pixel(&mut self, at: BackendCoord, colour: BackendColor) -> Drawn<Self::ErrorType> {
        self.inner.draw_pixel(at, colour)
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn<Self::ErrorType> {
        self.inner.draw_path(path, style)
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        outline: I,
        style: &S,
    ) -> Drawn<Self::ErrorType> {
        self.inner.fill_polygon(outline, style)
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        centre: BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Drawn<Self::ErrorType> {
        self.inner.draw_circle(centre, radius, style, fill)
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        at: BackendCoord,
    ) -> Drawn<Self::ErrorType> {
        self.inner.draw_text(text, style, at)
    }
}
