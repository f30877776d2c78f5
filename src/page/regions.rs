//! The page's regions: links to them, and which of them is being read.

use crate::page::prelude::*;
use leptos::ev::MouseEvent;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{
    Element, HtmlElement, IntersectionObserver, IntersectionObserverEntry, IntersectionObserverInit,
};

use super::begin;
use super::desk::Desk;
use super::fragment;
use super::turns;

/// A place that links lead to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Region {
    /// What a link's address ends in, behind the design.
    pub name: &'static str,
    pub label: &'static str,
    /// Where it is: the first of these that the page has.
    places: &'static [&'static str],
}

/// In the order of the page.
pub const REGIONS: [Region; 9] = [
    region("path", "Path", &["path"]),
    region("parts", "Parts", &["parts"]),
    region("op-amps", "Op amps", &["op-amps"]),
    region("spread", "Spread", &["spread"]),
    region("noise", "Noise", &["noise"]),
    region("loop", "Loop", &["loop"]),
    // Without a plant there is no model, and a link leads to where a sweep goes in.
    region("plant", "Plant", &["model", "intake"]),
    region("bench", "Bench", &["bench"]),
    region("comparison", "Comparison", &["comparison"]),
];

const fn region(
    name: &'static str,
    label: &'static str,
    places: &'static [&'static str],
) -> Region {
    Region {
        name,
        label,
        places,
    }
}

/// The part of the window in which a region counts as being read: a strip below its upper edge.
const READ: &str = "-10% 0px -80% 0px";

/// What has the focus when somebody goes to a region.
const ENTRY: &str = "h2, h3, summary, button";

impl Region {
    /// The region of this name.
    pub fn named(name: &str) -> Option<Region> {
        REGIONS.into_iter().find(|region| region.name == name)
    }

    fn element(self) -> Option<Element> {
        let mut places = self.places.iter();
        places.find_map(|place| document().get_element_by_id(place))
    }

    /// Brings it to the top of the window, and the keyboard with it.
    pub fn go(self) {
        let Some(element) = self.element() else {
            return;
        };
        let entry = element.query_selector(ENTRY).ok().flatten();
        if let Some(entry) = entry.and_then(|entry| entry.dyn_into::<HtmlElement>().ok()) {
            if entry.tag_name().starts_with('H') {
                entry.set_tab_index(-1);
            }
            let _ = entry.focus();
        }
        element.scroll_into_view();
    }

    /// Whether the page has it: without a stage there are neither op amps nor a board.
    pub fn is_there(self, desk: Desk) -> impl Fn() -> bool + Copy {
        let needs_stage = ["op-amps", "bench"].contains(&self.name);
        move || !needs_stage || desk.form.with(|form| !form.circuits.is_empty())
    }

    /// Where its links lead: to this design and there, so that another tab shows the same. In this tab
    /// [`Region::follow`] goes there without the address.
    pub fn address(self, desk: Desk) -> impl Fn() -> String + Copy {
        move || fragment::address_of(desk, self)
    }

    /// Answers a click on one of its links; with a key held, or with another button, it is the browser's own affair.
    pub fn follow(self, event: &MouseEvent) {
        if event.ctrl_key() || event.meta_key() || event.shift_key() || event.alt_key() {
            return;
        }
        event.prevent_default();
        self.go();
    }
}

/// The region that is being read.
#[derive(Clone, Copy)]
pub struct Current(Held<Option<&'static str>>);

impl Current {
    /// What a link to a region says of it to assistive technology, and to the style sheet.
    pub fn mark(self, region: Region) -> impl Fn() -> Option<&'static str> + Copy {
        move || (self.0.get() == Some(region.name)).then_some("location")
    }
}

/// Follows which region is being read, for everything below.
pub fn watch(desk: Desk) {
    let current = Held::new(None);
    provide_context(Current(current));
    let inside = StoredValue::new([false; REGIONS.len()]);
    let kept = StoredValue::new_local(None);
    let has_plant = memo(move || desk.form.with(|form| form.plant.is_there()));
    Effect::new(move || {
        // The plant's model comes and goes with the plant. A memo that nobody reads follows nothing.
        let _ = has_plant.get();
        turns::at_rest(move || {
            inside.set_value([false; REGIONS.len()]);
            let observed = observe(move |place, is_in| {
                inside.update_value(|inside| inside[place] = is_in);
                // A region may stand within another one: the innermost comes last.
                let now = inside.with_value(|inside| inside.iter().rposition(|is_in| *is_in));
                let now = now.map(|place| REGIONS[place].name);
                if current.get_untracked() != now {
                    current.set(now);
                }
            });
            kept.update_value(|kept: &mut Option<Observed>| {
                if let Some((before, _)) = std::mem::replace(kept, observed) {
                    before.disconnect();
                }
            });
        });
    });
}

type Observed = (IntersectionObserver, Closure<dyn FnMut(js_sys::Array)>);

/// Tells of each region, by its place in [`REGIONS`], whether it is in the strip that is read; nothing where the
/// browser cannot tell.
fn observe(tell: impl Fn(usize, bool) + 'static) -> Option<Observed> {
    let look = Closure::<dyn FnMut(js_sys::Array)>::new(move |entries: js_sys::Array| {
        for entry in entries.iter() {
            let Ok(entry) = entry.dyn_into::<IntersectionObserverEntry>() else {
                continue;
            };
            let id = entry.target().id();
            let place = REGIONS.iter().position(|region| region.places[0] == id);
            if let Some(place) = place {
                tell(place, entry.is_intersecting());
            }
        }
    });
    let options = IntersectionObserverInit::new();
    options.set_root_margin(READ);
    let observer =
        IntersectionObserver::new_with_options(look.as_ref().unchecked_ref(), &options).ok()?;
    for region in REGIONS {
        if let Some(element) = document().get_element_by_id(region.places[0]) {
            observer.observe(&element);
        }
    }
    Some((observer, look))
}

/// Links to all regions, and the way in for who has a plant.
#[component]
pub fn Links() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let current = expect_context::<Current>();
    let links = REGIONS
        .map(|region| {
            let is_there = region.is_there(desk);
            view! {
                <li class:absent=move || !is_there()>
                    <a href=region.address(desk) aria-current=current.mark(region) on:click=move |event| region.follow(&event)>
                        {region.label}
                    </a>
                </li>
            }
        })
        .collect_nodes();
    let has_none = move || !desk.form.with(|form| form.plant.is_there());
    view! {
        <nav
            class="regions"
            aria-label="Regions"
            on:pointerdown=move |_| fragment::write_at_once(desk)
            on:keydown=move |_| fragment::write_at_once(desk)
        >
            <ul>{links}</ul>
            <Show when=has_none>
                <button type="button" on:click=move |_| begin::with_a_plant(desk)>"Begin with a plant"</button>
            </Show>
            <button type="button" on:click=move |_| begin::over(desk)>"Start over"</button>
        </nav>
    }
}
