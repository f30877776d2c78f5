//! The Bench region: a measured response of what was built, over the predicted one; what made it, and the repair.

mod charts;
mod intake;
mod told;

use crate::page::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use super::guide::FirstBuild;
use crate::design::{Group, Measured, TrimmerDesign};
use crate::sheet::cautions;

#[component]
pub fn Bench() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let has_stage = desk.has_stage();
    let is_loop = memo(move || desk.design.with(|design| design.bench.of.is_loop()));
    let caution = move || {
        let words = is_loop.get().then_some(cautions::LOOP);
        words.map(|words| view! { <p class="caution" role="note">{words}</p> })
    };
    let there = memo(move || desk.bench.with(Option::is_some));
    view! {
        <Show when=move || has_stage.get()>
            <section
                class="bench"
                id="bench"
                aria-labelledby="bench-title"
                aria-busy=move || (!desk.bench_is_current.get()).to_string()
            >
                <h2 id="bench-title">"Bench"</h2>
                <FirstBuild />
                {caution}
                <div class="bench-grid">
                    <div>
                        <Fields fields=desk.group(Group::Bench) />
                        <p class="secondary">
                            "Held against the parts that are in use here now. Keep the design as it was built."
                        </p>
                        <Trimmer />
                    </div>
                    <intake::Intake />
                </div>
                <Show when=move || there.get()>
                    <div class="bench-grid wide">
                        {later(|| view! { <told::Told /> }.into_node())}
                        {later(|| view! { <charts::Charts /> }.into_node())}
                    </div>
                </Show>
            </section>
        </Show>
    }
}

/// The shown stage's trimmer, where its board has one.
#[component]
fn Trimmer() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let state = memo(move || {
        let stage = desk.form.with(|form| form.stage);
        desk.design.with(|design| {
            let is_stage = matches!(design.bench.of, Measured::Stage);
            let has = design.stages.get(stage)?.trimmer.is_some();
            is_stage.then_some((stage, has))
        })
    });
    let toggle = move |_| {
        let first = desk.stage.with_untracked(|stage| {
            let resistors = stage.as_ref()?.parts.iter();
            let mut resistors = resistors.filter(|part| part.unit == crate::quantity::Unit::Ohm);
            resistors.next().map(|part| (part.name.clone(), part.value))
        });
        desk.edit_path(|design| {
            let shown = design.view.stage;
            let Some(stage) = design.stages.get_mut(shown) else {
                return;
            };
            stage.trimmer = match (&stage.trimmer, first) {
                (None, Some((part, value))) => Some(TrimmerDesign::about(&part, value)),
                _ => None,
            };
        });
    };
    move || {
        let (stage, has) = state.get()?;
        let fields = has.then(|| view! { <Fields fields=desk.group(Group::Trimmer(stage)) /> });
        Some(view! {
            {fields}
            <p class="buttons">
                <button type="button" aria-pressed=has.to_string() on:click=toggle>"The board has a trimmer"</button>
            </p>
        })
    }
}
