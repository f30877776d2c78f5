//! Which rows are asked for.

use anyhow::{Context, Result};

/// Rows that are measured together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    Engines,
    Bands,
    Threads,
    Workers,
    Catalogue,
    Keyboard,
    Million,
    Advice,
    Loops,
    LoopKeyboard,
    Intake,
    Measured,
    Weight,
}

/// All of them by name, in the table's order.
const GROUPS: [(&str, Group); 13] = [
    ("engines", Group::Engines),
    ("bands", Group::Bands),
    ("threads", Group::Threads),
    ("workers", Group::Workers),
    ("catalogue", Group::Catalogue),
    ("keyboard", Group::Keyboard),
    ("million", Group::Million),
    ("advice", Group::Advice),
    ("loops", Group::Loops),
    ("loop-keyboard", Group::LoopKeyboard),
    ("intake", Group::Intake),
    ("measured", Group::Measured),
    ("weight", Group::Weight),
];

/// The groups that are asked for.
#[derive(Debug, PartialEq)]
pub struct Groups(Vec<Group>);

impl Groups {
    /// The groups of these names; all where there are none.
    ///
    /// # Errors
    /// A sentence that lists the groups, where one of the names is no group's.
    pub fn named(names: &[String]) -> Result<Groups> {
        if names.is_empty() {
            return Ok(Groups(GROUPS.map(|(_, group)| group).to_vec()));
        }
        let group = |name: &String| {
            let mut all = GROUPS.iter();
            let found = all.find(|(known, _)| known == name);
            found.map(|(_, group)| *group).with_context(|| {
                let known = GROUPS.map(|(known, _)| known).join(", ");
                format!("`{name}` is no group of the benchmark's rows; the groups are {known}.")
            })
        };
        Ok(Groups(names.iter().map(group).collect::<Result<_>>()?))
    }

    /// Whether one of these is asked for.
    pub fn any(&self, groups: &[Group]) -> bool {
        groups.iter().any(|group| self.0.contains(group))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_choose_groups() {
        let named = |names: &[&str]| {
            let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
            Groups::named(&names)
        };
        let two = named(&["weight", "keyboard"]).expect("groups");
        assert!(two.any(&[Group::Keyboard]) && two.any(&[Group::Bands, Group::Weight]));
        assert!(!two.any(&[Group::LoopKeyboard, Group::Million]));
        let all = named(&[]).expect("groups");
        assert!(GROUPS.iter().all(|(_, group)| all.any(&[*group])));
        let error = named(&["weight", "key"]).expect_err("no group").to_string();
        assert!(error.starts_with("`key` is no group"), "{error}");
        assert!(
            GROUPS.iter().all(|(name, _)| error.contains(name)),
            "{error}"
        );
    }
}
