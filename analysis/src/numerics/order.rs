//! Lists put in order.

use std::cmp::Ordering;

/// Puts a list in order as `sort_by` does: equals stay as they are. All kinds of lists share one sort, of places; the
/// library's own is some kilobytes of a module for each kind of list.
pub fn put_in_order<T>(list: &mut [T], compare: impl Fn(&T, &T) -> Ordering) {
    let mut order = places(list.len(), &|a, b| compare(&list[a], &list[b]));
    for to in 0..list.len() {
        // What stood there was moved on where its place was given away.
        let mut from = order[to];
        while from < to {
            from = order[from];
        }
        order[to] = from;
        list.swap(to, from);
    }
}

/// The places of a list in its order.
fn places(count: usize, compare: &dyn Fn(usize, usize) -> Ordering) -> Vec<usize> {
    let mut places: Vec<usize> = (0..count).collect();
    places.sort_by(|&a, &b| compare(a, b));
    places
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn the_order_is_that_of_the_library(list: Vec<(u8, usize)>) {
            let by = |a: &(u8, usize), b: &(u8, usize)| a.0.cmp(&b.0);
            let (mut own, mut known) = (list.clone(), list);
            put_in_order(&mut own, by);
            known.sort_by(by);
            prop_assert_eq!(own, known);
        }
    }
}
