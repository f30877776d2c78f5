//! Times the native crate on the loops that `cargo xtask bench` asks for, and says so in one JSON object.
//!
//! Arguments: repeats, a file with a sweep of many rows, how many points of it are kept, and Designs to be
//! solved.

mod timed;

use polewright::plant::sweep;
use polewright::solve_json;
use timed::timed;

fn main() {
    // Cargo adds --bench.
    let given: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| word != "--bench")
        .collect();
    let [repeats, rows, kept, designs @ ..] = given.as_slice() else {
        eprintln!("run me by `cargo xtask bench`");
        return;
    };
    let repeats = repeats.parse().expect("a number");
    let kept = kept.parse().expect("a number");
    let text = std::fs::read_to_string(rows).expect("a file");
    let solved = designs
        .iter()
        .map(|design| timed(repeats, || solve_json(design)));
    let times = serde_json::json!({
        "read": timed(repeats, || sweep::read(&text, None).sweep.thinned(kept)),
        "solve": solved.collect::<Vec<_>>(),
    });
    println!("{times}");
}
