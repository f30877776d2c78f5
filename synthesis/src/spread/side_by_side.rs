//! Ranges of boards drawn side by side on threads; in a browser, which has none here, one after the other.

use std::ops::Range;

/// Workers at one run at most: each keeps counts of a few megabytes.
pub const MOST_WORKERS: usize = 8;

/// How many threads draw boards.
#[cfg(target_arch = "wasm32")]
pub fn threads() -> usize {
    1
}

/// How many threads draw boards.
#[cfg(not(target_arch = "wasm32"))]
pub fn threads() -> usize {
    rayon::current_num_threads().min(MOST_WORKERS)
}

/// What was read of each range, in any order. Each sampler is used by one thread at a time.
pub fn draw<S: Send, B: Send>(
    samplers: &mut [S],
    ranges: Vec<Range<u32>>,
    draw: impl Fn(&mut S, Range<u32>) -> B + Sync,
) -> Vec<(Range<u32>, B)> {
    match samplers {
        [only] => {
            let drawn = ranges.into_iter();
            drawn
                .map(|range| (range.clone(), draw(only, range)))
                .collect()
        }
        _ => on_threads(samplers, &ranges, draw),
    }
}

#[cfg(target_arch = "wasm32")]
fn on_threads<S, B>(
    samplers: &mut [S],
    ranges: &[Range<u32>],
    draw: impl Fn(&mut S, Range<u32>) -> B,
) -> Vec<(Range<u32>, B)> {
    let Some(first) = samplers.first_mut() else {
        return Vec::new();
    };
    let drawn = ranges.iter().cloned();
    drawn
        .map(|range| (range.clone(), draw(first, range)))
        .collect()
}

#[cfg(not(target_arch = "wasm32"))]
fn on_threads<S: Send, B: Send>(
    samplers: &mut [S],
    ranges: &[Range<u32>],
    draw: impl Fn(&mut S, Range<u32>) -> B + Sync,
) -> Vec<(Range<u32>, B)> {
    use rayon::prelude::*;
    use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
    // Whoever is free takes the next one.
    let next = AtomicUsize::new(0);
    let each = |sampler: &mut S| {
        let taken = std::iter::from_fn(|| ranges.get(next.fetch_add(1, Relaxed)).cloned());
        taken
            .map(|range| (range.clone(), draw(sampler, range)))
            .collect()
    };
    let drawn: Vec<Vec<_>> = samplers.par_iter_mut().map(each).collect();
    drawn.into_iter().flatten().collect()
}
