//! The design in the address: a link or a reload brings it back exactly.
//!
//! The fragment is the design as base64 of its JSON, and behind a slash the region that a link leads to; or a region's name
//! alone.

use std::cell::{Cell, RefCell};

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use gloo_events::EventListener;
use gloo_timers::callback::Timeout;
use leptos::prelude::*;
use wasm_bindgen::JsValue;

use super::desk::Desk;
use super::regions::Region;
use crate::design::Design;

/// Browsers refuse an address that is changed much more often than this, ms.
const PAUSE: u32 = 250;

thread_local! {
    static WRITTEN_AT: Cell<f64> = const { Cell::new(f64::NEG_INFINITY) };
    static LATER: RefCell<Option<Timeout>> = const { RefCell::new(None) };
}

/// The design in the address, if there is a fragment that is not a region's name.
///
/// # Errors
/// A sentence when there is one that is no design.
pub fn read() -> Result<Option<Design>, String> {
    let hash = window().location().hash().unwrap_or_default();
    let (text, _) = parts(&hash);
    if text.is_empty() {
        return Ok(None);
    }
    let broken =
        "The link does not hold a whole design, so the demo is shown; copy the link again.";
    let bytes = URL_SAFE_NO_PAD
        .decode(text)
        .map_err(|_| broken.to_owned())?;
    let tree: serde_json::Value = serde_json::from_slice(&bytes).map_err(|_| broken.to_owned())?;
    Design::from_tree(tree)
        .map(Some)
        .map_err(|errors| match errors.first() {
            Some(error) if error.path == "/version" => {
                format!("{} The demo is shown.", error.message)
            }
            _ => broken.to_owned(),
        })
}

/// Writes the design into the address, at once or a little later.
pub fn write(desk: Desk) {
    let now = js_sys::Date::now();
    let wait = f64::from(PAUSE) - (now - WRITTEN_AT.get());
    if wait <= 0.0 {
        WRITTEN_AT.set(now);
        LATER.take();
        write_now(desk, Entry::Same);
    } else {
        LATER.set(Some(Timeout::new(wait.ceil() as u32, move || {
            WRITTEN_AT.set(js_sys::Date::now());
            write_now(desk, Entry::Same);
        })));
    }
}

/// Writes what is still to be written: a link that is opened in another tab carries the design as it is.
pub fn write_at_once(desk: Desk) {
    LATER.take();
    WRITTEN_AT.set(js_sys::Date::now());
    write_now(desk, Entry::Same);
}

/// Where a link to a region leads: the address with the design, and the region behind it.
pub fn address_of(desk: Desk, region: Region) -> String {
    desk.address.with(|design| match design.as_str() {
        "" => format!("#{}", region.name),
        design => format!("#{design}/{}", region.name),
    })
}

/// Makes a change that the browser's way back undoes.
pub fn step(desk: Desk, change: impl FnOnce()) {
    LATER.take();
    write_now(desk, Entry::Same);
    change();
    write_now(desk, Entry::Next);
    WRITTEN_AT.set(js_sys::Date::now());
}

/// Which entry of the browser's history takes the design.
#[derive(Clone, Copy, PartialEq)]
enum Entry {
    Same,
    Next,
}

fn write_now(desk: Desk, entry: Entry) {
    let Ok(json) = desk.design.with_untracked(serde_json::to_vec) else {
        return;
    };
    let text = URL_SAFE_NO_PAD.encode(json);
    let fragment = format!("#{text}");
    if desk.address.with_untracked(|address| *address != text) {
        desk.address.set(text);
    }
    if window().location().hash().is_ok_and(|now| now == fragment) {
        return;
    }
    if let Ok(history) = window().history() {
        // A page opened from a file may not change its address; everything else still works.
        let _ = match entry {
            Entry::Same => history.replace_state_with_url(&JsValue::NULL, "", Some(&fragment)),
            Entry::Next => history.push_state_with_url(&JsValue::NULL, "", Some(&fragment)),
        };
    }
}

/// Follows links that are opened in the same tab, and the browser's way back.
pub fn follow(desk: Desk) {
    EventListener::new(&window(), "hashchange", move |_| {
        // What was still to be written belongs to the entry that was left.
        LATER.take();
        let hash = window().location().hash().unwrap_or_default();
        if let ("", Some(region)) = parts(&hash) {
            write_now(desk, Entry::Same);
            region.go();
            return;
        }
        match read() {
            Ok(design) => {
                desk.notice.set(None);
                desk.emptied.set(None);
                desk.replace(design.unwrap_or_default());
                go_to_region();
            }
            Err(sentence) => desk.notice.set(Some(sentence)),
        }
    })
    .forget();
    go_to_region();
}

/// Goes to the region that the address names, when the page is there.
fn go_to_region() {
    let hash = window().location().hash().unwrap_or_default();
    if let (_, Some(region)) = parts(&hash) {
        request_animation_frame(move || region.go());
    }
}

/// A fragment's design, "" where it has none, and its region.
fn parts(hash: &str) -> (&str, Option<Region>) {
    let text = hash.trim_start_matches('#');
    let (design, name) = text.rsplit_once('/').unwrap_or(("", text));
    match Region::named(name) {
        Some(region) => (design, Some(region)),
        None => (text, None),
    }
}
