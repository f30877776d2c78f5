//! A filter asked as a whole: its fields, what it takes, and putting its stages in the path.

use crate::page::prelude::*;

use super::desk::Desk;
use super::field::Fields;
use super::fragment;
use crate::design::{Design, FilterPlan, Group, StageDesign};
use crate::quantity::{Unit, rounded};
use crate::stages::catalogued;

/// What is shown of a filter, or why it cannot be had.
type Planned = Result<(FilterPlan, Vec<StageDesign>), String>;

fn planned(design: &Design) -> Planned {
    let plan = design.filter.plan()?;
    let stages = plan.stages(&design.shelf, &design.op_amp)?;
    Ok((plan, stages))
}

#[component]
pub fn Filter() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let open = Held::new(false);
    let band = memo(move || desk.design.with(|design| design.filter.band));
    // Worked out only while somebody looks at it.
    let plan: Derived<Option<Planned>> =
        memo(move || open.get().then(|| desk.design.with(planned)));
    let fields = move || {
        band.with(|_| ());
        view! { <Fields fields=desk.group(Group::Filter) /> }
    };
    let put = move |whole: bool| {
        let Some(Ok((_, stages))) = plan.get_untracked() else {
            return;
        };
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
        Some(match plan.get()? {
            Err(sentence) => view! { <p class="problem" role="alert">{sentence}</p> }.into_node(),
            Ok((plan, stages)) => {
                let count = stages.len();
                let put_words = move || match has_stage.get() {
                    true => format!("Put {count} after the shown stage"),
                    false => format!("Put {count} in the path"),
                };
                let rows = stages.iter().map(row).collect_nodes();
                view! {
                    <p class="filter-order" data-figure="filter-order" data-value=plan.designed.order.to_string()>
                        {plan.told()}
                    </p>
                    <ol class="sections">{rows}</ol>
                    <p class="buttons">
                        <button type="button" on:click=move |_| put(false)>{put_words}</button>
                        <Show when=move || has_stage.get()>
                            <button type="button" on:click=move |_| put(true)>"Replace the path by them"</button>
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

fn row(stage: &StageDesign) -> impl Content + use<> {
    let title = catalogued(&stage.circuit).map_or("", |circuit| circuit.title());
    let figures = stage.ask.asked().figures();
    let wanted = figures.iter().filter_map(|figure| {
        let value = rounded(figure.wanted?, figure.unit, 4);
        Some(match figure.unit {
            Unit::One => format!("{} {value}", figure.label),
            _ => value,
        })
    });
    let wanted: Vec<String> = wanted.collect();
    view! { <li><strong>{title}</strong>" "<span class="asked">{wanted.join(" · ")}</span></li> }
}
