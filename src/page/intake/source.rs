//! The texts that a measured response is read from, and whether what is in the design is theirs.

use std::sync::Arc;

use crate::page::prelude::*;
use wasm_bindgen_futures::JsFuture;

use crate::exchange::{Intake, Kept, NotKept, Order, Report};
use crate::page::desk::Desk;
use crate::page::engine;
use crate::plant::SweptOf;
use crate::plant::sweep::{Columns, LARGEST_FILE, Reading};

/// One text and how it is read.
#[derive(Clone)]
pub struct Taken {
    /// Its number, and the worker that knows it.
    text: u32,
    worker: u32,
    /// The file's name; "" for what was typed or pasted.
    pub name: String,
    pub bytes: Arc<Vec<u8>>,
    /// Whether it was typed, and not a file's.
    pub typed: bool,
    /// The user's own columns.
    columns: Option<Columns>,
    /// Whether its bad rows may be left out.
    skip: bool,
    pub reading: Read,
}

/// What was read of a text.
#[derive(Clone)]
pub enum Read {
    /// It is still being read.
    Awaited,
    Table(Arc<Reading>),
    /// A sentence where the file is no text.
    NoText(String),
    /// The worker that was to read it is gone.
    Lost,
}

impl Taken {
    fn new(name: String, bytes: Vec<u8>) -> Taken {
        Taken {
            text: 0,
            worker: 0,
            typed: name.is_empty(),
            name,
            bytes: Arc::new(bytes),
            columns: None,
            skip: false,
            reading: Read::Awaited,
        }
    }

    fn unreadable(name: String, sentence: String) -> Taken {
        Taken {
            reading: Read::NoText(sentence),
            ..Taken::new(name, Vec::new())
        }
    }

    /// Whether every row can be used, or may be left out.
    fn is_good(&self) -> bool {
        match &self.reading {
            Read::Table(reading) => reading.error.is_none() && (self.skip || reading.bad_rows == 0),
            Read::Awaited | Read::NoText(_) | Read::Lost => false,
        }
    }
}

/// Whether what is in the design is what the texts say.
#[derive(Clone, Copy, PartialEq)]
pub enum Standing {
    /// No text was taken yet.
    Untouched,
    /// It is.
    Theirs,
    /// It is still what it was before them.
    Before,
}

/// What came in and how it is read. Several files are repeated measurements of one thing.
#[derive(Clone, Copy)]
pub struct Source {
    desk: Desk,
    pub intake: Intake,
    /// Puts what is kept of the texts in the design.
    put_in: fn(Desk, Kept),
    /// What the texts are a response of, where a plant was swept within its loop.
    pub of: Held<Option<SweptOf>>,
    pub taken: Held<Vec<Taken>>,
    /// Sentences on how several were taken together.
    pub notes: Held<Vec<String>>,
    pub standing: Held<Standing>,
    /// Counts what comes in, so that a slow file does not come after a newer one.
    turn: StoredValue<u32>,
    /// Counts texts.
    texts: StoredValue<u32>,
}

impl Source {
    pub fn new(desk: Desk, intake: Intake, put_in: fn(Desk, Kept)) -> Source {
        let source = Source {
            desk,
            intake,
            put_in,
            of: Held::default(),
            taken: Held::default(),
            notes: Held::default(),
            standing: Held::new(Standing::Untouched),
            turn: StoredValue::new(0),
            texts: StoredValue::new(0),
        };
        engine::hear_of_texts(move |report| match report {
            Some(report) => source.hear(report),
            None => source.lose(),
        });
        source
    }

    /// Another text, read anew; an empty one leaves the design as it is.
    pub fn take(self, text: String) {
        self.next_turn();
        let is_blank = text.trim().is_empty();
        let taken = (!is_blank).then(|| Taken::new(String::new(), text.into_bytes()));
        self.taken.set(taken.into_iter().collect());
        self.read();
    }

    /// No text, and nothing of it in the design.
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
                self.read();
            }
        });
    }

    /// Reads a text with corrected columns.
    pub fn correct(self, at: usize, columns: Columns) {
        self.change(at, |taken| {
            taken.columns = Some(columns);
            taken.skip = false;
            // What was read stands until it is read again.
            taken.worker = 0;
        });
    }

    /// Reads a text that was lost.
    pub fn again(self, at: usize) {
        self.change(at, |taken| taken.reading = Read::Awaited);
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
        self.read();
    }

    fn change(self, at: usize, edit: impl FnOnce(&mut Taken)) {
        self.taken.update(|taken| {
            if let Some(taken) = taken.get_mut(at) {
                edit(taken);
            }
        });
        self.read();
    }

    fn next_turn(self) -> u32 {
        self.turn.update_value(|turn| *turn = turn.wrapping_add(1));
        self.turn.get_value()
    }

    /// Has the worker read what it does not know; with nothing to read, goes on at once.
    fn read(self) {
        self.next_turn();
        let orders = self.orders();
        if orders.is_empty() {
            self.put();
            return;
        }
        self.desk.looks_through.set(true);
        for order in orders {
            engine::give(self.desk, &order);
        }
    }

    /// One for each text that the worker does not know.
    fn orders(self) -> Vec<Order> {
        let worker = engine::worker();
        let mut taken = self.taken.get_untracked();
        let mut unknown = Vec::new();
        for (at, taken) in taken.iter_mut().enumerate() {
            let is_to_be_read = !matches!(taken.reading, Read::NoText(_) | Read::Lost);
            if taken.worker != worker && is_to_be_read {
                self.texts.update_value(|texts| *texts += 1);
                taken.text = self.texts.get_value();
                taken.worker = worker;
                unknown.push(at);
            }
        }
        let wanted: Vec<u32> = taken.iter().map(|taken| taken.text).collect();
        let order = |at: usize| Order::Read {
            intake: self.intake,
            text: taken[at].text,
            bytes: taken[at].bytes.to_vec(),
            columns: taken[at].columns,
            wanted: wanted.clone(),
        };
        let orders = unknown.into_iter().map(order).collect();
        self.taken.set(taken);
        orders
    }

    fn hear(self, report: &Report) {
        match report {
            Report::Read {
                intake,
                text,
                reading,
            } if *intake == self.intake => {
                let taken = self.taken.get_untracked();
                let Some(at) = taken.iter().position(|taken| taken.text == *text) else {
                    return;
                };
                self.taken.update(|taken| {
                    taken[at].reading = match reading {
                        Ok(reading) => Read::Table(Arc::new((**reading).clone())),
                        Err(sentence) => Read::NoText(sentence.clone()),
                    };
                });
                // The last one is heard last.
                if taken.iter().all(|taken| taken.text <= *text) {
                    self.put();
                }
            }
            Report::Kept { intake, turn, kept }
                if *intake == self.intake && *turn == self.turn.get_value() =>
            {
                match kept {
                    Ok(kept) if kept.points == 0 => {
                        self.stay("No point of the sweep is left: no plant gives such a response.");
                    }
                    Ok(kept) => self.kept(kept.clone()),
                    Err(NotKept::Unread) => self.read(),
                    Err(NotKept::NoPath) => self.stay(
                        "The path that was in the loop is not worked out yet, or has an entry that is not valid: mend it, then work out the plant again.",
                    ),
                }
            }
            _ => {}
        }
    }

    /// The worker is gone: what it was to read is not read until the user wants it again, since it may be what the worker
    /// died on; nor is put in the design what it was to put together.
    fn lose(self) {
        self.next_turn();
        let is_awaited = |taken: &Taken| matches!(taken.reading, Read::Awaited);
        if self.taken.with_untracked(|all| all.iter().any(is_awaited)) {
            self.taken.update(|all| {
                let lost = all.iter_mut().filter(|taken| is_awaited(taken));
                lost.for_each(|taken| taken.reading = Read::Lost);
            });
            self.standing.set(Standing::Before);
        }
    }

    /// Puts what the texts say in the design if all are good; else the design stays.
    fn put(self) {
        let turn = self.next_turn();
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
        self.desk.looks_through.set(true);
        let texts = taken.iter().map(|taken| taken.text).collect();
        let intake = self.intake;
        engine::give(
            self.desk,
            &Order::Keep {
                intake,
                turn,
                texts,
                of: self.of.get_untracked(),
            },
        );
    }

    /// The texts are a response of something else; what was read of them stands.
    pub fn take_as(self, of: Option<SweptOf>) {
        self.of.set(of);
        if self.standing.get_untracked() != Standing::Untouched {
            self.read();
        }
    }

    /// The design stays, because of what this sentence says.
    fn stay(self, why: &str) {
        self.desk.looks_through.set(false);
        self.standing.set(Standing::Before);
        self.notes.set(vec![why.to_owned()]);
    }

    /// Puts what is kept of the texts in the design.
    fn kept(self, kept: Kept) {
        self.notes.set(kept.notes.clone());
        self.desk.looks_through.set(false);
        (self.put_in)(self.desk, kept);
    }
}

async fn of_file(file: &web_sys::File) -> Taken {
    let name = file.name();
    if file.size() > LARGEST_FILE as f64 {
        let sentence = format!(
            "The file has {:.0} MB; one of {} MB at most is read. Export fewer points, or the frequency response alone.",
            file.size() / 1e6,
            LARGEST_FILE / 1_000_000
        );
        return Taken::unreadable(name, sentence);
    }
    match JsFuture::from(file.array_buffer()).await {
        Ok(buffer) => Taken {
            typed: false,
            ..Taken::new(name, js_sys::Uint8Array::new(&buffer).to_vec())
        },
        Err(_) => Taken::unreadable(name, "The browser cannot read the file.".to_owned()),
    }
}
