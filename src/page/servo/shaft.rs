//! Where modes come from: a shaft or a chain, its modes drawn, and their frequencies laid on the sweep.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::design::Group;
use crate::page::desk::Desk;
use crate::page::field::Fields;
use crate::page::panel::Panel;
use crate::plant::shaft::{MATERIALS, Material, Shaft};
use crate::plots::{Chart, mode_shapes, shapes_over};
use crate::quantity::{Unit, rounded};

#[component]
pub fn ShaftCheck() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let form = memo(move || desk.form.with(|form| form.shaft));
    let edit = move |change: &dyn Fn(&mut Option<Shaft>)| {
        desk.edit_plant(|servo| change(&mut servo.shaft))
    };
    let kinds = [
        ("", "none"),
        ("torsion", "a shaft that twists"),
        ("bending", "a shaft that bends"),
        ("chain", "a chain of inertias and springs"),
    ];
    let options = kinds
        .map(|(value, name)| view! { <option value=value selected=move || form.get().map_or("", |(kind, _)| kind) == value>{name}</option> })
        .collect_nodes();
    let chosen = move |event| {
        let kind = event_target_value(&event);
        edit(&|shaft| *shaft = Shaft::of_kind(&kind));
    };
    let places = move || {
        let (_, count) = form.get()?;
        let place = |index: usize| {
            let fields = desk.group(Group::ShaftPlace(index));
            let has_piece = fields.iter().any(|field| field.path.ends_with("density"));
            let material = has_piece.then(|| {
                let take = move |event| {
                    let name = event_target_value(&event);
                    let found = MATERIALS.iter().find(|(known, _)| *known == name);
                    if let Some((_, material)) = found {
                        edit(&|shaft| if let Some(shaft) = shaft { shaft.set_material(index, *material); });
                    }
                };
                let names = MATERIALS.map(|(name, _): (&str, Material)| view! { <option value=name>{name}</option> }).collect_nodes();
                let id = format!("shaft-material-{index}");
                view! {
                    <div class="field">
                        <label for=id.clone()>"Material"</label>
                        <select id=id on:change=take><option value="">"as typed"</option>{names}</select>
                    </div>
                }
            });
            view! { <div class="place"><Fields fields />{material}</div> }
        };
        Some((0..count).map(place).collect_nodes())
    };
    let whole = move || {
        form.get()?;
        Some(view! { <Fields fields=desk.group(Group::Shaft) /> })
    };
    let is_there = move || form.with(Option::is_some);
    let grow = move |_| {
        edit(&|shaft| {
            if let Some(shaft) = shaft {
                shaft.grow();
            }
        })
    };
    let shrink = move |_| {
        edit(&|shaft| {
            if let Some(shaft) = shaft {
                shaft.shrink();
            }
        })
    };
    let told = move || {
        desk.shaft.with(|shaft| {
            let shaft = shaft.as_ref()?;
            let errors = shaft.errors.iter().map(|error| view! { <p class="problem" role="alert">{error.clone()}</p> }).collect_nodes();
            let rows = shaft
                .modes
                .iter()
                .enumerate()
                .map(|(index, mode)| view! {
                    <tr>
                        <th scope="row">{index + 1}</th>
                        <td class="number" data-figure=format!("shaft-mode-{}", index + 1) data-value=mode.frequency.to_string()>
                            {rounded(mode.frequency, Unit::Hertz, 4)}
                        </td>
                        <td>{match nodes(&mode.shape) { 1 => "1 node".to_owned(), n => format!("{n} nodes") }}</td>
                    </tr>
                })
                .collect_nodes();
            let rigid = match shaft.rigid {
                0 => String::new(),
                1 => "And one motion as a rigid body.".to_owned(),
                n => format!("And {n} motions as a rigid body."),
            };
            Some(view! { {errors} <table class="modes"><tbody>{rows}</tbody></table> <p class="secondary">{rigid}</p> })
        })
    };
    view! {
        <details class="shaft">
            <summary>"Origin of the modes: a shaft model beside the sweep"</summary>
            <div class="loop-grid">
                <div class="loop-results">
                    <div class="field">
                        <label for="shaft-kind">"Vibrating structure"</label>
                        <select id="shaft-kind" on:change=chosen>{options}</select>
                    </div>
                    {whole}
                    <Show when=is_there>
                        <p class="buttons">
                            <button type="button" on:click=grow>"Add a segment"</button>
                            <button type="button" on:click=shrink>"Remove a segment"</button>
                        </p>
                    </Show>
                    {told}
                    <p class="secondary">
                        "Without damping, joints and bearings; the frequencies stand dashed on the plant's magnitude. Values of materials: \
                         Callister and Rethwisch, “Fundamentals of Materials Science and Engineering”, app. B; take your own where you have them. Beryllium's dust is poisonous: leave cutting it to those who may."
                    </p>
                </div>
                <div>
                    <Show when=is_there>
                        <Shapes />
                    </Show>
                    <div class="places">{places}</div>
                </div>
            </div>
        </details>
    }
}

/// How often a shape goes through zero.
fn nodes(shape: &[(f64, f64)]) -> usize {
    shape
        .windows(2)
        .filter(|pair| pair[0].1 * pair[1].1 < 0.0)
        .count()
}

/// The mode shapes over the length, each in its own lane.
#[component]
fn Shapes() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drawn = memo(move || {
        desk.shaft
            .with(|shaft| mode_shapes(shaft.as_ref()?).map(Arc::new))
    });
    let along = memo(move || desk.form.with(|form| form.shaft.map(|(kind, _)| kind)));
    let drawn = move || {
        let title = shapes_over(along.get() == Some("chain"));
        view! { <Panel title plot=drawn file=Chart::ModeShapes.name() legend=Chart::ModeShapes.legend() /> }
    };
    drawn.into_node()
}
