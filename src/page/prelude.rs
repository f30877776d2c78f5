//! What every file of the page uses: signals and components of Leptos, and the page's own markup.

pub use leptos::prelude::*;

pub use super::markup::{CollectNodes, Content, Node, memo, view};
