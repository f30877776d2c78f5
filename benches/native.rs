//! Times the native crate on what `cargo xtask bench` asks for, and says so in one JSON object.
//!
//! Arguments: a Design to pick parts for, the same with its parts pinned, boards, frequencies,
//! repeats, a Design of a path, and that path's stages as Designs of their own.

mod timed;

use polewright::{bands_json, extremes_json, pick_json};
use timed::timed;

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
        "bands": timed(repeats, || bands_json(pinned, boards, frequencies)),
        "bands_at_two": timed(repeats, || bands_json(pinned, boards, 2)),
        "pick": timed(repeats, || pick_json(design)),
        "path": timed(repeats, || extremes_json(path, boards, frequencies)),
        "path_at_two": timed(repeats, || extremes_json(path, boards, 2)),
        "path_pick": timed(repeats, || stages.iter().map(|stage| pick_json(stage)).collect::<Vec<_>>()),
    });
    println!("{times}");
}
