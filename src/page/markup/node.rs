//! Nodes as they are wanted: what `view!` writes.

use std::borrow::Cow;

use leptos::ev::EventDescriptor;
use leptos::html::ElementType;
use leptos::prelude::{AnyView, IntoAny, IntoView, Owner};
use leptos::tachys::html::node_ref::NodeRefContainer;
use wasm_bindgen::JsValue;
use web_sys::Event;

use super::attribute::{Attribute, Kind, Wanted};
use super::given::Source;

/// A piece of the page.
pub enum Node {
    Nothing,
    Text(Cow<'static, str>),
    Element(Element),
    /// An element that never changes, with all that it holds, as text.
    Still(&'static str),
    List(Vec<Node>),
    /// Written anew whenever what it reads changes.
    Live(Box<dyn FnMut() -> Node + Send>),
    /// What Leptos has built.
    Other(AnyView),
}

/// An element with its attributes and what it holds.
pub struct Element(pub(super) Box<Parts>);

pub(super) struct Parts {
    pub tag: &'static str,
    /// Whether it belongs to a picture (SVG).
    pub is_drawn: bool,
    pub attributes: Vec<Attribute>,
    pub children: Vec<Node>,
}

/// An element of the page's text.
pub fn element(tag: &'static str) -> Element {
    begun(tag, false)
}

/// An element of a picture.
pub fn drawn(tag: &'static str) -> Element {
    begun(tag, true)
}

fn begun(tag: &'static str, is_drawn: bool) -> Element {
    Element(Box::new(Parts {
        tag,
        is_drawn,
        attributes: Vec::new(),
        children: Vec::new(),
    }))
}

/// A text that never changes.
pub fn words(text: &'static str) -> Node {
    Node::Text(Cow::Borrowed(text))
}

/// An element that never changes.
pub fn still(text: &'static str) -> Node {
    Node::Still(text)
}

/// What a component has built.
pub fn component(view: impl IntoView + 'static) -> Node {
    Node::Other(view.into_any())
}

impl Element {
    pub fn child(mut self, child: Node) -> Element {
        self.0.children.push(child);
        self
    }

    pub fn words(self, text: &'static str) -> Element {
        self.child(words(text))
    }

    pub fn still(self, text: &'static str) -> Element {
        self.child(Node::Still(text))
    }

    pub fn element(self, inner: Element) -> Element {
        self.child(Node::Element(inner))
    }

    pub fn done(self) -> Node {
        Node::Element(self)
    }

    /// An attribute that never changes.
    pub fn fixed(self, name: &'static str, text: &'static str) -> Element {
        let text = Source::Fixed(super::given::Value::Text(Cow::Borrowed(text)));
        self.attribute(name, text)
    }

    pub fn attribute(self, name: &'static str, source: Source) -> Element {
        self.with(Kind::Attribute, name, Wanted::Value(source))
    }

    /// A single class that is there or not.
    pub fn class(self, name: &'static str, source: Source) -> Element {
        self.with(Kind::Class, name, Wanted::Value(source))
    }

    /// A property of the style, also one of the page's own.
    pub fn style(self, name: &'static str, source: Source) -> Element {
        self.with(Kind::Style, name, Wanted::Value(source))
    }

    /// A property of the element as scripts see it.
    pub fn property(self, name: &'static str, source: Source) -> Element {
        self.with(Kind::Property, name, Wanted::Value(source))
    }

    pub fn on<E>(self, event: E, mut handler: impl FnMut(E::EventType) + Send + 'static) -> Element
    where
        E: EventDescriptor,
        E::EventType: From<JsValue>,
    {
        let handler = move |event: Event| handler(E::EventType::from(event.into()));
        self.hears(event.name(), Box::new(handler))
    }

    fn hears(self, name: Cow<'static, str>, mut handler: Box<dyn FnMut(Event) + Send>) -> Element {
        // What a handler looks for in its context is where the element was written.
        let owner = Owner::current().unwrap_or_default();
        let owned = move |event| owner.with(|| handler(event));
        let Cow::Borrowed(name) = name else {
            return self;
        };
        self.with(Kind::Event, name, Wanted::Handler(Box::new(owned)))
    }

    /// Puts the element itself there.
    pub fn node_ref<E, C>(self, place: C) -> Element
    where
        E: ElementType,
        C: NodeRefContainer<E>,
    {
        let put = move |element: &web_sys::Element| place.load(element);
        self.with(Kind::Place, "", Wanted::Place(Box::new(put)))
    }

    fn with(mut self, kind: Kind, name: &'static str, wanted: Wanted) -> Element {
        let attribute = Attribute { kind, name, wanted };
        self.0.attributes.push(attribute);
        self
    }
}
