//! Closed intervals of frequency, (from, to).

/// An interval times a number of either sign.
pub(super) fn times((from, to): (f64, f64), by: f64) -> (f64, f64) {
    if by < 0.0 {
        (to * by, from * by)
    } else {
        (from * by, to * by)
    }
}

pub(super) fn plus(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    (a.0 + b.0, a.1 + b.1)
}

/// The sizes of all that an interval holds.
pub(super) fn folded((from, to): (f64, f64)) -> (f64, f64) {
    if from <= 0.0 && to >= 0.0 {
        (0.0, to.max(-from))
    } else {
        let (a, b) = (from.abs(), to.abs());
        (a.min(b), a.max(b))
    }
}

/// What two intervals share; touching is sharing.
pub(super) fn shared(a: (f64, f64), b: (f64, f64)) -> Option<(f64, f64)> {
    let both = (a.0.max(b.0), a.1.min(b.1));
    (both.0 <= both.1).then_some(both)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_turn_intervals_round() {
        assert_eq!(times((1.0, 2.0), -3.0), (-6.0, -3.0));
        assert_eq!(folded((-6.0, -3.0)), (3.0, 6.0));
        assert_eq!(folded((-6.0, 3.0)), (0.0, 6.0));
        assert_eq!(shared((0.0, 1.0), (1.0, 2.0)), Some((1.0, 1.0)));
        assert_eq!(shared((0.0, 1.0), (1.5, 2.0)), None);
    }
}
