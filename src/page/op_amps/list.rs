//! Data sheets of op amps, and which stage has which.

use crate::page::prelude::*;

use crate::design::{Group, MOST_OP_AMPS};
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::parts::CLASSES;

#[component]
pub fn List() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let names = memo(move || desk.form.with(|form| form.op_amps.clone()));
    let count = memo(move || names.with(Vec::len));
    let own = move || {
        (0..count.get())
            .map(|place| view! { <Own place /> })
            .collect_nodes()
    };
    let stages = move || {
        let circuits = desk.form.with(|form| form.circuits.len());
        let names = names.get();
        if names.is_empty() {
            return Node::Nothing;
        }
        let stage =
            |index: usize| view! { <Fields fields=desk.group(Group::StageOpAmps(index)) /> };
        let fields = (0..circuits).map(stage).collect_nodes();
        view! { <div class="place"><h3>"Which stage has which"</h3>{fields}</div> }.into_node()
    };
    let options = CLASSES
        .iter()
        .map(|class| view! { <option value=class.name>{class.name}</option> })
        .collect_nodes();
    let add = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        if let Some(class) = CLASSES.iter().find(|class| class.name == name) {
            desk.edit_path(|design| design.add_op_amp(class));
        }
        // Ready for the next one.
        if let Some(select) = event.target() {
            let _ = js_sys::Reflect::set(&select, &"value".into(), &"".into());
        }
    };
    let is_full = move || (count.get() >= MOST_OP_AMPS).then_some("true");
    view! {
        <details class="data-sheets">
            <summary>"Data sheets: limits, offset and noise of the usual op amp, and other op amps"</summary>
            <div class="places">
                <div class="place">
                    <h3>"Usual op amp"</h3>
                    <Fields fields=desk.group(Group::OpAmpData) />
                    <p class="secondary">"Gain-bandwidth, open-loop gain and output resistance stand in Requirement."</p>
                </div>
                {own}
                {stages}
            </div>
            <p class="adding">
                <label for="add-op-amp">"Add an op amp of the class"</label>
                <select id="add-op-amp" disabled=is_full on:change=add>
                    <option value="">"choose …"</option>
                    {options}
                </select>
            </p>
            <p class="secondary">
                "Classes are generic: round figures, common practice, of no product. Write those of your data sheet over them: the worst \
                 over temperature, not the typical ones."
            </p>
        </details>
    }
}

/// An op amp of the list.
#[component]
fn Own(place: usize) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let remove = move |_| desk.edit_path(|design| design.remove_op_amp(place));
    view! {
        <div class="place">
            <h3>{format!("Op amp {}", place + 1)}</h3>
            <Fields fields=desk.group(Group::OwnOpAmp(place)) />
            <p class="buttons">
                <button type="button" aria-label=format!("Remove op amp {}", place + 1) on:click=remove>"×"</button>
            </p>
        </div>
    }
}
