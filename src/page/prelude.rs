//! What every file of the page uses: what Leptos offers, and the page's own markup and signals.

pub use leptos::prelude::*;

pub use super::markup::{CollectNodes, Content, Node, later, view};
pub use super::signals::{Derived, Held, memo};
