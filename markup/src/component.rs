//! A component: Leptos's own, called as its own macro would call it.

use proc_macro2::TokenStream;
use quote::quote;
use rstml::Infallible;
use rstml::node::{KeyedAttribute, NodeAttribute, NodeElement, NodeName};
use syn::spanned::Spanned;
use syn::{Error, Result};

use crate::nodes;

/// Components are named in capitals, behind the modules that they stand in.
pub fn is_one(element: &NodeElement<Infallible>) -> bool {
    match element.name() {
        NodeName::Path(path) => path.path.segments.last().is_some_and(|last| {
            let name = last.ident.to_string();
            name.starts_with(|first: char| first.is_uppercase())
        }),
        _ => false,
    }
}

pub fn written(element: &NodeElement<Infallible>) -> Result<TokenStream> {
    let name = element.name();
    let mut given: Vec<&KeyedAttribute> = Vec::new();
    for attribute in element.attributes() {
        match attribute {
            NodeAttribute::Attribute(keyed) => given.push(keyed),
            NodeAttribute::Block(block) => {
                return Err(Error::new(block.span(), "a component is given by name"));
            }
        }
    }
    let children = (!element.children.is_empty()).then(|| nodes::one(&element.children));
    let children = children.transpose()?;
    if name.to_string() == "Show" {
        return Ok(shown(&given, &children));
    }
    let given = given.into_iter().map(property);
    let children = children.map(|children| {
        quote!(.children(::leptos::children::ToChildren::to_children(move || #children)))
    });
    Ok(quote!(crate::page::markup::component(
        ::leptos::component::component_view(
            &#name,
            ::leptos::component::component_props_builder(&#name)
                #(#given)*
                #children
                .build()
        )
    )))
}

/// What is drawn under a condition, and in its place where that does not hold.
fn shown(given: &[&KeyedAttribute], children: &Option<TokenStream>) -> TokenStream {
    let of = |name: &str| {
        let own = given.iter().find(|keyed| keyed.key.to_string() == name);
        own.and_then(|keyed| keyed.value())
    };
    let when = of("when");
    let other = match of("fallback") {
        Some(other) => quote!(#other),
        None => quote!(|| crate::page::markup::Node::Nothing),
    };
    quote!(crate::page::markup::show(#when, move || #children, #other))
}

/// A name by itself is a variable of that name.
fn property(keyed: &KeyedAttribute) -> TokenStream {
    let key = &keyed.key;
    match keyed.value() {
        Some(value) => quote!(.#key(#value)),
        None => quote!(.#key(#key)),
    }
}
