//! Bisection: closing in on the place where a condition changes.
//!
//! The caller asks for the middle, tests it and tells: so a test may fail, take long, or need what the last one found.

/// Two places: a condition holds at one, and not at the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bracket {
    pub holds: f64,
    pub fails: f64,
}

impl Bracket {
    /// Half-way between both.
    pub fn middle(&self) -> f64 {
        0.5 * (self.holds + self.fails)
    }

    /// Half-way on a logarithmic scale; both lie above 0.
    pub fn log_middle(&self) -> f64 {
        (self.holds * self.fails).sqrt()
    }

    /// Takes in whether the condition holds at a place between both.
    pub fn learn(&mut self, place: f64, holds: bool) {
        match holds {
            true => self.holds = place,
            false => self.fails = place,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Bracket;

    #[test]
    fn the_place_of_a_change_is_found_on_both_scales() {
        let start = Bracket {
            holds: 8.0,
            fails: 0.5,
        };
        for middle in [Bracket::middle, Bracket::log_middle] {
            let mut bracket = start;
            for _ in 0..50 {
                let place = middle(&bracket);
                bracket.learn(place, place >= 3.0);
            }
            assert!(bracket.holds >= 3.0 && bracket.fails < 3.0);
            assert!(bracket.holds - bracket.fails < 1e-12);
        }
    }
}
