//! What stands between two tags.

use proc_macro2::TokenStream;
use quote::quote;
use rstml::node::Node;
use syn::Result;

use crate::{component, element};

/// All of them as one node.
pub fn one(nodes: &[Node]) -> Result<TokenStream> {
    let mut all = each(nodes)?;
    Ok(match all.len() {
        1 => all.remove(0),
        _ => quote!(crate::page::markup::Node::List(vec![#(#all),*])),
    })
}

/// Each of them; comments are left out.
fn each(nodes: &[Node]) -> Result<Vec<TokenStream>> {
    let written = nodes.iter().map(written);
    let written: Vec<Option<TokenStream>> = written.collect::<Result<_>>()?;
    Ok(written.into_iter().flatten().collect())
}

/// One of them; none where it is a comment.
pub fn written(node: &Node) -> Result<Option<TokenStream>> {
    Ok(Some(match node {
        Node::Comment(_) | Node::Doctype(_) | Node::Custom(_) => return Ok(None),
        Node::Fragment(fragment) => one(&fragment.children)?,
        Node::Text(text) => {
            let text = &text.value;
            quote!(crate::page::markup::words(#text))
        }
        Node::RawText(text) => {
            let text = text.to_string_best();
            quote!(crate::page::markup::words(#text))
        }
        Node::Block(block) => quote!(crate::page::markup::Content::into_node(#block)),
        Node::Element(element) if component::is_one(element) => component::written(element)?,
        Node::Element(element) => element::written(element)?,
    }))
}
