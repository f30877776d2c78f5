//! Angles without whole turns.

/// The same direction, above −180° and up to 180°.
pub(super) fn wrapped(degrees: f64) -> f64 {
    let turned = (degrees + 180.0).rem_euclid(360.0) - 180.0;
    if turned == -180.0 { 180.0 } else { turned }
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn half_a_turn_is_positive() {
        assert_eq!([-540.0, -180.0, 180.0].map(wrapped), [180.0; 3]);
        assert_eq!([-190.0, 0.0, 370.0].map(wrapped), [170.0, 0.0, 10.0]);
    }
}
