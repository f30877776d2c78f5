//! The multiple-feedback notch in closed form, as a check on what the page shows.
//!
//! With an ideal op amp the stage of R1, R2, C1, C2 around the amplifier and the divider R3, R4 at
//! its other input has, with k = R4 / (R3 + R4), the transfer function
//!
//! ```text
//!        k + s (k (R2 C2 + R1 (C1 + C2)) - R2 C2) + s² k R1 R2 C1 C2
//! H(s) = -----------------------------------------------------------
//!                 1 + s R1 (C1 + C2) + s² R1 R2 C1 C2
//! ```
//!
//! Worked out by hand from the two node equations, apart from the program's own nodal analysis.

use std::f64::consts::TAU;

/// What a set of parts makes of the notch.
pub struct Notch {
    /// Where the gain is least, in Hz.
    pub frequency: f64,
    /// Frequency over the width between the points 3 dB below the gain at DC.
    pub q: f64,
    /// Attenuation at the notch, in dB below the gain at DC.
    pub depth_db: f64,
    /// Gain at DC, in dB.
    pub gain_db: f64,
}

impl Notch {
    /// From R1, R2, R3, R4 in ohm and C1, C2 in farad.
    pub fn of([r1, r2, r3, r4, c1, c2]: [f64; 6]) -> Self {
        let k = r4 / (r3 + r4);
        let period = (r1 * r2 * c1 * c2).sqrt();
        let damping = r1 * (c1 + c2);
        // At the notch only the terms in s are left of numerator and denominator.
        let least = (k * (r2 * c2 + damping) - r2 * c2) / damping;
        // With x = (1 - ω² R1 R2 C1 C2) / (ω R1 (C1 + C2)) the gain squared is
        // (k² x² + least²) / (x² + 1), which is k² / 2 where x² = 1 - 2 (least / k)².
        let edge = (1.0 - 2.0 * (least / k).powi(2)).sqrt();
        Self {
            frequency: 1.0 / (TAU * period),
            q: period / damping / edge,
            depth_db: decibels(k) - decibels(least),
            gain_db: decibels(k),
        }
    }
}

fn decibels(gain: f64) -> f64 {
    20.0 * gain.abs().log10()
}

/// The tuned stage of the handbooks: equal capacitors, k = R2 / (R2 + 2 R1), and a gain of nothing
/// at the notch.
#[test]
fn tuned_stage_has_no_gain_at_the_notch() {
    let q: f64 = 2.0;
    let (r1, c) = (1e3, 10e-9);
    let r2 = 4.0 * q * q * r1;
    let notch = Notch::of([r1, r2, 2.0 * r1, r2, c, c]);
    assert!((notch.q - q).abs() < 1e-9);
    assert!((notch.frequency - 1.0 / (TAU * c * (r1 * r2).sqrt())).abs() < 1e-6);
    assert!((notch.gain_db - decibels(8.0 / 9.0)).abs() < 1e-9);
    assert!(notch.depth_db > 200.0);
}
