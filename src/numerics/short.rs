//! Short lists put in order.

use std::cmp::Ordering;

/// Puts a list of some dozens in order, as `sort_by` does: equals stay as they are. For what the page holds too: the
/// library's sort for long lists is four kilobytes of it for each kind of list.
pub fn put_in_order<T>(list: &mut [T], compare: impl Fn(&T, &T) -> Ordering) {
    for end in 1..list.len() {
        let mut at = end;
        while at > 0 && compare(&list[at - 1], &list[at]).is_gt() {
            list.swap(at - 1, at);
            at -= 1;
        }
    }
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
