//! What the figures were before the present edit began.
//!
//! An edit ends when its figures are there and either the field was left or nothing happened for a while. The next
//! one is then held against them, however many keystrokes or steps it takes.

use crate::page::prelude::*;
use gloo_timers::callback::Timeout;

use super::super::desk::Desk;
use super::all;
use super::watched::Told;

/// So long a pause ends an edit, ms.
const PAUSE: u32 = 1500;

type Figures = Vec<Option<Told>>;

/// The figures now, and before.
#[derive(Clone, Copy)]
pub struct Trail {
    now: Derived<Figures>,
    before: Held<Figures>,
    /// Those that the next edit is held against; none while an edit goes on.
    settled: StoredValue<Option<Figures>>,
    /// Whether the field was left before its figures were there.
    is_left: StoredValue<bool>,
    pause: StoredValue<Option<Timeout>, LocalStorage>,
}

impl Trail {
    /// Follows the desk for as long as the page lives.
    pub fn follow(desk: Desk) -> Trail {
        let trail = Trail {
            now: memo(move || all(desk)),
            before: Held::default(),
            settled: StoredValue::new(None),
            is_left: StoredValue::new(false),
            pause: StoredValue::new_local(None),
        };
        Effect::new(move |before: Option<()>| {
            desk.design.track();
            if before.is_some() {
                trail.edited();
            }
        });
        let is_ready = memo(move || desk.spread_is_current.get() && !desk.in_error());
        Effect::new(move |times: Option<u32>| {
            let times = times.unwrap_or(0);
            if !is_ready.get() {
                return times;
            }
            // What the page opens with is not an edit.
            if times == 0 || trail.is_left.get_value() {
                trail.settle();
            } else {
                let pause = Timeout::new(PAUSE, move || trail.settle());
                trail.pause.set_value(Some(pause));
            }
            times + 1
        });
        let left = window_event_listener(leptos::ev::focusout, move |_| {
            if is_ready.get_untracked() {
                trail.settle();
            } else {
                trail.is_left.set_value(true);
            }
        });
        on_cleanup(move || left.remove());
        trail
    }

    /// A figure as it is now.
    pub fn now(self, at: usize) -> Option<Told> {
        self.now.with(|now| now.get(at).cloned().flatten())
    }

    /// By how much the present edit, or the last one, moved a figure; none where it was of something else before.
    pub fn change(self, at: usize) -> Option<f64> {
        let (before, now) = self.both(at)?;
        Some(now - before)
    }

    /// A figure before the present edit, or the last one, and as it is now; none where it was of something else before.
    pub fn both(self, at: usize) -> Option<(f64, f64)> {
        let now = self.now(at)?;
        self.before.with(|before| {
            let before = before.get(at)?.as_ref()?;
            (before.of == now.of).then_some((before.value, now.value))
        })
    }

    fn edited(self) {
        self.pause.set_value(None);
        self.is_left.set_value(false);
        if let Some(settled) = self.settled.get_value() {
            self.settled.set_value(None);
            self.before.set(settled);
        }
    }

    fn settle(self) {
        self.pause.set_value(None);
        self.is_left.set_value(false);
        self.settled.set_value(Some(self.now.get_untracked()));
    }
}
