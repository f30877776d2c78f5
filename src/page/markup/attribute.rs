//! Attributes, classes, styles, properties and events of an element: put on it, and brought up to date.

use std::cell::RefCell;
use std::rc::Rc;

use gloo_events::{EventListener, EventListenerOptions};
use leptos::prelude::RenderEffect;
use leptos::tachys::renderer::Rndr;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Element, Event, HtmlElement};

use super::given::{Source, Value};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Attribute,
    Class,
    Style,
    Property,
    Event,
    /// Somewhere that the element itself is put.
    Place,
}

type Handler = Box<dyn FnMut(Event) + Send>;

pub enum Wanted {
    Value(Source),
    Handler(Handler),
    Place(Box<dyn FnOnce(&Element) + Send>),
}

pub struct Attribute {
    pub kind: Kind,
    pub name: &'static str,
    pub wanted: Wanted,
}

/// An attribute that an element has.
pub struct Held {
    pub kind: Kind,
    pub name: &'static str,
    by: By,
}

enum By {
    Value(Value),
    Effect(#[expect(dead_code, reason = "holds the effect")] Reading),
    Listener(
        Rc<RefCell<Option<Handler>>>,
        #[expect(dead_code, reason = "holds the listener")] EventListener,
    ),
    Nothing,
}

/// A value that is read anew whenever it changes.
struct Reading(Option<RenderEffect<Value>>);

impl Drop for Reading {
    fn drop(&mut self) {
        if let Some(effect) = self.0.take() {
            drop(effect.take_value());
        }
    }
}

impl Attribute {
    /// Puts it on an element.
    pub fn build(self, element: &Element) -> Held {
        let Attribute { kind, name, wanted } = self;
        let by = match wanted {
            Wanted::Value(Source::Fixed(value)) => {
                // What was never there need not be taken away.
                if !matches!(value, Value::Nothing | Value::Flag(false)) || kind == Kind::Property {
                    put(element, kind, name, &value);
                }
                By::Value(value)
            }
            Wanted::Value(Source::Live(read)) => By::Effect(reading(element, kind, name, read)),
            Wanted::Handler(handler) => listener(element, name, handler),
            Wanted::Place(place) => {
                place(element);
                By::Nothing
            }
        };
        Held { kind, name, by }
    }

    /// Puts it in the place of one of the same kind and name.
    pub fn rebuild(self, element: &Element, held: &mut Held) {
        match (self.wanted, &mut held.by) {
            (Wanted::Value(Source::Fixed(value)), By::Value(before)) => {
                if value != *before || self.kind == Kind::Property {
                    put(element, self.kind, self.name, &value);
                    *before = value;
                }
            }
            (Wanted::Value(Source::Fixed(value)), by) => {
                put(element, self.kind, self.name, &value);
                *by = By::Value(value);
            }
            (Wanted::Value(Source::Live(read)), by) => {
                *by = By::Nothing;
                *by = By::Effect(reading(element, self.kind, self.name, read));
            }
            (Wanted::Handler(handler), By::Listener(place, _)) => {
                place.replace(Some(handler));
            }
            (Wanted::Handler(handler), by) => *by = listener(element, self.name, handler),
            (Wanted::Place(place), _) => place(element),
        }
    }
}

fn reading(
    element: &Element,
    kind: Kind,
    name: &'static str,
    mut read: Box<dyn FnMut() -> Value + Send>,
) -> Reading {
    let element = element.clone();
    Reading(Some(RenderEffect::new(move |before: Option<Value>| {
        let value = read();
        if before.as_ref() != Some(&value) || kind == Kind::Property {
            put(&element, kind, name, &value);
        }
        value
    })))
}

fn listener(element: &Element, name: &'static str, handler: Handler) -> By {
    let place = Rc::new(RefCell::new(Some(handler)));
    let options = EventListenerOptions::enable_prevent_default();
    let own = place.clone();
    let listener = EventListener::new_with_options(element, name, options, move |event| {
        // Out of its place while it runs: it may have the element drawn anew.
        let handler = own.borrow_mut().take();
        if let Some(mut handler) = handler {
            handler(event.clone());
            own.borrow_mut().get_or_insert(handler);
        }
    });
    By::Listener(place, listener)
}

fn put(element: &Element, kind: Kind, name: &str, value: &Value) {
    match kind {
        Kind::Attribute => match text(value) {
            Some(text) => Rndr::set_attribute(element, name, &text),
            None => Rndr::remove_attribute(element, name),
        },
        Kind::Class => {
            let classes = Rndr::class_list(element);
            match value {
                Value::Nothing | Value::Flag(false) => Rndr::remove_class(&classes, name),
                _ => Rndr::add_class(&classes, name),
            }
        }
        Kind::Style => {
            let style = element.unchecked_ref::<HtmlElement>().style();
            // Fails only on a style that cannot be changed.
            let _ = style.set_property(name, &text(value).unwrap_or_default());
        }
        Kind::Property => {
            let value = match value {
                Value::Nothing => JsValue::UNDEFINED,
                Value::Flag(flag) => JsValue::from_bool(*flag),
                Value::Text(text) => JsValue::from_str(text),
                Value::Number(number) => JsValue::from_f64(*number),
            };
            Rndr::set_property_or_value(element, name, &value);
        }
        Kind::Event | Kind::Place => {}
    }
}

/// The text of an attribute; none where it is not there.
fn text(value: &Value) -> Option<std::borrow::Cow<'_, str>> {
    match value {
        Value::Nothing | Value::Flag(false) => None,
        Value::Flag(true) => Some("".into()),
        Value::Text(text) => Some(text.as_ref().into()),
        Value::Number(number) => Some(number.to_string().into()),
    }
}
