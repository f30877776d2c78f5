//! A filter asked as a whole: its fields, what it takes, and putting its stages in the path.

use crate::page::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use super::fragment;
use crate::design::{Design, Group};
use crate::outcome::FilterStage;

#[component]
pub fn Filter() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let open = Held::new(false);
    let band = memo(move || desk.design.with(|design| design.filter.band));
    // What is shown of the filter before is not put in the path.
    let is_current = memo(move || {
        let filter = desk.filter.get();
        filter.is_some_and(|filter| desk.design.with(|design| design.filter == filter.of))
    });
    let fields = move || {
        band.with(|_| ());
        view! { <Fields fields=desk.group(Group::Filter) /> }
    };
    let put = move |whole: bool| {
        let Some(filter) = desk.filter.get_untracked() else {
            return;
        };
        let stages = filter.path();
        let edit = |design: &mut Design| {
            let place = if whole {
                design.stages.clear();
                0
            } else {
                (design.view.stage + 1).min(design.stages.len())
            };
            design.stages.splice(place..place, stages);
            design.view.stage = place;
        };
        if whole {
            fragment::step(desk, || desk.edit_path(edit));
        } else {
            desk.edit_path(edit);
        }
    };
    let has_stage = desk.has_stage();
    let told = move || {
        let filter = open.get().then(|| desk.filter.get())??;
        Some(match filter.order {
            None => {
                let told = filter.told.clone();
                view! { <p class="problem" role="alert">{told}</p> }.into_node()
            }
            Some(order) => {
                let count = filter.stages.len();
                let put_words = move || match has_stage.get() {
                    true => format!("Put {count} after the shown stage"),
                    false => format!("Put {count} in the path"),
                };
                let rows = filter.stages.iter().map(row).collect_nodes();
                view! {
                    <p class="filter-order" data-figure="filter-order" data-value=order.to_string()>
                        {filter.told.clone()}
                    </p>
                    <ol class="sections">{rows}</ol>
                    <p class="buttons">
                        <button type="button" disabled=move || !is_current.get() on:click=move |_| put(false)>{put_words}</button>
                        <Show when=move || has_stage.get()>
                            <button type="button" disabled=move || !is_current.get() on:click=move |_| put(true)>"Replace the path by them"</button>
                        </Show>
                    </p>
                }
                .into_node()
            }
        })
    };
    view! {
        <details class="filter" on:toggle=move |_| open.update(|open| *open = !*open)>
            <summary>"Filter of several stages"</summary>
            <div class="filter-grid">
                <div class="filter-fields">{fields}</div>
                <div>{told}</div>
            </div>
        </details>
    }
}

fn row(stage: &FilterStage) -> impl Content + use<> {
    let (title, wanted) = (stage.title.clone(), stage.wanted.join(" · "));
    view! { <li><strong>{title}</strong>" "<span class="asked">{wanted}</span></li> }
}
