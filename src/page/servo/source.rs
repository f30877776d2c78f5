//! The texts that a sweep is read from, and whether the plant is theirs.

use std::sync::Arc;

use gloo_timers::callback::Timeout;
use leptos::prelude::*;
use wasm_bindgen_futures::JsFuture;

use crate::design::ServoDesign;
use crate::page::begin;
use crate::page::desk::Desk;
use crate::plant::KeepWork;
use crate::plant::sweep::{self, Columns, Reading};

/// Longest stretch of looking through a sweep without giving the page its turn, ms.
const SLICE: f64 = 7.0;

/// One text and how it is read.
#[derive(Clone)]
pub struct Taken {
    /// The file's name; "" for what was typed or pasted.
    pub name: String,
    pub text: Arc<String>,
    /// The user's own columns.
    columns: Option<Columns>,
    /// Whether its bad rows may be left out.
    skip: bool,
    /// What was read; a sentence where the file is no text.
    pub reading: Result<Arc<Reading>, String>,
}

impl Taken {
    fn new(name: String, text: String) -> Taken {
        let reading = Arc::new(sweep::read(&text, None));
        Taken {
            name,
            text: Arc::new(text),
            columns: None,
            skip: false,
            reading: Ok(reading),
        }
    }

    fn unreadable(name: String, sentence: String) -> Taken {
        Taken {
            name,
            text: Arc::default(),
            columns: None,
            skip: false,
            reading: Err(sentence),
        }
    }

    /// Whether every row can be used, or may be left out.
    fn is_good(&self) -> bool {
        let good = |reading: &Arc<Reading>| {
            reading.error.is_none() && (self.skip || reading.bad_rows == 0)
        };
        self.reading.as_ref().is_ok_and(good)
    }
}

/// Whether the plant is what the texts say.
#[derive(Clone, Copy, PartialEq)]
pub enum Standing {
    /// No text was taken yet.
    Untouched,
    /// It is.
    Theirs,
    /// It is still what it was before them.
    Before,
}

/// What came in and how it is read. Several files are repeated measurements of one plant.
#[derive(Clone, Copy)]
pub struct Source {
    desk: Desk,
    pub taken: RwSignal<Vec<Taken>>,
    /// Sentences on how several were taken together.
    pub notes: RwSignal<Vec<String>>,
    pub standing: RwSignal<Standing>,
    /// Counts what comes in, so that a slow file does not come after a newer one.
    turn: StoredValue<u32>,
}

impl Source {
    pub fn new(desk: Desk) -> Source {
        Source {
            desk,
            taken: RwSignal::default(),
            notes: RwSignal::default(),
            standing: RwSignal::new(Standing::Untouched),
            turn: StoredValue::new(0),
        }
    }

    /// Another text, read anew; an empty one leaves the plant as it is.
    pub fn take(self, text: String) {
        self.next_turn();
        self.taken.set(if text.trim().is_empty() {
            Vec::new()
        } else {
            vec![Taken::new(String::new(), text)]
        });
        self.put();
    }

    /// No text and no plant.
    pub fn clear(self) {
        self.take(String::new());
        self.standing.set(Standing::Untouched);
    }

    /// Files, when the browser has them all.
    pub fn take_files(self, files: web_sys::FileList) {
        let turn = self.next_turn();
        self.desk.looks_through.set(true);
        leptos::task::spawn_local(async move {
            let mut taken = Vec::new();
            for file in (0..files.length()).filter_map(|at| files.get(at)) {
                taken.push(of_file(&file).await);
            }
            if self.turn.get_value() == turn {
                self.taken.set(taken);
                self.put();
            }
        });
    }

    /// Reads a text with corrected columns.
    pub fn correct(self, at: usize, columns: Columns) {
        self.change(at, |taken| {
            taken.columns = Some(columns);
            taken.skip = false;
            taken.reading = Ok(Arc::new(sweep::read(&taken.text, Some(&columns))));
        });
    }

    /// Leaves a text's bad rows out.
    pub fn skip(self, at: usize) {
        self.change(at, |taken| taken.skip = true);
    }

    /// Leaves a whole file out.
    pub fn leave_out(self, at: usize) {
        self.taken.update(|taken| {
            if at < taken.len() {
                taken.remove(at);
            }
        });
        self.put();
    }

    fn change(self, at: usize, edit: impl FnOnce(&mut Taken)) {
        self.taken.update(|taken| {
            if let Some(taken) = taken.get_mut(at) {
                edit(taken);
            }
        });
        self.put();
    }

    fn next_turn(self) -> u32 {
        self.turn.update_value(|turn| *turn = turn.wrapping_add(1));
        self.turn.get_value()
    }

    /// Makes the texts the plant if all are good; else the plant stays.
    fn put(self) {
        self.next_turn();
        self.desk.looks_through.set(false);
        let taken = self.taken.get_untracked();
        let good = !taken.is_empty() && taken.iter().all(Taken::is_good);
        self.standing.set(if good {
            Standing::Theirs
        } else {
            Standing::Before
        });
        if !good {
            self.notes.set(Vec::new());
            return;
        }
        let readings: Vec<&Reading> = taken
            .iter()
            .filter_map(|taken| taken.reading.as_deref().ok())
            .collect();
        let merged = sweep::merge(&readings);
        self.notes.set(merged.notes);
        self.desk.looks_through.set(true);
        self.keep(self.turn.get_value(), KeepWork::begin(merged.sweep));
    }

    /// Works out what is to be kept of the rows, and makes that the plant; unless other texts came in meanwhile.
    fn keep(self, turn: u32, mut work: KeepWork) {
        if self.turn.get_value() != turn {
            return;
        }
        let clock = window().performance();
        let now = || clock.as_ref().map_or(0.0, web_sys::Performance::now);
        let begin = now();
        while work.step().is_pending() {
            if now() > begin + SLICE {
                Timeout::new(0, move || self.keep(turn, work)).forget();
                return;
            }
        }
        let rows = work.rows();
        let kept = work.into_kept();
        self.desk.looks_through.set(false);
        let text = sweep::write(&kept);
        let demo = demo();
        let is_demo = text == demo;
        // What the plant was so far.
        let is_first = self.desk.design.with_untracked(|design| {
            let servo = &design.servo;
            !servo.has_plant() || (servo.model.is_none() && servo.sweep == demo)
        });
        let edit = |servo: &mut ServoDesign| {
            servo.rows = (rows != kept.points.len()).then_some(rows as u32);
            servo.sweep = text;
            servo.model = None;
            servo.fit.start = None;
        };
        if is_demo {
            self.desk.edit_plant(edit);
        } else {
            begin::take_a_strangers(self.desk, is_first, edit);
        }
    }
}

/// The demo's sweep as a design keeps it.
fn demo() -> String {
    let reading = sweep::read(sweep::DEMO, None);
    sweep::write(&sweep::merge(&[&reading]).sweep)
}

async fn of_file(file: &web_sys::File) -> Taken {
    let name = file.name();
    if file.size() > sweep::LARGEST_FILE as f64 {
        let sentence = format!(
            "The file has {:.0} MB; one of {} MB at most is read. Export fewer points, or the frequency response alone.",
            file.size() / 1e6,
            sweep::LARGEST_FILE / 1_000_000
        );
        return Taken::unreadable(name, sentence);
    }
    let Ok(buffer) = JsFuture::from(file.array_buffer()).await else {
        return Taken::unreadable(name, "The browser cannot read the file.".to_owned());
    };
    match sweep::decode(&js_sys::Uint8Array::new(&buffer).to_vec()) {
        Ok(text) => Taken::new(name, text),
        Err(sentence) => Taken::unreadable(name, sentence),
    }
}
