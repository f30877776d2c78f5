//! The phase of boards at one frequency, counted from the board as marked.

use num_complex::Complex64;

use crate::response::Transfer;

/// Where the phase is told, and what is known of it.
#[derive(Clone, Copy, Debug)]
pub struct PhaseAt {
    /// Hz
    frequency: f64,
    /// Of the board as marked.
    reference: Complex64,
}

impl PhaseAt {
    /// At a frequency in Hz; `marked` is the response of the board as marked.
    pub fn new(frequency: f64, marked: &Transfer) -> PhaseAt {
        PhaseAt {
            frequency,
            reference: marked.at(frequency),
        }
    }

    /// The phase of a board in degrees. The marked board's lies from −180° to 180°; one less than half a turn from it is
    /// told by its distance, so that boards on both sides of ±180° lie together.
    pub fn of(&self, board: &Transfer) -> f64 {
        let response = board.at(self.frequency);
        if self.reference == Complex64::ZERO {
            return response.arg().to_degrees();
        }
        let from = (response / self.reference).arg();
        (self.reference.arg() + from).to_degrees()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A first-order all-pass of which the sign is turned: −2·atan(f/f₀) + 180°, through ±180° at 0 Hz alone; two of them
    /// pass it at their frequency (textbooks' formula).
    #[test]
    fn boards_on_both_sides_of_half_a_turn_lie_together() {
        let all_pass = |corner: f64| Transfer {
            num: vec![1.0, -2.0, 1.0],
            den: vec![1.0, 2.0, 1.0],
            omega: std::f64::consts::TAU * corner,
        };
        let phase = PhaseAt::new(420.0, &all_pass(420.5));
        for corner in [400.0, 415.0, 419.0, 420.0, 421.0, 430.0, 445.0] {
            let told = phase.of(&all_pass(corner));
            let known = -4.0 * (420.0f64 / corner).atan().to_degrees();
            assert!((told - known).abs() < 1e-9, "{corner}: {told} {known}");
        }
        let dead = Transfer {
            num: vec![0.0],
            den: vec![1.0],
            omega: 1.0,
        };
        assert_eq!(PhaseAt::new(420.0, &dead).of(&dead), 0.0);
    }
}
