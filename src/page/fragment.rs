//! The design in the address: a link or a reload brings it back exactly.
//!
//! The fragment is the design as [`link`] writes it, and behind a slash the region that a link leads to; or a region's
//! name alone. It is written soon after the design changes, and before the page is left. A fragment that cannot be read
//! stays where it is until then; what is shown instead is kept in the state of that entry of the browser's history, so
//! that a reload shows it, too.

use std::cell::{Cell, RefCell};

use crate::page::prelude::*;
use gloo_events::EventListener;
use gloo_timers::callback::Timeout;
use wasm_bindgen::JsValue;

use super::desk::Desk;
use super::document::kept;
use super::link;
use super::notice::Notice;
use super::regions::Region;
use super::reload;
use super::turns;
use crate::design::Design;

/// A new address keeps a browser busy for as long as an answer takes: it is written when no key has come for so long, ms.
const QUIET: f64 = 150.0;
/// But no later than this after a change, ms.
const LONGEST: f64 = 1000.0;
/// Browsers refuse an address that is changed more often than some hundred times in half a minute, ms.
const PAUSE: f64 = 320.0;

/// A design that waits to be written, and is written when the page is left before.
struct Later {
    since: f64,
    _timer: Timeout,
    _leaving: EventListener,
}

thread_local! {
    static WRITTEN_AT: Cell<f64> = const { Cell::new(f64::NEG_INFINITY) };
    static LATER: RefCell<Option<Later>> = const { RefCell::new(None) };
    /// The address's fragment as the page found or left it.
    static STANDS: RefCell<String> = const { RefCell::new(String::new()) };
    /// The design that is shown beside a fragment that cannot be read, as the text of a link.
    static BESIDE: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// The design of the address, or what is shown where it has none: the design that was shown beside this fragment
/// before, or the demo. And what is to be said of that.
pub fn open() -> (Design, Option<Notice>) {
    let hash = hash();
    match read(&reload::kept(&hash).unwrap_or(hash)) {
        Ok(design) => (design.unwrap_or_default(), None),
        Err(sentence) => match beside() {
            Some(design) => (design, Some(unread(&sentence, STAYS))),
            None => (
                Design::default(),
                Some(unread(&sentence, "The demo is shown.")),
            ),
        },
    }
}

const STAYS: &str = "The design of before is still shown.";

fn unread(sentence: &str, shown: &str) -> Notice {
    Notice {
        told: format!("{sentence} {shown}"),
        link: window().location().href().ok(),
    }
}

/// The design in a fragment, if it is not a region's name.
fn read(hash: &str) -> Result<Option<Design>, String> {
    match parts(hash) {
        ("", _) => Ok(None),
        (text, _) => link::decode(text).map(Some),
    }
}

/// What was shown beside this fragment, which cannot be read.
fn beside() -> Option<Design> {
    let state = window().history().ok()?.state().ok()?;
    link::decode(&state.as_string()?).ok()
}

/// Leaves a fragment that cannot be read in the address until the design changes.
fn stay_beside(desk: Desk) {
    LATER.take();
    let text = desk.text.with_untracked(|json| link::encode(json));
    if let Ok(history) = window().history() {
        let _ = history.replace_state_with_url(&JsValue::from_str(&text), "", None);
    }
    BESIDE.set(Some(text.clone()));
    desk.address.set(text);
}

/// Has the design written into the address in a moment, or when the browser takes it.
pub fn write(desk: Desk) {
    let now = js_sys::Date::now();
    let since = LATER.with_borrow(|later| later.as_ref().map_or(now, |later| later.since));
    let soon = (since + LONGEST).min(now + QUIET);
    let wait = soon.max(WRITTEN_AT.get() + PAUSE) - now;
    LATER.set(Some(Later {
        since,
        _timer: Timeout::new(wait.max(0.0).ceil() as u32, move || write_in_time(desk)),
        // When the page is hidden it is too late for what a reload opens.
        _leaving: EventListener::new(&window(), "beforeunload", move |_| write_in_leaving(desk)),
    }));
}

/// Writes what waited, unless the browser has gone to another entry meanwhile and is about to tell: that entry would be
/// written over.
fn write_in_time(desk: Desk) {
    LATER.take();
    if STANDS.replace(hash()) == hash() {
        write_at_once(desk);
    }
}

/// Writes what is still to be written: a link that is opened in another tab carries the design as it is.
pub fn write_at_once(desk: Desk) {
    LATER.take();
    WRITTEN_AT.set(js_sys::Date::now());
    write_now(desk, Entry::Same);
}

/// Writes what is still to be written when the page is being left.
fn write_in_leaving(desk: Desk) {
    let before = hash();
    write_at_once(desk);
    let after = hash();
    if after != before {
        reload::keep(&before, &after);
    }
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
    desk.remember_drafts();
    write_now(desk, Entry::Same);
    change();
    // The entry that is left keeps its fragment, and the design beside it.
    BESIDE.set(None);
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
    let text = desk.text.with_untracked(|json| link::encode(json));
    let stays = BESIDE.with_borrow(|beside| beside.as_ref() == Some(&text));
    if stays {
        return;
    }
    BESIDE.set(None);
    let fragment = format!("#{text}");
    if desk.address.with_untracked(|address| *address != text) {
        desk.address.set(text);
    }
    if hash() == fragment {
        return;
    }
    if let Ok(history) = window().history() {
        // A page opened from a file may not change its address; everything else still works.
        let _ = match entry {
            Entry::Same => history.replace_state_with_url(&JsValue::NULL, "", Some(&fragment)),
            Entry::Next => history.push_state_with_url(&JsValue::NULL, "", Some(&fragment)),
        };
    }
    STANDS.set(hash());
}

/// Keeps the address true to the design; follows links that are opened in the same tab, and the browser's way back.
pub fn follow(desk: Desk) {
    STANDS.set(hash());
    if desk.notice.with_untracked(Option::is_some) {
        stay_beside(desk);
    }
    Effect::new(move || {
        desk.design.track();
        write(desk);
    });
    EventListener::new(&window(), "hashchange", move |_| changed(desk)).forget();
    // Whether a change waits or has not been seen yet: what is in the design is written.
    EventListener::new(&window(), "pagehide", move |_| write_in_leaving(desk)).forget();
    EventListener::new(&document(), "visibilitychange", move |_| {
        // A hidden page may be ended without another word.
        if document().hidden() {
            write_in_leaving(desk);
        }
    })
    .forget();
    go_to_region();
}

/// The address has another fragment.
fn changed(desk: Desk) {
    // What was still to be written belongs to the entry that was left.
    LATER.take();
    BESIDE.set(None);
    let hash = hash();
    STANDS.set(hash.clone());
    if let ("", Some(region)) = parts(&hash) {
        write_now(desk, Entry::Same);
        region.go();
        return;
    }
    match read(&hash) {
        Ok(design) => {
            desk.notice.set(None);
            desk.emptied.set(None);
            kept::part();
            desk.take(design.unwrap_or_default());
            go_to_region();
        }
        Err(sentence) => {
            if let Some(design) = beside() {
                desk.take(design);
            }
            stay_beside(desk);
            desk.notice.set(Some(unread(&sentence, STAYS)));
        }
    }
}

/// Goes to the region that the address names, when the page is there.
fn go_to_region() {
    let hash = hash();
    if let (_, Some(region)) = parts(&hash) {
        turns::at_rest(move || region.go());
    }
}

/// The address's fragment, with its sign.
fn hash() -> String {
    window().location().hash().unwrap_or_default()
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
