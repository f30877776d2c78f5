//! The Loop region: the plant as it was measured, its model, and the loop with these very stages in it.

mod boards;
mod curves;
mod figures;
mod help;
mod intake;
mod model;
pub(super) mod motion;
mod shaft;
mod supply;
mod whole;

use crate::page::prelude::*;

use super::begin::EmptiedPath;
use super::desk::Desk;
use super::field::Fields;
use crate::design::Group;
use crate::sheet::cautions;

/// The region; without a plant only the place to put one.
#[component]
pub fn Loop() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let has_plant = memo(move || desk.form.with(|form| form.plant.is_there()));
    let asked = move || {
        has_plant
            .get()
            .then(|| view! { <Fields fields=desk.group(Group::Loop) /> })
    };
    view! {
        <section class="loop" id="loop" aria-labelledby="loop-title">
            <h2 id="loop-title">"Loop"</h2>
            {later(|| view! { <intake::Intake /> }.into_node())}
            <EmptiedPath />
            <Show when=move || has_plant.get()>
                <figures::Verdict />
                <p class="caution" role="note">{cautions::LOOP}</p>
                <div class="loop-grid">
                    <div class="loop-results">
                        {later(|| view! { <figures::Margins /> }.into_node())}
                        <h3>"Loop limits"</h3>
                        {asked}
                        {later(|| view! { <figures::Budget /> }.into_node())}
                    </div>
                    {later(|| view! { <curves::LoopCurves /> }.into_node())}
                </div>
                {later(|| view! { <help::Help /> }.into_node())}
                {later(|| view! { <motion::InTime /> }.into_node())}
                {later(|| view! { <boards::Boards /> }.into_node())}
                {later(|| view! { <model::Model /> }.into_node())}
                {later(|| view! { <supply::SupplyLines /> }.into_node())}
            </Show>
            {later(|| view! { <shaft::ShaftCheck /> }.into_node())}
        </section>
    }
}
