//! Times the native crate on what `cargo xtask bench` asks for, and says so in one JSON object.
//!
//! Arguments: a Design to pick parts for, the same with its parts pinned, boards, frequencies,
//! repeats, a Design of a path, and that path's stages as Designs of their own.

use std::hint::black_box;
use std::time::Instant;

use polewright::{extremes_json, pick_json};

fn main() {
    // Cargo adds --bench.
    let given: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| word != "--bench")
        .collect();
    let [
        design,
        pinned,
        boards,
        frequencies,
        repeats,
        path,
        stages @ ..,
    ] = given.as_slice()
    else {
        eprintln!("run me by `cargo xtask bench`");
        return;
    };
    let number = |text: &String| text.parse::<u32>().expect("a number");
    let [boards, frequencies, repeats] = [boards, frequencies, repeats].map(number);

    let times = serde_json::json!({
        "extremes": timed(repeats, || extremes_json(pinned, boards, frequencies)),
        "extremes_at_two": timed(repeats, || extremes_json(pinned, boards, 2)),
        "pick": timed(repeats, || pick_json(design)),
        "path": timed(repeats, || extremes_json(path, boards, frequencies)),
        "path_at_two": timed(repeats, || extremes_json(path, boards, 2)),
        "path_pick": timed(repeats, || stages.iter().map(|stage| pick_json(stage)).collect()),
    });
    println!("{times}");
}

/// Milliseconds of each of `repeats` runs, after one that is not counted.
fn timed(repeats: u32, work: impl Fn() -> String) -> Vec<f64> {
    black_box(work());
    let run = |_| {
        let start = Instant::now();
        black_box(work());
        start.elapsed().as_secs_f64() * 1e3
    };
    (0..repeats).map(run).collect()
}
