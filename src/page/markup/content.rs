//! What may stand between two tags.

use std::borrow::Cow;

use leptos::prelude::AnyView;

use super::node::{Element, Node};
use crate::page::signals::{Derived, Held};

/// What can be drawn.
pub trait Content: Sized {
    fn into_node(self) -> Node;
}

impl Content for Node {
    fn into_node(self) -> Node {
        self
    }
}

impl Content for Element {
    fn into_node(self) -> Node {
        Node::Element(self)
    }
}

impl Content for AnyView {
    fn into_node(self) -> Node {
        Node::Other(self)
    }
}

impl<T: Content> Content for Option<T> {
    fn into_node(self) -> Node {
        self.map_or(Node::Nothing, T::into_node)
    }
}

impl<T: Content> Content for Vec<T> {
    fn into_node(self) -> Node {
        self.into_iter().collect_nodes()
    }
}

impl<F, T> Content for F
where
    F: FnMut() -> T + Send + 'static,
    T: Content,
{
    fn into_node(mut self) -> Node {
        Node::Live(Box::new(move || self().into_node()))
    }
}

impl Content for String {
    fn into_node(self) -> Node {
        Node::Text(Cow::Owned(self))
    }
}

impl Content for &str {
    fn into_node(self) -> Node {
        self.to_owned().into_node()
    }
}

macro_rules! numbers {
    ($($number:ty),*) => {$(
        impl Content for $number {
            fn into_node(self) -> Node {
                self.to_string().into_node()
            }
        }
    )*};
}

numbers!(i32, u32, usize);

macro_rules! signals {
    ($($signal:ident),*) => {$(
        impl<T> Content for $signal<T>
        where
            T: Content + Clone + PartialEq + Send + Sync + 'static,
        {
            fn into_node(self) -> Node {
                (move || self.get()).into_node()
            }
        }
    )*};
}

signals!(Derived, Held);

/// Several in a row.
pub trait CollectNodes {
    fn collect_nodes(self) -> Node;
}

impl<I> CollectNodes for I
where
    I: IntoIterator,
    I::Item: Content,
{
    fn collect_nodes(self) -> Node {
        let mut nodes = Vec::new();
        for item in self {
            nodes.push(item.into_node());
        }
        Node::List(nodes)
    }
}
