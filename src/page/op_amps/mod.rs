//! The Op amps region: what each must do, held against its data sheet; the list of data sheets, rails and signal.

mod demands;
mod list;

use crate::page::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use crate::design::{Group, SignalPoint};
use demands::Demands;
use list::List;

#[component]
pub fn OpAmps() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let has_stage = desk.has_stage();
    view! {
        <Show when=move || has_stage.get()>
            <section class="op-amps" id="op-amps" aria-labelledby="op-amps-title">
                <h2 id="op-amps-title">"Op amps"</h2>
                <div class="op-amps-grid">
                    <div>
                        <h3>"Board"</h3>
                        <Fields fields=desk.group(Group::Conditions) />
                        <Signal />
                    </div>
                    <div><Demands /></div>
                </div>
                <List />
            </section>
        </Show>
    }
}

/// Where the largest signal enters, and how large it is.
#[component]
fn Signal() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let count = memo(move || desk.form.with(|form| form.signal));
    let points = move || {
        let count = count.get();
        let point = |place: usize| {
            let remove = move |_| {
                desk.edit_path(|design| {
                    design.signal.points.remove(place);
                });
            };
            let button = (count > 1).then(|| {
                let label = format!("Remove point {}", place + 1);
                view! { <button type="button" aria-label=label on:click=remove>"×"</button> }
            });
            view! {
                <li>
                    <div><Fields fields=desk.group(Group::SignalPoint(place)) /></div>
                    {button}
                </li>
            }
        };
        (0..count).map(point).collect_nodes()
    };
    let add = move |_| {
        desk.edit_path(|design| {
            let last = design.signal.points.last().copied().unwrap_or_default();
            design.signal.points.push(SignalPoint {
                frequency: 10.0 * last.frequency,
                ..last
            });
        });
    };
    let is_full = move || (count.get() >= SignalPoint::MOST).then_some("true");
    view! {
        <h3>"Largest signal"</h3>
        <Fields fields=desk.group(Group::Signal) />
        <ol class="log points">{points}</ol>
        <p class="buttons">
            <button type="button" disabled=is_full on:click=add>"Add a point"</button>
        </p>
        <p class="secondary">
            "One sine at a time; between two points along a straight line on logarithmic axes. A plant's output counts as volts at the \
             path's input."
        </p>
    }
}
