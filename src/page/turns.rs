//! The page's own work in short turns: between two of them the browser draws and takes keys.
//!
//! All that follows a change is done by effects, and each of them is a task here. Of those that are due the one that was
//! made first comes first: the order to the worker and the address before all that is drawn, what stands above before what
//! stands below it, and an element before what it holds.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::task::{Context, Wake, Waker};

use any_spawner::{CustomExecutor, Executor, PinnedFuture, PinnedLocalFuture};

use crate::worker::turn;

/// Longest stretch of work before the browser has its turn, ms; the effect that is begun is finished on top.
const TURN: f64 = 4.0;

/// Tasks by their numbers, in the order in which they were made.
type Number = u32;

thread_local! {
    static TASKS: RefCell<BTreeMap<Number, Task>> = const { RefCell::new(BTreeMap::new()) };
    static MADE: Cell<Number> = const { Cell::new(0) };
    static DUE: RefCell<BTreeSet<Number>> = const { RefCell::new(BTreeSet::new()) };
    /// Whether a turn has begun, or will before the browser goes on.
    static IS_NEAR: Cell<bool> = const { Cell::new(false) };
    static BEHIND: RefCell<Vec<Behind>> = const { RefCell::new(Vec::new()) };
    static AT_REST: RefCell<Vec<Call>> = const { RefCell::new(Vec::new()) };
}

type Call = Box<dyn FnOnce()>;

struct Task {
    future: PinnedLocalFuture<()>,
    waker: Waker,
}

/// Something that is done behind these tasks.
struct Behind {
    tasks: BTreeSet<Number>,
    call: Call,
}

/// Has all effects of the page done in turns.
pub fn begin() {
    // Fails only where there is another executor already, and the page has none before this.
    let _ = Executor::init_custom_executor(Turns);
}

/// Does it when all that is due now is done.
pub fn behind(call: impl FnOnce() + 'static) {
    let tasks = DUE.with_borrow(Clone::clone);
    let call: Call = Box::new(call);
    BEHIND.with_borrow_mut(|behind| behind.push(Behind { tasks, call }));
    arrange();
}

/// Does it when nothing is left to do.
pub fn at_rest(call: impl FnOnce() + 'static) {
    let call: Call = Box::new(call);
    AT_REST.with_borrow_mut(|calls| calls.push(call));
    arrange();
}

/// Does all that is due, without a break.
pub fn finish() {
    work(f64::INFINITY);
}

struct Turns;

impl CustomExecutor for Turns {
    fn spawn(&self, future: PinnedFuture<()>) {
        self.spawn_local(future);
    }

    fn spawn_local(&self, future: PinnedLocalFuture<()>) {
        let number = MADE.get();
        MADE.set(number.wrapping_add(1));
        let waker = Waker::from(Arc::new(Due(number)));
        TASKS.with_borrow_mut(|tasks| tasks.insert(number, Task { future, waker }));
        due(number);
    }

    fn poll_local(&self) {}
}

struct Due(Number);

impl Wake for Due {
    fn wake(self: Arc<Due>) {
        due(self.0);
    }
}

fn due(number: Number) {
    DUE.with_borrow_mut(|due| due.insert(number));
    arrange();
}

/// Has a turn begin as soon as what runs now is at its end.
fn arrange() {
    if !IS_NEAR.replace(true) {
        wasm_bindgen_futures::spawn_local(async { run() });
    }
}

fn run() {
    work(now() + TURN);
}

/// Works until nothing is left to do, or for the rest another turn is arranged.
fn work(end: f64) {
    IS_NEAR.set(true);
    while settle() {
        let Some(number) = DUE.with_borrow_mut(BTreeSet::pop_first) else {
            continue;
        };
        poll(number);
        BEHIND.with_borrow_mut(|behind| {
            behind.iter_mut().for_each(|one| {
                one.tasks.remove(&number);
            });
        });
        if now() >= end {
            turn::after(run);
            break;
        }
    }
    IS_NEAR.set(false);
}

fn poll(number: Number) {
    // Out of its place while it runs: it may make others.
    let task = TASKS.with_borrow_mut(|tasks| tasks.remove(&number));
    let Some(mut task) = task else { return };
    let mut context = Context::from_waker(&task.waker);
    if task.future.as_mut().poll(&mut context).is_pending() {
        TASKS.with_borrow_mut(|tasks| tasks.insert(number, task));
    }
}

/// Does what was waiting for others to be done; whether there is more to do.
fn settle() -> bool {
    let is_done = |one: &mut Behind| one.tasks.is_empty();
    let done: Vec<Behind> =
        BEHIND.with_borrow_mut(|behind| behind.extract_if(.., is_done).collect());
    done.into_iter().for_each(|one| (one.call)());
    if DUE.with_borrow(BTreeSet::is_empty) {
        AT_REST.take().into_iter().for_each(|call| call());
    }
    !DUE.with_borrow(BTreeSet::is_empty) || !AT_REST.with_borrow(Vec::is_empty)
}

fn now() -> f64 {
    leptos::prelude::window()
        .performance()
        .map_or_else(js_sys::Date::now, |clock| clock.now())
}
