//! Where the choices of a generator come from.

/// A row of numbers that is used up: first a fuzzer's bytes, then a fixed sequence that looks random (Steele, Lea and
/// Flood, "Fast Splittable Pseudorandom Number Generators", 2014: SplitMix64).
pub struct Numbers<'a> {
    bytes: &'a [u8],
    state: u64,
}

impl Numbers<'_> {
    pub fn of_seed(seed: u64) -> Numbers<'static> {
        Numbers {
            bytes: &[],
            state: seed.wrapping_mul(0x2545_f491_4f6c_dd1d),
        }
    }

    pub fn of_bytes(bytes: &[u8]) -> Numbers<'_> {
        Numbers { bytes, state: 0 }
    }

    pub fn next(&mut self) -> u64 {
        if let Some((first, rest)) = self.bytes.split_first_chunk::<8>() {
            self.bytes = rest;
            return u64::from_le_bytes(*first);
        }
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to 1.
    pub fn part(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Yes in this share of cases.
    pub fn chance(&mut self, share: f64) -> bool {
        self.part() < share
    }

    /// From 0 up to but without `end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    pub fn one_of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }

    /// Between two numbers or one of them: alike in every decade where both are above 0.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        match self.below(6) {
            0 => low,
            1 => high,
            _ if low > 0.0 => (low * (high / low).powf(self.part())).clamp(low, high),
            // Of either sign, and alike in every decade of twelve.
            2 => (high * 10f64.powf(-12.0 * self.part())).clamp(low, high),
            3 => (low * 10f64.powf(-12.0 * self.part())).clamp(low, high),
            _ => (low + (high - low) * self.part()).clamp(low, high),
        }
    }
}
