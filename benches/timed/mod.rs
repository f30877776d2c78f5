//! A stopwatch.

use std::hint::black_box;
use std::time::Instant;

/// Milliseconds of each of `repeats` runs, after one that is not counted.
pub fn timed<T>(repeats: u32, work: impl Fn() -> T) -> Vec<f64> {
    black_box(work());
    let run = |_| {
        let start = Instant::now();
        black_box(work());
        start.elapsed().as_secs_f64() * 1e3
    };
    (0..repeats).map(run).collect()
}
