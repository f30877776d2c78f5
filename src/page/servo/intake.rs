//! Where a plant comes in: a dropped file, a pasted text, points typed by hand, or a model without any
//! sweep.

use std::sync::Arc;

use leptos::ev;
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use wasm_bindgen_futures::JsFuture;

use super::reading;
use crate::page::desk::Desk;
use crate::quantity::{Unit, rounded};
use crate::servo::sweep::{self, Columns, Reading};
use crate::servo::{Mode, Model};

/// Points that a design keeps of a sweep; denser ones are averaged where nothing happens.
const KEPT: usize = 800;
/// A longer text is not put in the box for typing, where the browser would lay it all out.
const SHOWN: usize = 20_000;

/// What came in and how it is read.
#[derive(Clone, Copy)]
struct Source {
    desk: Desk,
    text: RwSignal<Arc<String>>,
    columns: RwSignal<Option<Columns>>,
    reading: RwSignal<Option<Arc<Reading>>>,
}

impl Source {
    /// Another text, read anew.
    fn take(self, text: String) {
        self.text.set(Arc::new(text));
        self.columns.set(None);
        self.read(false);
    }

    /// Reads; a sweep without bad rows, or with bad rows that may be skipped, becomes the plant.
    fn read(self, skip: bool) {
        let text = self.text.get_untracked();
        if text.trim().is_empty() {
            self.reading.set(None);
            return;
        }
        let reading = sweep::read(&text, self.columns.get_untracked().as_ref());
        if reading.error.is_none() && (skip || reading.bad_rows == 0) {
            let kept = sweep::write(&reading.sweep.thinned(KEPT));
            self.desk.edit_plant(|servo| {
                servo.sweep = kept;
                servo.model = None;
                servo.fit.start = None;
            });
        }
        self.reading.set(Some(Arc::new(reading)));
    }

    fn correct(self, columns: Columns) {
        self.columns.set(Some(columns));
        self.read(false);
    }

    /// The text of a file, when the browser has it.
    fn take_file(self, file: &web_sys::File) {
        let promise = file.text();
        leptos::task::spawn_local(async move {
            if let Ok(text) = JsFuture::from(promise).await {
                self.take(text.as_string().unwrap_or_default());
            }
        });
    }
}

fn rows_of(count: usize) -> String {
    if count == 1 {
        "1 row".to_owned()
    } else {
        format!("{count} rows")
    }
}

/// A plant to begin with where there is no sweep: a mass on a suspension.
fn first_model() -> Model {
    let omega = std::f64::consts::TAU * 30.0;
    Model {
        rigid: None,
        modes: vec![Mode {
            frequency: 30.0,
            damping: 0.1,
            residue: omega * omega,
            slope: 0.0,
        }],
        ..Model::default()
    }
}

#[component]
pub fn Intake() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let source = Source {
        desk,
        text: RwSignal::default(),
        columns: RwSignal::new(None),
        reading: RwSignal::new(None),
    };
    let over = RwSignal::new(false);
    let open = RwSignal::new(false);
    let dropped = move |event: ev::DragEvent| {
        event.prevent_default();
        over.set(false);
        let files = event.data_transfer().and_then(|data| data.files());
        if let Some(file) = files.and_then(|files| files.get(0)) {
            open.set(true);
            source.take_file(&file);
        }
    };
    let chosen = move |event: ev::Event| {
        let input = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok());
        let file = input.and_then(|input| input.files()?.get(0));
        if let Some(file) = file {
            source.take_file(&file);
        }
    };
    let pasted = move |event: ev::ClipboardEvent| {
        let data = event.clipboard_data();
        let text = data.and_then(|data| data.get_data("text").ok());
        if let Some(text) = text.filter(|text| text.len() > SHOWN) {
            event.prevent_default();
            source.take(text);
        }
    };
    let plant = Memo::new(move |_| desk.form.with(|form| form.plant.clone()));
    let summary = move || {
        let plant = plant.get();
        match (plant.points, plant.is_there()) {
            (0, false) => {
                "No plant yet: drop a measured sweep here, or open this to paste one".to_owned()
            }
            (0, true) => "Plant: a model without a sweep".to_owned(),
            (points, _) => format!(
                "Plant: a sweep of {points} points, {} to {}",
                rounded(plant.low, Unit::Hertz, 3),
                rounded(plant.high, Unit::Hertz, 3),
            ),
        }
    };
    let told = move || {
        let reading = source.reading.get()?;
        let change = move |columns| source.correct(columns);
        let mut lines = vec![format!("{}.", rows_of(reading.rows))];
        lines.extend(reading.notes.iter().cloned());
        let lines = lines
            .into_iter()
            .map(|line| view! { <li>{line}</li> })
            .collect_view();
        let bad = (reading.bad_rows > 0).then(|| {
            let rows = reading
                .bad
                .iter()
                .take(8)
                .map(|bad| view! { <li>{format!("Line {}: {} ", bad.line, bad.reason)}<code>{bad.text.clone()}</code></li> })
                .collect_view();
            let count = reading.bad_rows;
            view! {
                <div class="reach" role="alert">
                    <p>{format!("{} cannot be read:", rows_of(count))}</p>
                    <ul>{rows}</ul>
                    <button type="button" on:click=move |_| source.read(true)>
                        {format!("Leave {} out", rows_of(count))}
                    </button>
                </div>
            }
        });
        let error = reading
            .error
            .clone()
            .map(|error| view! { <p class="reach" role="alert">{error}</p> });
        Some(view! {
            {error}
            {bad}
            <ul class="notes">{lines}</ul>
            {reading::told(&reading, change)}
        })
    };
    let typed = move || {
        let text = source.text.get();
        if text.len() > SHOWN {
            String::new()
        } else {
            text.to_string()
        }
    };
    view! {
        <details
            class="intake"
            class:over=over
            prop:open=open
            on:toggle=move |event: ev::Event| {
                let details = event.target().and_then(|t| t.dyn_into::<web_sys::HtmlDetailsElement>().ok());
                if let Some(details) = details { open.set(details.open()); }
            }
            on:dragover=move |event: ev::DragEvent| { event.prevent_default(); over.set(true); }
            on:dragleave=move |_| over.set(false)
            on:drop=dropped
        >
            <summary data-figure="sweep-points" data-value=move || plant.with(|p| p.points.to_string())>{summary}</summary>
            <div class="intake-grid">
                <div>
                    <label for="sweep-text">"Sweep"</label>
                    <textarea
                        id="sweep-text"
                        rows="8"
                        spellcheck="false"
                        placeholder="Paste or type rows: frequency, magnitude, phase — or drop a file anywhere here"
                        prop:value=typed
                        on:paste=pasted
                        on:input=move |event| source.take(event_target_value(&event))
                    ></textarea>
                    <p class="buttons">
                        <label class="file" for="sweep-file">"A file"</label>
                        <input id="sweep-file" type="file" accept=".txt,.csv,.tsv,.dat,text/*" on:change=chosen />
                    </p>
                    <p class="buttons">
                        <button type="button" on:click=move |_| source.take(sweep::DEMO.to_owned())>
                            "Take the demo's sweep"
                        </button>
                        <button
                            type="button"
                            on:click=move |_| desk.edit_plant(|servo| {
                                if servo.model.is_none() { servo.model = Some(first_model()); }
                            })
                        >
                            "Begin with a model"
                        </button>
                        <button
                            type="button"
                            disabled=move || !plant.with(|p| p.is_there())
                            on:click=move |_| {
                                source.take(String::new());
                                desk.edit_plant(|servo| *servo = crate::design::ServoDesign {
                                    asked: servo.asked,
                                    ..Default::default()
                                });
                            }
                        >
                            "Take the plant away"
                        </button>
                    </p>
                    <p class="quiet">"The demo's sweep is invented: a microscope's focus stage with modes near 2.35 kHz and 5.1 kHz."</p>
                </div>
                <div>{told}</div>
            </div>
        </details>
    }
}
