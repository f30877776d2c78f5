//! `view!`, the page's markup: the syntax is that of Leptos, the code that it becomes calls one builder
//! (`crate::page::markup`) with names as data, so that no element, attribute or event has a type of its own.

mod component;
mod element;
mod nodes;
mod still;

use quote::quote;

/// Markup as a `Node` of the page.
#[proc_macro]
pub fn view(tokens: proc_macro::TokenStream) -> proc_macro::TokenStream {
    let parser = rstml::Parser::new(rstml::ParserConfig::default().recover_block(true));
    let (parsed, errors) = parser.parse_recoverable(tokens).split_vec();
    let errors = errors.into_iter().map(|error| error.emit_as_expr_tokens());
    let written = nodes::one(&parsed).unwrap_or_else(syn::Error::into_compile_error);
    quote!({
        #[allow(unused_braces)]
        {
            #(#errors;)*
            #written
        }
    })
    .into()
}
