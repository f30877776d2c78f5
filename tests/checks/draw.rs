//! Numbers at random, the same in every run.

use std::f64::consts::TAU;

use num_complex::Complex64;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

pub struct Draw(ChaCha8Rng);

impl Draw {
    pub fn new(seed: u64) -> Draw {
        Draw(ChaCha8Rng::seed_from_u64(seed))
    }

    /// As likely everywhere.
    pub fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// As likely in every octave.
    pub fn corner(&mut self, low: f64, high: f64) -> f64 {
        self.even(low.ln(), high.ln()).exp()
    }

    /// From 0 to below the count.
    pub fn one_of(&mut self, count: u32) -> u32 {
        self.0.next_u32() % count
    }

    /// Real and imaginary part of unit deviation each, by Box and Muller's transform.
    pub fn normal(&mut self) -> Complex64 {
        let size = (-2.0 * (1.0 - self.even(0.0, 1.0)).ln()).sqrt();
        size * Complex64::cis(self.even(0.0, TAU))
    }
}
