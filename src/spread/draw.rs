//! Drawing boards.
//!
//! Every board has its own stretch of one ChaCha8 key stream, so a board is the same whether it is
//! drawn first, last, or alone, in one slice or in many, natively or in WebAssembly. Terms as in
//! JCGM 101:2008: each part is an input quantity with a rectangular (6.4.2) or a cut Gaussian (6.4.7)
//! distribution.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// How a part's value lies within its tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Law {
    /// Every value within the tolerance is as likely.
    Uniform,
    /// Normal with the tolerance at three sigma, cut there.
    Normal,
}

/// How far one part strays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stray {
    /// Value as marked, SI.
    pub nominal: f64,
    /// Largest relative deviation as delivered.
    pub tolerance: f64,
    /// Largest relative drift per kelvin, either sign.
    pub tempco: f64,
}

/// The boards of one spread: [`Draws::board`] gives any of them.
pub struct Draws {
    strays: Vec<Stray>,
    law: Law,
    temperature_span: f64,
    random: ChaCha8Rng,
    normal: Normal,
}

impl Draws {
    /// `temperature_span` in K to each side.
    pub fn new(strays: Vec<Stray>, law: Law, temperature_span: f64, seed: u64) -> Draws {
        Draws {
            strays,
            law,
            temperature_span,
            random: ChaCha8Rng::seed_from_u64(seed),
            normal: Normal::standard(),
        }
    }

    /// How far each part strays.
    pub fn strays(&self) -> &[Stray] {
        &self.strays
    }

    /// The part values of board number `index`, written to `values`.
    ///
    /// A board takes one draw for its temperature and two a part: its deviation and its drift.
    pub fn board(&mut self, index: u64, values: &mut [f64]) {
        let words = 2 * (1 + 2 * self.strays.len() as u128);
        self.random.set_word_pos(u128::from(index) * words);
        let temperature = self.temperature_span * (2.0 * self.unit() - 1.0);
        for (part, value) in values.iter_mut().enumerate() {
            let Stray {
                nominal,
                tolerance,
                tempco,
            } = self.strays[part];
            let deviation = tolerance * self.deviation();
            let drift = tempco * (2.0 * self.unit() - 1.0) * temperature;
            *value = nominal * (1.0 + deviation) * (1.0 + drift);
        }
    }

    /// Uniform in (0, 1), never an end.
    fn unit(&mut self) -> f64 {
        ((self.random.next_u64() >> 12) as f64 + 0.5) / (1u64 << 52) as f64
    }

    /// In (−1, 1) by the law.
    fn deviation(&mut self) -> f64 {
        let unit = self.unit();
        match self.law {
            Law::Uniform => 2.0 * unit - 1.0,
            Law::Normal => {
                /// The standard normal distribution function at −3.
                const TAIL: f64 = 0.001_349_898_031_630_094_6;
                self.normal.inverse_cdf(TAIL + unit * (1.0 - 2.0 * TAIL)) / 3.0
            }
        }
    }
}
