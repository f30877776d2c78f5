//! The cursor that reads a chart: by pointer or by arrow keys.

use crate::page::prelude::*;
use leptos::ev;
use wasm_bindgen::JsCast;

use crate::plots::MARGINS;
use crate::quantity::{Unit, rounded};

/// What a chart's horizontal axis counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    /// Hz, drawn by its logarithm.
    Frequency,
    /// s
    Time,
    /// A multiple of something.
    Ratio,
}

impl Along {
    pub fn text(self, x: f64) -> String {
        match self {
            Along::Frequency => rounded(x, Unit::Hertz, 4),
            Along::Time => rounded(x, Unit::Second, 4),
            Along::Ratio => format!("{x:.2} ×"),
        }
    }

    /// Where a frequency or a time stands on the axis.
    pub fn drawn(self, x: f64) -> f64 {
        match self {
            Along::Frequency => x.log10(),
            Along::Time | Along::Ratio => x,
        }
    }

    fn share(self, (low, high): (f64, f64), x: f64) -> f64 {
        (self.drawn(x) - self.drawn(low)) / (self.drawn(high) - self.drawn(low))
    }

    fn at(self, (low, high): (f64, f64), share: f64) -> f64 {
        match self {
            Along::Frequency => low * (high / low).powf(share),
            Along::Time | Along::Ratio => low + share * (high - low),
        }
    }
}

/// The plot's place with its cursor; the canvas and whatever lies on it are its children.
#[component]
pub fn Cursor(
    #[prop(into)] name: String,
    along: Along,
    /// What the horizontal axis spans.
    #[prop(into)]
    ends: Derived<Option<(f64, f64)>>,
    /// Where the cursor stands; shared by charts that are read together.
    place: Held<Option<f64>>,
    children: Children,
) -> impl IntoView {
    let to_share = move |x: f64| {
        let share = along.share(ends.get()?, x);
        (0.0..=1.0).contains(&share).then_some(share)
    };
    let from_share = move |share: f64| {
        let ends = ends.get_untracked()?;
        Some(along.at(ends, share.clamp(0.0, 1.0)))
    };
    let share = memo(move || place.get().and_then(to_share));
    let moved = move |event: ev::PointerEvent| {
        let Some(target) = event
            .current_target()
            .and_then(|t| t.dyn_into::<web_sys::Element>().ok())
        else {
            return;
        };
        let frame = target.get_bounding_client_rect();
        let (left, right, ..) = MARGINS;
        let inside =
            (f64::from(event.client_x()) - frame.left() - left) / (frame.width() - left - right);
        place.set(if (-0.02..=1.02).contains(&inside) {
            from_share(inside)
        } else {
            None
        });
    };
    let keyed = move |event: ev::KeyboardEvent| {
        let stride = if event.shift_key() { 0.05 } else { 0.005 };
        let next = match event.key().as_str() {
            "ArrowLeft" => share.get_untracked().unwrap_or(0.5) - stride,
            "ArrowRight" => share.get_untracked().unwrap_or(0.5) + stride,
            "Home" => 0.0,
            "End" => 1.0,
            "Escape" => {
                place.set(None);
                return;
            }
            _ => return,
        };
        event.prevent_default();
        place.set(from_share(next));
    };
    let (left, right, top, bottom) = MARGINS;
    let hair = move || {
        share.get().map(|share| {
            let at = format!("calc({left}px + (100% - {}px) * {share})", left + right);
            let (top, bottom) = (format!("{top}px"), format!("{bottom}px"));
            view! { <div class="cursor-line" style:left=at style:top=top style:bottom=bottom></div> }
        })
    };
    view! {
        <div
            class="plot"
            tabindex="0"
            role="slider"
            aria-label=format!("{name}, cursor")
            aria-valuemin="0"
            aria-valuemax="100"
            aria-valuenow=move || format!("{:.0}", share.get().unwrap_or(0.0) * 100.0)
            aria-valuetext=move || place.get().map_or("no reading".into(), |x| along.text(x))
            on:pointermove=moved
            on:pointerleave=move |_| place.set(None)
            on:keydown=keyed
        >
            {children()}
            {hair}
        </div>
    }
}
