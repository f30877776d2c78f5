//! Nodes as they stand in the document: built, put in their place, brought up to date.

use std::borrow::Cow;

use leptos::prelude::{AddAnyAttr, AnyView, Render, RenderEffect, RenderHtml};
use leptos::tachys::html::attribute::Attribute as AnyAttribute;
use leptos::tachys::html::attribute::any_attribute::AnyAttribute as Extra;
use leptos::tachys::hydration::Cursor;
use leptos::tachys::renderer::Rndr;
use leptos::tachys::view::{Mountable, Position, PositionState};
use web_sys::{Comment, Element, Text};

use super::attribute::Held;
use super::node::{Node, Parts};

/// Where pictures' elements belong.
const SVG: &str = "http://www.w3.org/2000/svg";

/// A node in the document.
pub enum State {
    Nothing(Comment),
    Text(Text, Cow<'static, str>),
    Element(Box<Built>),
    Still(Element, &'static str),
    /// With what stands behind the last one.
    List(Vec<State>, Comment),
    Live(Live),
    Other(<AnyView as Render>::State),
}

pub struct Built {
    element: Element,
    tag: &'static str,
    attributes: Vec<Held>,
    children: Vec<State>,
}

/// A node that is written anew whenever what it reads changes.
pub struct Live(Option<RenderEffect<State>>);

impl Drop for Live {
    fn drop(&mut self) {
        if let Some(effect) = self.0.take() {
            drop(effect.take_value());
        }
    }
}

impl Render for Node {
    type State = State;

    fn build(self) -> State {
        match self {
            Node::Nothing => State::Nothing(Rndr::create_placeholder()),
            Node::Text(text) => State::Text(Rndr::create_text_node(&text), text),
            Node::Element(element) => State::Element(Box::new(built(*element.0))),
            Node::Still(text) => State::Still(Rndr::create_element_from_html(text.into()), text),
            Node::List(nodes) => {
                let states = nodes.into_iter().map(Node::build).collect();
                State::List(states, Rndr::create_placeholder())
            }
            Node::Live(mut write) => {
                let effect = RenderEffect::new(move |before: Option<State>| {
                    let node = write();
                    match before {
                        Some(mut state) => {
                            node.rebuild(&mut state);
                            state
                        }
                        None => node.build(),
                    }
                });
                State::Live(Live(Some(effect)))
            }
            Node::Other(view) => State::Other(view.build()),
        }
    }

    fn rebuild(self, state: &mut State) {
        match (self, state) {
            (Node::Nothing, State::Nothing(_)) => {}
            (Node::Text(text), State::Text(node, before)) => {
                if text != *before {
                    Rndr::set_text(node, &text);
                    *before = text;
                }
            }
            (Node::Element(wanted), State::Element(built)) if is_alike(&wanted.0, built) => {
                let element = &built.element;
                for (wanted, held) in wanted.0.attributes.into_iter().zip(&mut built.attributes) {
                    wanted.rebuild(element, held);
                }
                for (wanted, state) in wanted.0.children.into_iter().zip(&mut built.children) {
                    wanted.rebuild(state);
                }
            }
            (Node::Still(text), State::Still(_, before)) if text == *before => {}
            (Node::List(nodes), State::List(states, end)) => rebuild_list(nodes, states, end),
            (Node::Other(view), State::Other(state)) => view.rebuild(state),
            (wanted, state) => {
                let mut before = std::mem::replace(state, wanted.build());
                before.insert_before_this(state);
                before.unmount();
            }
        }
    }
}

/// Whether an element can be brought up to date: it has the same attributes and as many children.
fn is_alike(wanted: &Parts, built: &Built) -> bool {
    wanted.tag == built.tag
        && wanted.attributes.len() == built.attributes.len()
        && wanted.children.len() == built.children.len()
        && (wanted.attributes.iter().zip(&built.attributes))
            .all(|(wanted, held)| wanted.kind == held.kind && wanted.name == held.name)
}

fn built(parts: Parts) -> Built {
    let element = Rndr::create_element(parts.tag, parts.is_drawn.then_some(SVG));
    let attributes = parts.attributes.into_iter();
    let attributes = attributes.map(|wanted| wanted.build(&element)).collect();
    let children = parts.children.into_iter().map(|child| {
        let mut state = child.build();
        state.mount(&element, None);
        state
    });
    let children = children.collect();
    Built {
        element,
        tag: parts.tag,
        attributes,
        children,
    }
}

fn rebuild_list(nodes: Vec<Node>, states: &mut Vec<State>, end: &Comment) {
    let wanted = nodes.len();
    for (place, node) in nodes.into_iter().enumerate() {
        match states.get_mut(place) {
            Some(state) => node.rebuild(state),
            None => {
                let mut state = node.build();
                Rndr::try_mount_before(&mut state, end);
                states.push(state);
            }
        }
    }
    for state in states.iter_mut().skip(wanted) {
        state.unmount();
    }
    states.truncate(wanted);
}

impl Mountable for State {
    fn unmount(&mut self) {
        match self {
            State::Nothing(node) => Rndr::remove(node),
            State::Text(node, _) => Rndr::remove(node),
            State::Element(built) => Rndr::remove(&built.element),
            State::Still(element, _) => Rndr::remove(element),
            State::List(states, end) => {
                states.iter_mut().for_each(State::unmount);
                Rndr::remove(end);
            }
            State::Live(live) => {
                if let Some(effect) = &mut live.0 {
                    effect.unmount();
                }
            }
            State::Other(state) => state.unmount(),
        }
    }

    fn mount(&mut self, parent: &Element, before: Option<&web_sys::Node>) {
        match self {
            State::Nothing(node) => Rndr::insert_node(parent, node, before),
            State::Text(node, _) => Rndr::insert_node(parent, node, before),
            State::Element(built) => Rndr::insert_node(parent, &built.element, before),
            State::Still(element, _) => Rndr::insert_node(parent, element, before),
            State::List(states, end) => {
                for state in states {
                    state.mount(parent, before);
                }
                Rndr::insert_node(parent, end, before);
            }
            State::Live(live) => {
                if let Some(effect) = &mut live.0 {
                    effect.mount(parent, before);
                }
            }
            State::Other(state) => state.mount(parent, before),
        }
    }

    fn insert_before_this(&self, child: &mut dyn Mountable) -> bool {
        match self {
            State::Nothing(node) => node.insert_before_this(child),
            State::Text(node, _) => node.insert_before_this(child),
            State::Element(built) => built.element.insert_before_this(child),
            State::Still(element, _) => element.insert_before_this(child),
            State::List(states, end) => {
                let first = states.iter().any(|state| state.insert_before_this(child));
                first || end.insert_before_this(child)
            }
            State::Live(Live(effect)) => {
                (effect.as_ref()).is_some_and(|effect| effect.insert_before_this(child))
            }
            State::Other(state) => state.insert_before_this(child),
        }
    }

    fn elements(&self) -> Vec<Element> {
        match self {
            State::Nothing(_) | State::Text(..) => Vec::new(),
            State::Element(built) => vec![built.element.clone()],
            State::Still(element, _) => vec![element.clone()],
            State::List(states, _) => states.iter().flat_map(State::elements).collect(),
            State::Live(Live(effect)) => effect.as_ref().map_or(Vec::new(), Mountable::elements),
            State::Other(state) => state.elements(),
        }
    }
}

impl AddAnyAttr for Node {
    type Output<A: AnyAttribute> = Node;

    /// Attributes are written where the element is.
    fn add_any_attr<A: AnyAttribute>(self, _: A) -> Node {
        self
    }
}

/// The page is drawn in the browser only: nothing of it is written as text, and nothing is taken over.
impl RenderHtml for Node {
    type AsyncOutput = Node;
    type Owned = Node;

    const MIN_LENGTH: usize = 0;

    fn dry_resolve(&mut self) {}

    async fn resolve(self) -> Node {
        self
    }

    fn to_html_with_buf(self, _: &mut String, _: &mut Position, _: bool, _: bool, _: Vec<Extra>) {}

    fn hydrate<const FROM_SERVER: bool>(self, _: &Cursor, _: &PositionState) -> State {
        self.build()
    }

    fn into_owned(self) -> Node {
        self
    }
}
