//! Designs kept in this browser: each is written after every change, and can be opened again.
//!
//! A tab writes to one record. Where another tab has changed that record meanwhile, this tab's design gets a record of its own:
//! neither writes over the other.

use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::rc::Rc;

use crate::page::prelude::*;
use gloo_timers::callback::Timeout;
use idb::Database;
use wasm_bindgen_futures::spawn_local;

use super::store;
use crate::design::Design;
use crate::document::{Kept as Unknown, Record, label};
use crate::page::comparison::Beside;
use crate::page::desk::Desk;
use crate::page::fragment;
use crate::page::notice::say;
use crate::page::reload::session;

/// A design is written when it has not changed for so long, ms.
const PAUSE: u32 = 500;
/// So many designs are kept; the ones that were changed longest ago go.
const MOST: usize = 100;
/// So many are offered in one line when the page begins.
const OFFERED: usize = 4;
/// Where a tab remembers its record over a reload.
const KEY: &str = "polewright-record";

thread_local! {
    static DATABASE: RefCell<Option<Rc<Database>>> = const { RefCell::new(None) };
    static OWN: RefCell<Option<Rc<Own>>> = const { RefCell::new(None) };
    static LATER: RefCell<Option<Later>> = const { RefCell::new(None) };
    static JOBS: RefCell<VecDeque<Job>> = const { RefCell::new(VecDeque::new()) };
    /// What the file that the design comes from has of a later version.
    static UNKNOWN: RefCell<Unknown> = RefCell::default();
    static SHELF: Cell<Option<Shelf>> = const { Cell::new(None) };
    static IS_WRITING: Cell<bool> = const { Cell::new(false) };
}

/// A record that this tab writes to.
struct Own {
    id: RefCell<String>,
    /// When it was changed last as far as this tab knows; none where it is new.
    known: Cell<Option<f64>>,
}

impl Own {
    fn new(id: String, known: Option<f64>) -> Rc<Own> {
        Rc::new(Own {
            id: RefCell::new(id),
            known: Cell::new(known),
        })
    }
}

/// A design that waits until it has not changed for a while.
struct Later {
    _timer: Timeout,
    desk: Desk,
    shelf: Shelf,
}

/// A design to be written.
struct Job {
    own: Rc<Own>,
    /// Whether it is the design of this tab.
    is_shown: bool,
    label: String,
    text: String,
}

/// What is known of the storage.
#[derive(Clone, Copy)]
struct Shelf {
    records: Held<Vec<Record>>,
    trouble: Held<Option<&'static str>>,
}

const FORBIDDEN: &str = "This browser keeps no designs here: it has no storage, or forbids it. Save the design as a file.";
const FULL: &str = "The design could not be kept in this browser, because its storage is full or broken. Save it as a file, and \
     remove designs that are not needed.";

/// Keeps the design from now on.
pub fn watch(desk: Desk) {
    let shelf = Shelf {
        records: Held::default(),
        trouble: Held::new(None),
    };
    provide_context(shelf);
    SHELF.set(Some(shelf));
    spawn_local(begin(desk, shelf));
    Effect::new(move |before: Option<()>| {
        desk.text.track();
        if before.is_some() {
            write_later(desk, shelf);
        }
    });
    let left = window_event_listener_untyped("pagehide", move |_| write_what_waits());
    on_cleanup(move || left.remove());
}

/// The next design has a record of its own, and nothing of the file of before: it is not that design, changed.
pub fn part() {
    write_what_waits();
    OWN.take();
    UNKNOWN.take();
}

/// Keeps what the design's file has of a later version, until another design is taken.
pub fn keep_unknown(unknown: Unknown) {
    UNKNOWN.set(unknown);
}

/// What is kept of it.
pub fn with_unknown<T>(read: impl FnOnce(&Unknown) -> T) -> T {
    UNKNOWN.with_borrow(read)
}

async fn begin(desk: Desk, shelf: Shelf) {
    match store::open().await {
        Ok(database) => DATABASE.set(Some(Rc::new(database))),
        Err(_) => return shelf.trouble.set(Some(FORBIDDEN)),
    }
    list(shelf).await;
    // A reload goes on with the same record.
    let own = session().and_then(|session| session.get_item(KEY).ok().flatten());
    adopt(desk, shelf, |record| Some(&record.id) == own.as_ref());
}

/// Takes a record of this very design for this tab's.
fn adopt(desk: Desk, shelf: Shelf, is_wanted: impl Fn(&Record) -> bool) {
    let text = desk.text.get_untracked();
    shelf.records.with_untracked(|records| {
        let same = records.iter().filter(|record| *record.text == *text);
        if let Some(record) = same.into_iter().find(|record| is_wanted(record)) {
            OWN.set(Some(Own::new(record.id.clone(), Some(record.changed))));
        }
    });
}

fn write_later(desk: Desk, shelf: Shelf) {
    LATER.set(Some(Later {
        _timer: Timeout::new(PAUSE, write_what_waits),
        desk,
        shelf,
    }));
}

fn write_what_waits() {
    if let Some(Later { desk, shelf, .. }) = LATER.take() {
        write(desk, shelf);
    }
}

/// Has the design as it is now written.
fn write(desk: Desk, shelf: Shelf) {
    if OWN.with_borrow(Option::is_none) {
        adopt(desk, shelf, |_| true);
    }
    let design = desk.design.get_untracked();
    let demo = Design::default();
    let is_demo = demo
        == Design {
            view: demo.view.clone(),
            ..design.clone()
        };
    let own = match OWN.with_borrow(Clone::clone) {
        Some(own) => own,
        // The demo need not be kept, unless something else was made the demo.
        None if is_demo => return,
        None => Own::new(fresh(), None),
    };
    OWN.set(Some(Rc::clone(&own)));
    let job = Job {
        own,
        is_shown: true,
        label: label(&design),
        text: desk.text.get_untracked().to_string(),
    };
    give(desk, shelf, job);
}

fn give(desk: Desk, shelf: Shelf, job: Job) {
    JOBS.with_borrow_mut(|jobs| jobs.push_back(job));
    if !IS_WRITING.replace(true) {
        spawn_local(work(desk, shelf));
    }
}

/// Keeps the design as it is now once more, as a record that does not change with it.
pub fn keep_copy(desk: Desk, label: String) {
    let Some(shelf) = SHELF.get() else { return };
    let job = Job {
        own: Own::new(fresh(), None),
        is_shown: false,
        label,
        text: desk.text.get_untracked().to_string(),
    };
    give(desk, shelf, job);
}

/// A number that no other record has.
fn fresh() -> String {
    format!(
        "{:.0}-{:.0}",
        js_sys::Date::now(),
        1e9 * js_sys::Math::random()
    )
}

/// Writes one design after the other.
async fn work(desk: Desk, shelf: Shelf) {
    let database = DATABASE.with_borrow(Clone::clone);
    while let Some(job) = JOBS.with_borrow_mut(VecDeque::pop_front) {
        let Some(database) = &database else { continue };
        let written = put(desk, database, job).await;
        shelf.trouble.set(written.is_err().then_some(FULL));
    }
    IS_WRITING.set(false);
    if database.is_some() {
        list(shelf).await;
    }
}

/// Writes a record; a new one, where another tab has changed it.
async fn put(desk: Desk, database: &Database, job: Job) -> Result<(), idb::Error> {
    let changed = js_sys::Date::now();
    let mut record = Record {
        id: job.own.id.borrow().clone(),
        changed,
        label: job.label,
        text: job.text,
    };
    if !store::put(database, &record, job.own.known.get()).await? {
        record.id = fresh();
        store::put(database, &record, None).await?;
        let told = "This design was changed in another tab as well. What is here is kept as a design of its own from now on; the \
                    other one is kept, too.";
        say(desk, told.to_owned());
    }
    if let Some(session) = session().filter(|_| job.is_shown) {
        // Without it a reload begins another record, and nothing is lost.
        let _ = session.set_item(KEY, &record.id);
    }
    job.own.id.replace(record.id);
    job.own.known.set(Some(changed));
    Ok(())
}

/// Brings the list up to date; the oldest go where there are too many.
async fn list(shelf: Shelf) {
    let Some(database) = DATABASE.with_borrow(Clone::clone) else {
        return;
    };
    let Ok(mut records) = store::all(&database).await else {
        return shelf.trouble.set(Some(FULL));
    };
    if records.len() > MOST {
        let old: Vec<String> = records
            .split_off(MOST)
            .into_iter()
            .map(|record| record.id)
            .collect();
        // They are tried again next time.
        let _ = store::remove(&database, &old).await;
    }
    if shelf.records.with_untracked(|known| *known != records) {
        shelf.records.set(records);
    }
}

/// The design of a record; where it is none any more, that is said.
fn read(desk: Desk, record: &Record) -> Option<Design> {
    match Design::from_json(&record.text) {
        Ok(design) => Some(design),
        Err(errors) => {
            let mut told = errors.into_iter().map(|error| error.message);
            let told = told.next().unwrap_or_default();
            let told = format!("“{}” was not opened. {told}", record.label);
            say(desk, told);
            None
        }
    }
}

fn open(desk: Desk, record: &Record) {
    if let Some(design) = read(desk, record) {
        desk.emptied.set(None);
        part();
        fragment::step(desk, || desk.take(design));
        OWN.set(Some(Own::new(record.id.clone(), Some(record.changed))));
    }
}

fn compare(desk: Desk, beside: Beside, record: &Record) {
    if let Some(design) = read(desk, record) {
        beside.compare(record.label.clone(), design);
    }
}

fn take_out(shelf: Shelf, id: String) {
    OWN.with_borrow_mut(|own| {
        own.take_if(|own| *own.id.borrow() == id);
    });
    spawn_local(async move {
        let Some(database) = DATABASE.with_borrow(Clone::clone) else {
            return;
        };
        if store::remove(&database, &[id]).await.is_err() {
            shelf.trouble.set(Some(FULL));
        }
        list(shelf).await;
    });
}

/// The day and the minute of a record, as they are here.
fn when(record: &Record) -> String {
    let date = js_sys::Date::new(&record.changed.into());
    let two = |number: u32| format!("{number:02}");
    format!(
        "{}-{}-{} {}:{}",
        date.get_full_year(),
        two(date.get_month() + 1),
        two(date.get_date()),
        two(date.get_hours()),
        two(date.get_minutes())
    )
}

/// The designs that are kept: the last ones in a line as long as the demo is shown, all of them in a list.
#[component]
pub fn Kept() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let shelf = expect_context::<Shelf>();
    let beside = expect_context::<Beside>();
    let is_demo = memo(move || desk.design.with(|design| *design == Design::default()));
    let offered = move || {
        let records = shelf.records.get();
        if !is_demo.get() || records.is_empty() {
            return None;
        }
        let buttons = records.into_iter().take(OFFERED).map(|record| {
            let name = record.label.clone();
            view! { <button type="button" on:click=move |_| open(desk, &record)>{name}</button> }
        });
        Some(view! { <p class="offered">"Go on with: " {buttons.collect_nodes()}</p> })
    };
    let rows = move || {
        let rows = shelf.records.get().into_iter().map(|record| {
            let (id, name, date) = (record.id.clone(), record.label.clone(), when(&record));
            let open_label = format!("Open {name} of {date}");
            let compare_label = format!("Compare with {name} of {date}");
            let other = record.clone();
            let remove_label = format!("Remove {name} of {date}");
            view! {
                <tr>
                    <th scope="row">{name}</th>
                    <td>{date}</td>
                    <td>
                        <button type="button" aria-label=open_label on:click=move |_| open(desk, &record)>"Open"</button>
                        <button type="button" aria-label=compare_label on:click=move |_| compare(desk, beside, &other)>"Compare"</button>
                        <button type="button" aria-label=remove_label on:click=move |_| take_out(shelf, id.clone())>"Remove"</button>
                    </td>
                </tr>
            }
        });
        rows.collect_nodes()
    };
    let has_some = move || shelf.records.with(|records| !records.is_empty());
    let count = move || shelf.records.with(Vec::len);
    let trouble = move || {
        shelf
            .trouble
            .get()
            .map(|told| view! { <p class="problem" role="alert">{told}</p> })
    };
    view! {
        {offered}
        <Show when=has_some>
            <details class="kept">
                <summary>"Designs kept in this browser: "{count}</summary>
                <div class="scroll">
                    <table>
                        <thead><tr><th scope="col">"Design"</th><th scope="col">"Changed"</th><th scope="col">"What to do"</th></tr></thead>
                        <tbody>{rows}</tbody>
                    </table>
                </div>
                <p class="secondary">
                    "They are kept on this machine alone, after every change, and go when the browser's data are cleared. A file is safer."
                </p>
            </details>
        </Show>
        {trouble}
    }
}
