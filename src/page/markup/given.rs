//! Values of attributes: given once, or read anew whenever they change.

use std::borrow::Cow;

use crate::page::signals::{Derived, Held};

/// The value of an attribute, a class, a style or a property.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    Nothing,
    /// There or not.
    Flag(bool),
    Text(Cow<'static, str>),
    Number(f64),
}

/// Where a value comes from.
pub enum Source {
    Fixed(Value),
    Live(Box<dyn FnMut() -> Value + Send>),
}

/// What may be given as a value.
pub trait Given {
    fn given(self) -> Source;
}

impl<F, T> Given for F
where
    F: FnMut() -> T + Send + 'static,
    T: Given,
{
    fn given(mut self) -> Source {
        Source::Live(Box::new(move || match self().given() {
            Source::Fixed(value) => value,
            Source::Live(mut read) => read(),
        }))
    }
}

impl<T: Given> Given for Option<T> {
    fn given(self) -> Source {
        self.map_or(Source::Fixed(Value::Nothing), T::given)
    }
}

impl Given for &str {
    fn given(self) -> Source {
        self.to_owned().given()
    }
}

impl Given for String {
    fn given(self) -> Source {
        Source::Fixed(Value::Text(Cow::Owned(self)))
    }
}

impl Given for bool {
    fn given(self) -> Source {
        Source::Fixed(Value::Flag(self))
    }
}

macro_rules! numbers {
    ($($number:ty),*) => {$(
        impl Given for $number {
            fn given(self) -> Source {
                Source::Fixed(Value::Number(self as f64))
            }
        }
    )*};
}

numbers!(f64, i32, u32, usize);

macro_rules! signals {
    ($($signal:ident),*) => {$(
        impl<T> Given for $signal<T>
        where
            T: Given + Clone + PartialEq + Send + Sync + 'static,
        {
            fn given(self) -> Source {
                (move || self.get()).given()
            }
        }
    )*};
}

signals!(Derived, Held);
