//! The larger and the smaller of two numbers as one comparison: `f64::max` is a call in WebAssembly, for the sake of NaN.

/// The second where it is larger than the first, and the first otherwise, also where the second is NaN.
#[inline]
pub fn larger(first: f64, second: f64) -> f64 {
    if second > first { second } else { first }
}

/// The second where it is smaller than the first, and the first otherwise, also where the second is NaN.
#[inline]
pub fn smaller(first: f64, second: f64) -> f64 {
    if second < first { second } else { first }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_stays_where_nothing_is_known_of_the_second() {
        assert_eq!((larger(1.0, 2.0), larger(2.0, 1.0)), (2.0, 2.0));
        assert_eq!((smaller(1.0, 2.0), smaller(2.0, 1.0)), (1.0, 1.0));
        assert_eq!((larger(1.0, f64::NAN), smaller(1.0, f64::NAN)), (1.0, 1.0));
    }
}
