//! A circuit that suits the shown ask better than the one that is taken, and taking it.

use crate::page::prelude::*;

use super::desk::Desk;
use super::focus;

#[component]
pub fn Better() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = move || {
        let better = desk.better.get()?;
        let circuit = better.circuit.clone();
        let take = move |_| {
            focus::to_card();
            desk.take_circuit(&circuit);
        };
        Some(view! {
            <p class="advice better" role="note" data-circuit=better.circuit>
                {better.told}
                " "
                <button type="button" disabled=move || !desk.others_are_current.get() on:click=take>
                    "Use that circuit"
                </button>
            </p>
        })
    };
    drawn.into_node()
}
