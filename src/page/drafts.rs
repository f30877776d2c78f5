//! What is typed and not, or not yet as it stands there, in the design.
//!
//! A draft goes with its field: it moves where the field moves, and it goes only where the field is gone. A design that
//! is left as a whole takes its drafts along, and brings them back when it comes back.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashSet};

use crate::page::prelude::*;
use serde_json::Value;

use super::desk::Desk;
use super::focus;
use crate::design::{About, Design, Field, ServoDesign, fields, moved};

/// Texts by the paths of their fields.
pub type Texts = BTreeMap<String, String>;

/// Designs that were left with drafts and are remembered.
const MOST_LEFT: usize = 20;

thread_local! {
    static LEFT: RefCell<Vec<Left>> = const { RefCell::new(Vec::new()) };
}

/// A design that was left, with what was typed in it.
struct Left {
    design: Design,
    drafts: Texts,
    unread: Texts,
}

impl Desk {
    /// Takes what was typed into a field: into the design when it can be read, beside it when not. The design then has
    /// what it had before: on the way to "5 kΩ" a frequency was "5 k", which nobody asked for.
    pub fn type_in(&self, field: &Field, text: String) {
        self.begin(&field.path);
        self.drafts.update(|drafts| {
            drafts.insert(field.path.clone(), text.clone());
        });
        let changed = field.read(&text).and_then(|value| {
            self.design
                .with_untracked(|design| design.with(&field.path, value))
        });
        match changed {
            Ok(design) => {
                self.forget_error(&field.path);
                // Of this field's own draft nothing has to be followed.
                let has_others = self.drafts.with_untracked(|drafts| drafts.len() > 1);
                match has_others {
                    true => self.replace(design),
                    false => self.put(design),
                }
                self.entry.set_value(Some(field.path.clone()));
            }
            Err(sentence) => {
                self.unread.update(|unread| {
                    unread.insert(field.path.clone(), sentence);
                });
                self.take_back(&field.path);
            }
        }
    }

    /// Remembers what the design holds at a path, where nothing is typed there yet.
    fn begin(&self, path: &str) {
        if self
            .drafts
            .with_untracked(|drafts| drafts.contains_key(path))
        {
            return;
        }
        let value = self
            .tree
            .with_untracked(|tree| tree.pointer(path).map(Value::to_string));
        self.begun.update(|begun| match value {
            Some(value) => {
                begun.insert(path.to_owned(), value);
            }
            None => {
                begun.remove(path);
            }
        });
    }

    /// Gives the design what it had at a path before that was typed into.
    fn take_back(&self, path: &str) {
        let begun = self.begun.with_untracked(|begun| begun.get(path).cloned());
        let Some(value) = begun.and_then(|text| serde_json::from_str(&text).ok()) else {
            return;
        };
        let before = self
            .design
            .with_untracked(|design| design.with(path, value));
        if let Ok(before) = before
            && self.design.with_untracked(|design| *design != before)
        {
            self.put(before);
        }
    }

    /// Steps a field's value by so many arrow presses.
    pub fn step(&self, field: &Field, steps: i32) {
        let value = self
            .tree
            .with_untracked(|tree| tree.pointer(&field.path).cloned().unwrap_or_default());
        if let Some(next) = field.stepped(&value, steps) {
            self.type_in(field, field.show(&next));
        }
    }

    /// A field was left: what could be read is shown in its final form from now on.
    pub fn leave(&self, field: &Field) {
        let has =
            |texts: Held<Texts>| texts.with_untracked(|texts| texts.contains_key(&field.path));
        if has(self.drafts) && !has(self.unread) {
            self.drafts.update(|drafts| {
                drafts.remove(&field.path);
            });
        }
    }

    fn forget_error(&self, path: &str) {
        if self
            .unread
            .with_untracked(|unread| unread.contains_key(path))
        {
            self.unread.update(|unread| {
                unread.remove(path);
            });
        }
    }

    /// Takes a changed design; drafts go with their fields.
    pub fn replace(&self, design: Design) {
        if self.has_drafts() {
            let after = serde_json::to_value(&design).unwrap_or_default();
            let before = self.tree.get_untracked();
            self.carry(&design, &|path| moved(path, &before, &after));
        }
        self.entry.set_value(None);
        self.put(design);
    }

    /// Changes the path; drafts go with their stages.
    pub fn edit_path(&self, edit: impl FnOnce(&mut Design)) {
        let design = self.edited(edit);
        self.replace(design);
    }

    /// Moves stages of the path: `to` says where the stage of a place goes, `None` that it is taken away. Stages that are
    /// alike in all they hold are told apart by that.
    pub fn move_stages(&self, edit: impl FnOnce(&mut Design), to: impl Fn(usize) -> Option<usize>) {
        let design = self.edited(edit);
        if self.has_drafts() {
            self.carry(&design, &|path| match stage_of(path) {
                Some((place, rest)) => Some(format!("/stages/{}/{rest}", to(place)?)),
                None => Some(path.to_owned()),
            });
        }
        self.put(design);
    }

    /// Changes plant and loop; drafts go with their fields.
    pub fn edit_plant(&self, edit: impl FnOnce(&mut ServoDesign)) {
        let mut design = self.design.get_untracked();
        edit(&mut design.servo);
        self.replace(design);
    }

    pub fn edit_about(&self, edit: impl FnOnce(&mut About)) {
        let mut design = self.design.get_untracked();
        edit(&mut design.about);
        self.replace(design);
    }

    /// Takes another design as a whole, as from a link or from the browser's way back.
    pub fn take(&self, design: Design) {
        if self.design.with_untracked(|now| *now == design) {
            return;
        }
        self.remember_drafts();
        let (drafts, unread) = LEFT.with_borrow_mut(|left| {
            let place = left.iter().position(|left| left.design == design);
            place
                .map(|place| left.remove(place))
                .map_or_else(Default::default, |left| (left.drafts, left.unread))
        });
        self.drafts.set(drafts);
        self.unread.set(unread);
        self.begun.set(Texts::new());
        self.put(design);
    }

    /// Remembers the drafts of the design as it is now, for when it comes back.
    pub fn remember_drafts(&self) {
        let design = self.design.get_untracked();
        LEFT.with_borrow_mut(|left| {
            left.retain(|left| left.design != design);
            if self.has_drafts() {
                let (drafts, unread) = (self.drafts.get_untracked(), self.unread.get_untracked());
                left.push(Left {
                    design,
                    drafts,
                    unread,
                });
            }
            if left.len() > MOST_LEFT {
                left.remove(0);
            }
        });
    }

    /// Brings back what was typed in these stages when they were taken away.
    pub fn bring_back_drafts(&self) {
        let found = LEFT.with_borrow(|left| {
            self.design.with_untracked(|design| {
                let same = left
                    .iter()
                    .rfind(|left| left.design.stages == design.stages);
                same.map(|left| (left.drafts.clone(), left.unread.clone()))
            })
        });
        let Some((drafts, unread)) = found else {
            return;
        };
        for (texts, own) in [(self.drafts, drafts), (self.unread, unread)] {
            let own = own.into_iter().filter(|(path, _)| stage_of(path).is_some());
            texts.update(|texts| texts.extend(own));
        }
    }

    /// Whether a stage has a draft that cannot be read.
    pub fn has_unread(&self, stage: usize) -> bool {
        let is_own = |path: &String| stage_of(path).is_some_and(|(place, _)| place == stage);
        self.unread.with(|unread| unread.keys().any(is_own))
    }

    fn edited(&self, edit: impl FnOnce(&mut Design)) -> Design {
        let mut design = self.design.get_untracked();
        edit(&mut design);
        design.view.stage = design.view.stage.min(design.stages.len().saturating_sub(1));
        focus::keep();
        design
    }

    fn has_drafts(&self) -> bool {
        self.drafts.with_untracked(|drafts| !drafts.is_empty())
    }

    /// Gives drafts the paths that their fields have in `design`; those without a field go.
    fn carry(&self, design: &Design, to: &dyn Fn(&str) -> Option<String>) {
        let fields = fields(design);
        let known: HashSet<&str> = fields
            .iter()
            .map(|(_, field)| field.path.as_str())
            .collect();
        for texts in [self.drafts, self.unread, self.begun] {
            let mut carried = Texts::new();
            texts.with_untracked(|texts| {
                for (path, text) in texts {
                    if let Some(path) = to(path).filter(|path| known.contains(path.as_str())) {
                        carried.insert(path, text.clone());
                    }
                }
            });
            if texts.with_untracked(|texts| *texts != carried) {
                texts.set(carried);
            }
        }
    }
}

/// A path's stage, and what is behind it.
fn stage_of(path: &str) -> Option<(usize, &str)> {
    let (place, rest) = path.strip_prefix("/stages/")?.split_once('/')?;
    Some((place.parse().ok()?, rest))
}
