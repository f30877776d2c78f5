//! Hands a text or other bytes to the browser as a file.

use gloo_timers::callback::Timeout;
use leptos::prelude::document;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Blob, BlobPropertyBag, HtmlAnchorElement, Url};

/// The file's address is kept so long, ms: the browser takes the bytes some time after the click.
const KEPT: u32 = 10_000;

/// Saves a text where the browser saves files.
///
/// # Errors
/// Where the browser does not make a file of it.
pub fn download(name: &str, media_type: &str, text: &str) -> Result<(), JsValue> {
    download_blob(name, &blob_of(media_type, text)?)
}

/// A text as the browser keeps bytes.
///
/// # Errors
/// Where the browser has no memory for it.
pub fn blob_of(media_type: &str, text: &str) -> Result<Blob, JsValue> {
    let kind = BlobPropertyBag::new();
    kind.set_type(media_type);
    let parts = js_sys::Array::of1(&JsValue::from_str(text));
    Blob::new_with_str_sequence_and_options(&parts, &kind)
}

/// Saves bytes where the browser saves files.
///
/// # Errors
/// Where the browser does not make a file of them.
pub fn download_blob(name: &str, blob: &Blob) -> Result<(), JsValue> {
    let address = Url::create_object_url_with_blob(blob)?;
    let link: HtmlAnchorElement = document().create_element("a")?.unchecked_into();
    link.set_href(&address);
    link.set_download(name);
    link.click();
    Timeout::new(KEPT, move || {
        // An address that is gone already is no harm.
        let _ = Url::revoke_object_url(&address);
    })
    .forget();
    Ok(())
}
