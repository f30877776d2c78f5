//! A notch in closed form, by three numbers.

use crate::compensation::advice::notch_transfer;
use crate::response::Transfer;
use crate::stages::Ask;

/// A notch `(s² + (ω·d/Q)·s + ω²)/(s² + (ω/Q)·s + ω²)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dip {
    /// Hz.
    pub frequency: f64,
    /// Of its poles.
    pub q: f64,
    /// d, the gain at its centre, 0 to 1.
    pub gain: f64,
}

impl Dip {
    /// What a stage is asked for; none where it is no notch.
    pub fn of(ask: &Ask) -> Option<Dip> {
        match ask {
            Ask::Notch(notch) => Some(Dip {
                frequency: notch.frequency,
                q: notch.pole_q(),
                gain: notch.depth.gain(),
            }),
            _ => None,
        }
    }

    /// The notch as a transfer function.
    pub fn transfer(&self) -> Transfer {
        notch_transfer(self.frequency, self.q, self.gain)
    }

    /// Q times the distance from the centre: what decides the gain.
    pub(super) fn x(&self, f: f64) -> f64 {
        self.q * (f / self.frequency - self.frequency / f)
    }

    /// |H| at a frequency in Hz.
    pub fn size(&self, f: f64) -> f64 {
        left(self.x(f), self.gain)
    }

    /// The largest |H| at a frequency in Hz of all notches that stray by no more than these shares of frequency
    /// and Q.
    pub fn worst(&self, f: f64, variations: (f64, f64)) -> f64 {
        let off = [-1.0, 1.0].map(|side| self.strayed(side * variations.0, variations.1).size(f));
        off[0].max(off[1])
    }

    /// Phase that it takes at a frequency in Hz, degrees.
    pub fn cost(&self, f: f64) -> f64 {
        // Both factors over j: x − j·d and x − j, below the centre with x below 0.
        let x = self.x(f);
        ((self.gain - 1.0) * x)
            .atan2(x * x + self.gain)
            .to_degrees()
    }

    /// The same strayed by these shares of frequency and Q.
    pub fn strayed(&self, frequency: f64, q: f64) -> Dip {
        Dip {
            frequency: self.frequency * (1.0 + frequency),
            q: self.q * (1.0 + q),
            ..*self
        }
    }
}

/// √((x² + d²)/(x² + 1)).
fn left(x: f64, d: f64) -> f64 {
    ((x * x + d * d) / (x * x + 1.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn size_and_cost_are_those_of_the_transfer_function() {
        let dip = Dip {
            frequency: 1000.0,
            q: 1.7,
            gain: 0.2,
        };
        for f in [100.0, 700.0, 1300.0, 5000.0] {
            let there = dip.transfer().at(f);
            assert!((there.norm() - dip.size(f)).abs() < 1e-12);
            assert!((there.arg().to_degrees() + dip.cost(f)).abs() < 1e-9, "{f}");
        }
    }
}
