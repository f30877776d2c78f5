//! One input with its label: typed, stepped with the arrow keys, scrubbed by dragging the label.

use crate::page::prelude::*;
use leptos::ev;
use wasm_bindgen::JsCast;

use super::desk::Desk;
use crate::design::{Field, Kind};

/// Pixels of a drag that make one step.
const SCRUB: f64 = 9.0;

/// The fields of a group, one below the other.
#[component]
pub fn Fields(fields: Vec<Field>) -> impl IntoView {
    fields
        .into_iter()
        .map(|field| view! { <Input field /> })
        .collect_nodes()
}

/// An input for any field.
#[component]
pub fn Input(field: Field) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let id = format!("field{}", field.path.replace('/', "-"));
    let error_id = format!("{id}-error");
    let path = StoredValue::new(field.path.clone());
    let field = StoredValue::new(field);
    let complaint = memo(move || path.with_value(|path| desk.complaint(path)));
    let text = memo(move || {
        path.with_value(|path| {
            desk.drafts
                .with(|drafts| drafts.get(path).cloned())
                .unwrap_or_else(|| field.with_value(|f| f.show(&desk.value(path))))
        })
    });
    let label = field.with_value(|f| f.label.clone());
    let help = field.with_value(|f| f.help);
    let invalid = move || complaint.with(Option::is_some).then_some("true");
    let described = {
        let error_id = error_id.clone();
        move || complaint.with(Option::is_some).then(|| error_id.clone())
    };
    // A field that goes while it has the focus is left as well, when what it held is gone already.
    let leave = move |_: ev::FocusEvent| {
        field.try_with_value(|f| desk.leave(f));
    };
    let control = match field.with_value(|f| f.kind.clone()) {
        Kind::Choice { options } => view! {
            <select
                id=id.clone()
                title=help
                prop:value=text
                on:change=move |event| field.with_value(|f| desk.type_in(f, event_target_value(&event)))
            >
                {options
                    .into_iter()
                    .map(|(value, name)| view! { <option value=value.clone().into_owned() selected=move || text.with(|t| *t == *value)>{name.into_owned()}</option> })
                    .collect_nodes()}
            </select>
        }
        .into_node(),
        Kind::Text { longest, lines: true } => view! {
            <textarea
                id=id.clone()
                rows="4"
                maxlength=longest.to_string()
                title=help
                aria-invalid=invalid
                aria-describedby=described
                prop:value=text
                on:input=move |event| field.with_value(|f| desk.type_in(f, event_target_value(&event)))
                on:blur=leave
            ></textarea>
        }
        .into_node(),
        Kind::Text { longest, .. } => view! {
            <input
                id=id.clone()
                type="text"
                spellcheck="false"
                maxlength=longest.to_string()
                title=help
                aria-invalid=invalid
                aria-describedby=described
                prop:value=text
                on:input=move |event| field.with_value(|f| desk.type_in(f, event_target_value(&event)))
                on:blur=leave
            />
        }
        .into_node(),
        Kind::List { .. } => view! {
            <textarea
                id=id.clone()
                rows="2"
                spellcheck="false"
                title=help
                placeholder="use the series"
                aria-invalid=invalid
                aria-describedby=described
                prop:value=text
                on:input=move |event| field.with_value(|f| desk.type_in(f, event_target_value(&event)))
                on:blur=leave
            ></textarea>
        }
        .into_node(),
        Kind::Quantity { empty, .. } => view! {
            <input
                id=id.clone()
                type="text"
                inputmode="text"
                spellcheck="false"
                title=help
                placeholder=empty.map_or("", |words| if words.is_empty() { "free" } else { words })
                aria-invalid=invalid
                aria-describedby=described
                prop:value=text
                on:input=move |event| field.with_value(|f| desk.type_in(f, event_target_value(&event)))
                on:blur=leave
                on:keydown=move |event: ev::KeyboardEvent| {
                    let size = if event.shift_key() { 5 } else { 1 };
                    let steps = match event.key().as_str() {
                        "ArrowUp" => size,
                        "ArrowDown" => -size,
                        "Enter" => {
                            field.with_value(|f| desk.leave(f));
                            return;
                        }
                        _ => return,
                    };
                    event.prevent_default();
                    field.with_value(|f| desk.step(f, steps));
                }
            />
        }
        .into_node(),
    };
    let scrub = Scrub::new(desk, field);
    let scrubs = field.with_value(|f| matches!(f.kind, Kind::Quantity { .. }));
    // At each key Chromium reads all fields of the form, and all of the page where there is none. This one goes nowhere.
    view! {
        <form class="field" autocomplete="off" method="dialog" class:bad=move || complaint.with(Option::is_some)>
            <label
                for=id
                class:scrub=scrubs
                title=help
                on:pointerdown=move |event| scrub.down(&event)
                on:pointermove=move |event| scrub.moved(&event)
                on:pointerup=move |_| scrub.up()
                on:pointercancel=move |_| scrub.up()
            >
                {label}
            </label>
            {control}
            <Show when=move || complaint.with(Option::is_some)>
                <p class="error" id=error_id.clone() role="alert">{complaint}</p>
            </Show>
        </form>
    }
}

/// A drag along the label in progress: where it began, and how many steps were made.
#[derive(Clone, Copy)]
struct Scrub {
    desk: Desk,
    field: StoredValue<Field>,
    from: StoredValue<Option<(f64, i32)>>,
}

impl Scrub {
    fn new(desk: Desk, field: StoredValue<Field>) -> Scrub {
        Scrub {
            desk,
            field,
            from: StoredValue::new(None),
        }
    }

    fn down(&self, event: &ev::PointerEvent) {
        self.from.set_value(Some((f64::from(event.client_x()), 0)));
        let target = event
            .current_target()
            .and_then(|t| t.dyn_into::<web_sys::Element>().ok());
        if let Some(target) = target {
            // Without capture the drag just ends at the label's edge.
            let _ = target.set_pointer_capture(event.pointer_id());
        }
    }

    fn moved(&self, event: &ev::PointerEvent) {
        let Some((start, made)) = self.from.get_value() else {
            return;
        };
        let wanted = ((f64::from(event.client_x()) - start) / SCRUB) as i32;
        if wanted != made {
            self.from.set_value(Some((start, wanted)));
            self.field
                .with_value(|field| self.desk.step(field, wanted - made));
        }
    }

    fn up(&self) {
        let made = self.from.get_value().map_or(0, |(_, made)| made);
        self.from.set_value(None);
        if made != 0 {
            self.field.with_value(|field| self.desk.leave(field));
        }
    }
}
