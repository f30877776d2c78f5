//! Where the keyboard stands when the control that had it is gone.

use std::cell::RefCell;

use gloo_events::EventListener;
use leptos::prelude::document;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlElement};

use super::turns;

/// The shown stage's card; in an empty path, where a stage is added.
const CARD: &str = ".card[aria-current] .show, .path:not(:has(.card)) #add-stage";

/// What takes the focus.
const CONTROL: &str = "button:enabled, input:enabled, select:enabled, textarea:enabled, a[href], summary, [tabindex='0']";

/// An element, and its place among its parent's children.
type Step = (Element, usize);

thread_local! {
    /// From the control that had the focus last up to the page: a control that is taken away knows its neighbours
    /// no more.
    static TRAIL: RefCell<Vec<Step>> = const { RefCell::new(Vec::new()) };
    /// Its words: what is drawn anew has the same.
    static WORDS: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// Remembers where the focus is, and brings it back to the neighbour of a control that was taken away with it.
pub fn watch() {
    let came = |event: &web_sys::Event| {
        let element: Option<Element> = event.target().and_then(|target| target.dyn_into().ok());
        WORDS.set(element.as_ref().and_then(words));
        TRAIL.set(
            std::iter::successors(element.map(step), |(element, _)| {
                element.parent_element().map(step)
            })
            .collect(),
        );
    };
    EventListener::new(&document(), "focusin", came).forget();
    EventListener::new(&document(), "focusout", |_| keep()).forget();
}

fn step(element: Element) -> Step {
    let before = std::iter::successors(
        element.previous_element_sibling(),
        Element::previous_element_sibling,
    );
    let place = before.count();
    (element, place)
}

/// After the page has followed a change: back to the control of the same spoken name, or to one beside it, or else to
/// the shown stage's card. Focus that is still somewhere stays there.
pub fn keep() {
    turns::at_rest(recover);
}

/// Gives the focus of a control that is gone to another one.
fn recover() {
    let is_lost = document()
        .active_element()
        .is_none_or(|element| element.tag_name() == "BODY");
    let is_useless =
        |own: &Element| !own.is_connected() || own.matches(":disabled").unwrap_or(false);
    let is_gone = TRAIL.with_borrow(|trail| trail.first().is_some_and(|(own, _)| is_useless(own)));
    if !is_lost || !is_gone {
        return;
    }
    let own = WORDS.take();
    let named = |name: &String| find(&format!("button[aria-label='{name}']:enabled"));
    let same = own.as_ref().and_then(named);
    if let Some(place) = same.or_else(|| beside(own)).or_else(|| find(CARD)) {
        let _ = place.focus();
    }
}

/// The control nearest to where the one was that is gone: one that says the same (`own`), else of what came into its
/// place and what stands behind it the first, else the last of what stands before it.
fn beside(own: Option<String>) -> Option<HtmlElement> {
    let trail = TRAIL.take();
    trail.windows(2).find_map(|pair| {
        let (place, around) = (pair[0].1, &pair[1].0);
        if !around.is_connected() || around.tag_name() == "MAIN" {
            return None;
        }
        let children = around.children();
        let (mut before, mut behind) = (None, None);
        for at in 0..children.length() {
            for control in children
                .item(at)
                .map(|child| controls(&child))
                .unwrap_or_default()
            {
                if own.is_some() && words(&control) == own {
                    return Some(control);
                }
                if at as usize >= place {
                    behind = behind.or(Some(control));
                } else {
                    before = Some(control);
                }
            }
        }
        behind.or(before)
    })
}

/// What a control says.
fn words(control: &Element) -> Option<String> {
    let label = control.get_attribute("aria-label");
    label
        .or_else(|| control.text_content())
        .filter(|words| !words.is_empty())
}

/// Controls that can be seen in an element, itself too.
fn controls(element: &Element) -> Vec<HtmlElement> {
    let own = element
        .matches(CONTROL)
        .unwrap_or(false)
        .then(|| element.clone());
    let inside = element.query_selector_all(CONTROL).ok();
    let inside = inside
        .iter()
        .flat_map(|all| (0..all.length()).filter_map(|at| all.item(at)));
    let inside = inside.filter_map(|node| node.dyn_into::<Element>().ok());
    let all = own
        .into_iter()
        .chain(inside)
        .filter_map(|one| one.dyn_into::<HtmlElement>().ok());
    all.filter(|one| one.offset_parent().is_some()).collect()
}

/// To the shown stage's card, from a control that goes with the change.
pub fn to_card() {
    if let Some(card) = find(CARD) {
        let _ = card.focus();
    }
}

/// To the button that asked for this answer, from a control of the answer that is drawn anew with the change: the
/// nearest pressed one round it.
pub fn to_asked() {
    let mut around = document().active_element();
    while let Some(element) = around {
        let asked = element.query_selector("button[aria-pressed='true']");
        if let Some(button) = asked.ok().flatten() {
            if let Ok(button) = button.dyn_into::<HtmlElement>() {
                let _ = button.focus();
            }
            return;
        }
        around = element.parent_element();
    }
}

fn find(selector: &str) -> Option<HtmlElement> {
    let found = document().query_selector(selector).ok()??;
    found.dyn_into().ok()
}
