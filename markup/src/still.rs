//! Markup that never changes: written as text here, and drawn by the browser from that.

use rstml::Infallible;
use rstml::node::{KeyedAttribute, Node, NodeAttribute, NodeElement};
use syn::{Expr, ExprLit, Lit};

use crate::component;
use crate::element::{DRAWN, EMPTY};

/// An element with all that it holds as text, if nothing of it ever changes.
pub fn text(element: &NodeElement<Infallible>) -> Option<String> {
    let tag = element.name().to_string();
    if component::is_one(element) || DRAWN.contains(&tag.as_str()) {
        return None;
    }
    let mut text = format!("<{tag}");
    for attribute in element.attributes() {
        let NodeAttribute::Attribute(keyed) = attribute else {
            return None;
        };
        text.push_str(&self::attribute(keyed)?);
    }
    text.push('>');
    if EMPTY.contains(&tag.as_str()) {
        return element.children.is_empty().then_some(text);
    }
    for child in &element.children {
        match child {
            Node::Comment(_) => {}
            Node::Text(words) => text.push_str(&escaped(&words.value.value())),
            Node::Element(inner) => text.push_str(&self::text(inner)?),
            _ => return None,
        }
    }
    Some(format!("{text}</{tag}>"))
}

fn attribute(keyed: &KeyedAttribute) -> Option<String> {
    let name = keyed.key.to_string();
    if name.contains(':') || name == "node_ref" {
        return None;
    }
    match keyed.value() {
        None => Some(format!(" {name}")),
        Some(Expr::Lit(ExprLit {
            lit: Lit::Str(value),
            ..
        })) => Some(format!(" {name}=\"{}\"", escaped(&value.value()))),
        Some(_) => None,
    }
}

fn escaped(text: &str) -> String {
    let text = text.replace('&', "&amp;").replace('<', "&lt;");
    text.replace('>', "&gt;").replace('"', "&quot;")
}
