//! Tables of figures.

use crate::page::prelude::*;

/// Rows under heads, of which the first stands over the rows' labels and all others over numbers.
pub fn figures(heads: &[&'static str], rows: impl Content) -> Node {
    let head = |(place, text): (usize, &&'static str)| {
        view! { <th scope="col" class:number=place != 0>{*text}</th> }
    };
    let heads = heads.iter().enumerate().map(head).collect_nodes();
    view! {
        <table class="figures">
            <thead><tr>{heads}</tr></thead>
            <tbody>{rows}</tbody>
        </table>
    }
    .into_node()
}
