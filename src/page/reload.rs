//! What a reload opens. One that a script asks for opens the address that was there when it asked; what is written while
//! the page is being left is too late for that, so the tab keeps for it what that address stands for.

use leptos::prelude::window;
use web_sys::{PerformanceNavigation, Storage};

/// Under which name the tab keeps it.
const KEPT: &str = "left";

/// The fragment `before` stands for `after`.
pub fn keep(before: &str, after: &str) {
    if let Some(storage) = session() {
        // Full or forbidden, only this is lost.
        let _ = storage.set_item(KEPT, &format!("{before}\n{after}"));
    }
}

/// What a fragment stands for after a reload; told once.
pub fn kept(fragment: &str) -> Option<String> {
    let storage = session()?;
    let kept = storage.get_item(KEPT).ok()??;
    let _ = storage.remove_item(KEPT);
    let (before, after) = kept.split_once('\n')?;
    let navigation = window().performance()?.navigation();
    let is_reload = navigation.type_() == PerformanceNavigation::TYPE_RELOAD;
    (is_reload && before == fragment).then(|| after.to_owned())
}

/// What a tab keeps over a reload; none where that is forbidden.
pub fn session() -> Option<Storage> {
    window().session_storage().ok().flatten()
}
