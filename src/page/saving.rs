//! What is drawn, saved as a picture: SVG as it is, PNG as the browser paints it.

use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{Blob, CanvasRenderingContext2d, HtmlCanvasElement, HtmlImageElement, Url};

use super::desk::Desk;
use super::document::download::{blob_of, download, download_blob};
use super::notice::say;
use crate::page::prelude::*;

const SVG: &str = "image/svg+xml";
/// Pixels of a PNG to a CSS pixel of the picture: 300 to an inch, about.
const FINE: f64 = 3.0;

/// Two buttons that save a picture; `picture` makes its text when one is pressed.
#[component]
pub fn Saving(
    /// What the picture shows, for those who hear the buttons.
    #[prop(into)]
    title: String,
    /// The file's name without its ending.
    #[prop(into)]
    file: String,
    picture: Box<dyn Fn() -> Option<String> + Send + Sync>,
) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let kept = StoredValue::new((file, picture));
    let save = move |is_painted: bool| {
        let made = kept.with_value(|(file, picture)| Some((file.clone(), picture()?)));
        let Some((file, text)) = made else { return };
        match is_painted {
            false => told(desk, download(&format!("{file}.svg"), SVG, &text)),
            true => spawn_local(async move {
                let painted = painted(&text).await;
                let saved = painted.and_then(|blob| download_blob(&format!("{file}.png"), &blob));
                told(desk, saved);
            }),
        }
    };
    view! {
        <span class="saving">
            <button type="button" aria-label=format!("Save “{title}” as SVG") on:click=move |_| save(false)>"SVG"</button>
            <button type="button" aria-label=format!("Save “{title}” as PNG") on:click=move |_| save(true)>"PNG"</button>
        </span>
    }
}

fn told(desk: Desk, saved: Result<(), JsValue>) {
    if saved.is_err() {
        say(
            desk,
            "The browser does not save pictures from this page.".to_owned(),
        );
    }
}

/// A picture as PNG.
async fn painted(text: &str) -> Result<Blob, JsValue> {
    let address = Url::create_object_url_with_blob(&blob_of(SVG, text)?)?;
    let canvas = on_canvas(&address).await;
    // An address that is gone already is no harm.
    let _ = Url::revoke_object_url(&address);
    let canvas = canvas?;
    let asked = js_sys::Promise::new(&mut |resolve, reject| {
        let done = Closure::once_into_js(move |blob: JsValue| {
            // Calling a promise's own functions does not fail.
            let _ = resolve.call1(&JsValue::NULL, &blob);
        });
        if let Err(error) = canvas.to_blob(done.unchecked_ref()) {
            let _ = reject.call1(&JsValue::NULL, &error);
        }
    });
    // Nothing comes where there is no memory for it.
    JsFuture::from(asked).await?.dyn_into()
}

async fn on_canvas(address: &str) -> Result<HtmlCanvasElement, JsValue> {
    let image = HtmlImageElement::new()?;
    image.set_src(address);
    JsFuture::from(image.decode()).await?;
    let (width, height) = (
        FINE * f64::from(image.natural_width()),
        FINE * f64::from(image.natural_height()),
    );
    let canvas: HtmlCanvasElement = document().create_element("canvas")?.dyn_into()?;
    canvas.set_width(width as u32);
    canvas.set_height(height as u32);
    let context = canvas.get_context("2d")?.ok_or(JsValue::NULL)?;
    let context: CanvasRenderingContext2d = context.dyn_into()?;
    context.draw_image_with_html_image_element_and_dw_and_dh(&image, 0.0, 0.0, width, height)?;
    Ok(canvas)
}
