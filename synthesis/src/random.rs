//! Numbers as if by chance for searches, the same at every run.

/// From 0 to 1, the same sequence at every run (Steele, Lea and Flood, "Fast Splittable Pseudorandom Number
/// Generators", 2014: SplitMix64).
pub fn uniform(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}
