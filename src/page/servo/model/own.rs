//! A model that is used as it stands.

use crate::page::prelude::*;

use crate::design::Group;
use crate::page::desk::Desk;
use crate::page::field::{Fields, Input};
use crate::plant::Start;

/// A model that is used as it stands, every number an entry.
#[component]
pub(super) fn OwnModel() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let form = memo(move || desk.form.with(|form| form.plant.clone()));
    let modes = move || {
        let count = form.with(|form| form.modes.unwrap_or(0));
        (0..count)
            .map(|index| {
                let fields = desk
                    .group(Group::Mode(index))
                    .into_iter()
                    .map(|field| view! { <td><Input field /></td> })
                    .collect_nodes();
                let remove = move |_| {
                    desk.edit_plant(|servo| {
                        if let Some(model) = &mut servo.model {
                            model.modes.remove(index);
                        }
                    });
                };
                view! {
                    <tr>
                        {fields}
                        <td><button type="button" aria-label=format!("Remove mode {}", index + 1) on:click=remove>"×"</button></td>
                    </tr>
                }
            })
            .collect_nodes()
    };
    let rigid = move || {
        form.with(|_| ());
        view! { <Fields fields=desk.group(Group::Rigid) /> }
    };
    let add = move |_| {
        desk.edit_plant(|servo| {
            if let Some(model) = &mut servo.model {
                model.add_mode();
            }
        });
    };
    let change_rigid = move |_| {
        desk.edit_plant(|servo| {
            if let Some(model) = &mut servo.model {
                model.toggle_rigid()
            }
        })
    };
    let refit = move |_| {
        desk.edit_plant(|servo| {
            if let Some(model) = servo.model.take() {
                servo.fit.start = Some(Start::of(model));
            }
        });
    };
    view! {
        <div class="scroll"><table class="modes own"><tbody>{modes}</tbody></table></div>
        <div class="row">{rigid}</div>
        <p class="buttons">
            <button type="button" on:click=add>"Add a mode"</button>
            <button type="button" on:click=change_rigid>"Add or remove the rigid part"</button>
            <button type="button" disabled=move || form.with(|form| form.points == 0) on:click=refit>
                "Fit to the sweep from here"
            </button>
        </p>
    }
}
