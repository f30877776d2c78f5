//! An element: its tag, its attributes, what it holds.

use proc_macro2::TokenStream;
use quote::{format_ident, quote};
use rstml::Infallible;
use rstml::node::{KeyedAttribute, Node, NodeAttribute, NodeElement};
use syn::spanned::Spanned;
use syn::{Error, Expr, ExprLit, Lit, Result};

use crate::{component, nodes, still};

/// Elements that are pictures.
pub const DRAWN: [&str; 8] = [
    "circle", "g", "line", "path", "polyline", "rect", "svg", "text",
];
/// Elements that hold nothing and have no closing tag.
pub const EMPTY: [&str; 6] = ["br", "col", "hr", "img", "input", "wbr"];

pub fn written(element: &NodeElement<Infallible>) -> Result<TokenStream> {
    Ok(match still::text(element) {
        Some(text) => quote!(crate::page::markup::still(#text)),
        None => {
            let begun = begun(element)?;
            quote!(#begun.done())
        }
    })
}

/// An element as the builder has it.
fn begun(element: &NodeElement<Infallible>) -> Result<TokenStream> {
    let tag = element.name().to_string();
    let begun = if DRAWN.contains(&tag.as_str()) {
        quote!(crate::page::markup::drawn(#tag))
    } else {
        quote!(crate::page::markup::element(#tag))
    };
    let mut attributes: Vec<&KeyedAttribute> = Vec::new();
    for attribute in element.attributes() {
        match attribute {
            NodeAttribute::Attribute(keyed) => attributes.push(keyed),
            NodeAttribute::Block(block) => {
                let words = "an element takes attributes by name only";
                return Err(Error::new(block.span(), words));
            }
        }
    }
    // The whole class comes before single ones, which it would undo.
    attributes.sort_by_key(|keyed| keyed.key.to_string() != "class");
    let attributes: Vec<TokenStream> = attributes
        .into_iter()
        .map(attribute)
        .collect::<Result<_>>()?;
    let mut children = Vec::new();
    for child in &element.children {
        children.push(self::child(child)?);
    }
    Ok(quote!(#begun #(#attributes)* #(#children)*))
}

/// A child, in the fewest words for its kind.
fn child(node: &Node) -> Result<Option<TokenStream>> {
    Ok(match node {
        Node::Text(text) => {
            let text = &text.value;
            Some(quote!(.words(#text)))
        }
        Node::Element(inner) if !component::is_one(inner) => Some(match still::text(inner) {
            Some(text) => quote!(.still(#text)),
            None => {
                let begun = begun(inner)?;
                quote!(.element(#begun))
            }
        }),
        node => nodes::written(node)?.map(|node| quote!(.child(#node))),
    })
}

fn attribute(keyed: &KeyedAttribute) -> Result<TokenStream> {
    let key = keyed.key.to_string();
    let value = keyed.value();
    let given = || match value {
        Some(value) => quote!(#value),
        None => quote!(true),
    };
    if let Some(event) = key.strip_prefix("on:") {
        let event = format_ident!("{event}", span = keyed.key.span());
        let handler = given();
        return Ok(quote!(.on(::leptos::ev::#event, #handler)));
    }
    let (method, name) = if let Some(name) = key.strip_prefix("class:") {
        ("class", name)
    } else if let Some(name) = key.strip_prefix("style:") {
        ("style", name)
    } else if let Some(name) = key.strip_prefix("prop:") {
        ("property", name)
    } else if key == "node_ref" {
        let place = given();
        return Ok(quote!(.node_ref(#place)));
    } else {
        ("attribute", key.as_str())
    };
    let method = format_ident!("{method}");
    if let Some(Expr::Lit(ExprLit {
        lit: Lit::Str(text),
        ..
    })) = value
        && method == "attribute"
    {
        return Ok(quote!(.fixed(#name, #text)));
    }
    let value = given();
    Ok(quote!(.#method(#name, crate::page::markup::Given::given(#value))))
}
