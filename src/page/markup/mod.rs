//! What the page is built of: one kind of node, one kind of element, attributes and events by their names.
//!
//! Views that are types of their own each weigh some kilobytes; here they are data that one piece of code draws
//! and brings up to date. [`view!`](view) writes them.

mod attribute;
mod content;
mod given;
mod node;
mod state;

pub use ::markup::view;
pub use content::{CollectNodes, Content};
pub use given::Given;
pub use node::{Node, component, drawn, element, still, words};

use leptos::prelude::Effect;

use super::signals::{Held, memo};

/// Builds `children` in a task of their own, once all is done that was begun before: what stands above is drawn first.
pub fn later(children: impl Fn() -> Node + Send + Sync + 'static) -> Node {
    let is_due = Held::new(false);
    Effect::new(move || is_due.set(true));
    show(move || is_due.get(), children, || Node::Nothing)
}

/// Draws `children` anew whenever `when` becomes true, and `other` whenever it becomes false.
pub fn show(
    when: impl Fn() -> bool + Send + Sync + 'static,
    children: impl Fn() -> Node + Send + Sync + 'static,
    other: impl Fn() -> Node + Send + Sync + 'static,
) -> Node {
    shown(Box::new(when), Box::new(children), Box::new(other))
}

type Condition = Box<dyn Fn() -> bool + Send + Sync>;
type Children = Box<dyn Fn() -> Node + Send + Sync>;

fn shown(when: Condition, children: Children, other: Children) -> Node {
    let is_shown = memo(when);
    let drawn = move || match is_shown.get() {
        true => children(),
        false => other(),
    };
    drawn.into_node()
}
