//! Values that tell when they change.
//!
//! Leptos has a type of signal for each type of value, two kilobytes each. Here all values are kept in signals of one
//! type, and what they hold is known by where they are held.

use std::any::Any;
use std::marker::PhantomData;
use std::sync::Arc;

use leptos::prelude::{Get, GetUntracked, Memo as AnyMemo, RwSignal, Set, Track};

/// Some value.
type Whole = Arc<dyn Any + Send + Sync>;

/// A value that is set.
pub struct Held<T> {
    signal: RwSignal<Whole>,
    of: PhantomData<fn() -> T>,
}

/// A value that is worked out anew only when what it reads has changed, and tells others only when it has changed
/// itself.
pub struct Derived<T> {
    memo: AnyMemo<Whole>,
    of: PhantomData<fn() -> T>,
}

/// What `read` gives, kept.
pub fn memo<T>(read: impl Fn() -> T + Send + Sync + 'static) -> Derived<T>
where
    T: PartialEq + Send + Sync + 'static,
{
    let read = move || -> Whole { Arc::new(read()) };
    Derived {
        memo: kept(Box::new(read), differ::<T>),
        of: PhantomData,
    }
}

type Reader = Box<dyn Fn() -> Whole + Send + Sync>;

fn kept(read: Reader, differ: fn(Option<&Whole>, Option<&Whole>) -> bool) -> AnyMemo<Whole> {
    AnyMemo::new_with_compare(move |_| read(), differ)
}

fn differ<T: PartialEq + 'static>(before: Option<&Whole>, now: Option<&Whole>) -> bool {
    before.map(value::<T>) != now.map(value::<T>)
}

fn value<T: 'static>(whole: &Whole) -> &T {
    // A signal holds the type that it was made for.
    whole.downcast_ref().expect("a value of its own type")
}

impl<T: Send + Sync + 'static> Held<T> {
    pub fn new(value: T) -> Held<T> {
        Held {
            signal: held(Arc::new(value)),
            of: PhantomData,
        }
    }

    pub fn with<R>(&self, look: impl FnOnce(&T) -> R) -> R {
        look(value(&self.signal.get()))
    }

    /// Looks at it without hearing of its changes.
    pub fn with_untracked<R>(&self, look: impl FnOnce(&T) -> R) -> R {
        look(value(&self.signal.get_untracked()))
    }

    pub fn get(&self) -> T
    where
        T: Clone,
    {
        self.with(T::clone)
    }

    pub fn get_untracked(&self) -> T
    where
        T: Clone,
    {
        self.with_untracked(T::clone)
    }

    pub fn set(&self, value: T) {
        set(self.signal, Arc::new(value));
    }

    pub fn update(&self, edit: impl FnOnce(&mut T))
    where
        T: Clone,
    {
        let mut value = self.get_untracked();
        edit(&mut value);
        self.set(value);
    }

    /// Hears of its changes without looking at it.
    pub fn track(&self) {
        self.signal.track();
    }
}

fn held(value: Whole) -> RwSignal<Whole> {
    RwSignal::new(value)
}

fn set(signal: RwSignal<Whole>, value: Whole) {
    signal.set(value);
}

impl<T: PartialEq + Send + Sync + 'static> Derived<T> {
    /// A value that never changes.
    pub fn fixed(value: T) -> Derived<T>
    where
        T: Clone,
    {
        memo(move || value.clone())
    }

    pub fn with<R>(&self, look: impl FnOnce(&T) -> R) -> R {
        look(value(&self.memo.get()))
    }

    pub fn get(&self) -> T
    where
        T: Clone,
    {
        self.with(T::clone)
    }

    /// Looks at it without hearing of its changes.
    pub fn with_untracked<R>(&self, look: impl FnOnce(&T) -> R) -> R {
        look(value(&self.memo.get_untracked()))
    }

    pub fn get_untracked(&self) -> T
    where
        T: Clone,
    {
        self.with_untracked(T::clone)
    }
}

impl<T> Derived<T> {
    /// Hears of its changes without looking at it.
    pub fn track(&self) {
        self.memo.track();
    }
}

impl<T: Default + Send + Sync + 'static> Default for Held<T> {
    fn default() -> Held<T> {
        Held::new(T::default())
    }
}

impl<T: Clone + Default + PartialEq + Send + Sync + 'static> Default for Derived<T> {
    fn default() -> Derived<T> {
        Derived::fixed(T::default())
    }
}

impl<T: Clone + PartialEq + Send + Sync + 'static> From<Held<T>> for Derived<T> {
    fn from(held: Held<T>) -> Derived<T> {
        memo(move || held.get())
    }
}

impl<T> Clone for Held<T> {
    fn clone(&self) -> Held<T> {
        *self
    }
}

impl<T> Copy for Held<T> {}

impl<T> Clone for Derived<T> {
    fn clone(&self) -> Derived<T> {
        *self
    }
}

impl<T> Copy for Derived<T> {}
