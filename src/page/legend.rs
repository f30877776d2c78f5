//! What the pens of charts mean.

use crate::page::prelude::*;

use crate::plots::{Pen, Sign};

/// A list of signs, each with its words: those that a saved picture has, too.
pub fn legend(signs: &[(Sign, &'static str)]) -> Node {
    let sign = |sign: Sign| match sign {
        Sign::Line(pen) => {
            let class = match pen {
                Pen::Asked => "line",
                Pen::Ideal => "line ideal",
                Pen::Real => "line real",
                Pen::Guide => "line guide",
                Pen::Copy => "line copy",
            };
            view! { <span class=class></span> }.into_node()
        }
        Sign::Point => view! { <span class="dot"></span> }.into_node(),
        Sign::Dot => view! { <span class="dot filled"></span> }.into_node(),
        Sign::Band => {
            view! { <span class="band"></span><span class="band inner"></span> }.into_node()
        }
    };
    let one = |(of, words): &(Sign, &'static str)| view! { <li>{sign(*of)}{*words}</li> };
    let all = signs.iter().map(one).collect_nodes();
    view! { <ul class="legend">{all}</ul> }.into_node()
}
