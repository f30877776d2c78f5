//! Where a value of a design has gone when lists of it have changed.

use serde_json::Value;

/// The path that a value at `path` of the design `before` has in the design `after`, both as trees: entries of lists
/// that moved take what is in them along. `None` when the entry is gone. What stands in no list keeps its path.
///
/// Of entries that are alike in all they hold, the ones nearest to the list's ends count as those that stayed.
pub fn moved(path: &str, before: &Value, after: &Value) -> Option<String> {
    let (mut old, mut new) = (Some(before), Some(after));
    let mut out = String::with_capacity(path.len());
    for step in path.split('/').skip(1) {
        let mut taken = step.to_owned();
        if let (Some(Value::Array(old)), Some(Value::Array(new))) = (old, new)
            && let Ok(place) = step.parse()
        {
            taken = entry(place, old, new)?.to_string();
        }
        old = old.and_then(|tree| child(tree, step));
        new = new.and_then(|tree| child(tree, &taken));
        out.push('/');
        out.push_str(&taken);
    }
    Some(out)
}

fn child<'a>(tree: &'a Value, step: &str) -> Option<&'a Value> {
    match tree {
        Value::Array(list) => list.get(step.parse::<usize>().ok()?),
        Value::Object(map) => map.get(&step.replace("~1", "/").replace("~0", "~")),
        _ => None,
    }
}

/// Where the entry of the list `old` at `place` is in the list `new`.
fn entry(place: usize, old: &[Value], new: &[Value]) -> Option<usize> {
    let own = old.get(place)?;
    if old.len() == new.len() {
        // Two that were swapped; or else one that was changed where it is.
        let is_here = |at: &usize| new[*at] == *own && old[*at] != *own;
        let is_same = new[place] == *own;
        let there = (!is_same).then(|| (0..new.len()).find(is_here)).flatten();
        return Some(there.unwrap_or(place));
    }
    let pairs = old.iter().zip(new);
    let head = pairs.take_while(|(a, b)| a == b).count();
    if place < head {
        return Some(place);
    }
    let most = old.len().min(new.len()) - head;
    let pairs = old.iter().rev().zip(new.iter().rev()).take(most);
    let tail = pairs.take_while(|(a, b)| a == b).count();
    if place >= old.len() - tail {
        return Some(place + new.len() - old.len());
    }
    (head..new.len() - tail).find(|at| new[*at] == *own)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn stages(names: &[&str]) -> Value {
        let list = names.iter().map(|name| json!({ "circuit": name, "q": 1 }));
        json!({ "stages": list.collect::<Vec<_>>(), "shelf": { "r": 1 } })
    }

    fn place(at: usize, before: &[&str], after: &[&str]) -> Option<usize> {
        let found = moved(&format!("/stages/{at}/q"), &stages(before), &stages(after));
        found.map(|path| {
            let path = path.strip_prefix("/stages/").unwrap();
            path.strip_suffix("/q").unwrap().parse().unwrap()
        })
    }

    #[test]
    fn entries_are_followed_when_others_come_go_and_change_places() {
        let before = ["a", "b", "c"];
        for (after, expected) in [
            (&["a", "b", "c"][..], [Some(0), Some(1), Some(2)]),
            (&["b", "a", "c"], [Some(1), Some(0), Some(2)]),
            (&["a", "x", "b", "c"], [Some(0), Some(2), Some(3)]),
            (&["x", "y", "a", "b", "c"], [Some(2), Some(3), Some(4)]),
            (&["b", "c"], [None, Some(0), Some(1)]),
            (&["a", "c"], [Some(0), None, Some(1)]),
            (&["x", "b", "y", "z"], [None, Some(1), None]),
            (&["a", "x", "c"], [Some(0), Some(1), Some(2)]),
            (&[], [None, None, None]),
        ] {
            for (at, expected) in expected.into_iter().enumerate() {
                assert_eq!(place(at, &before, after), expected, "{at} in {after:?}");
            }
        }
    }

    #[test]
    fn one_of_several_alike_stays_when_it_can() {
        assert_eq!(place(0, &["a", "a"], &["a", "a", "a"]), Some(0));
        assert_eq!(place(1, &["a", "b", "a"], &["a", "x", "a"]), Some(1));
        assert_eq!(place(2, &["a", "b", "a"], &["b", "a"]), Some(1));
    }

    #[test]
    fn lists_within_lists_are_followed_and_what_is_in_no_list_stays() {
        let of = |outer: &[&[u32]]| json!({ "lists": outer.iter().map(|inner| json!({ "of": inner })).collect::<Vec<_>>() });
        let (before, after) = (of(&[&[1, 2], &[3]]), of(&[&[3], &[1, 2]]));
        assert_eq!(
            moved("/lists/0/of/1", &before, &after).as_deref(),
            Some("/lists/1/of/1")
        );
        assert_eq!(
            moved("/shelf/r", &stages(&["a"]), &stages(&[])).as_deref(),
            Some("/shelf/r")
        );
    }
}
