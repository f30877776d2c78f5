//! Times bands over many boards on one thread and on two, turn by turn, and says so in one JSON object.
//!
//! Arguments: a Design with its parts pinned, boards, frequencies, repeats.

mod timed;

use polewright::bands_json;
use rayon::{ThreadPool, ThreadPoolBuilder};
use timed::timed;

fn main() {
    // Cargo adds --bench.
    let given: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| word != "--bench")
        .collect();
    let [pinned, boards, frequencies, repeats] = given.as_slice() else {
        eprintln!("run me by `cargo xtask bench`");
        return;
    };
    let number = |text: &String| text.parse::<u32>().expect("a number");
    let [boards, frequencies, repeats] = [boards, frequencies, repeats].map(number);
    let pools = [1, 2].map(|threads| {
        let pool = ThreadPoolBuilder::new().num_threads(threads);
        pool.build().expect("threads")
    });
    let run =
        |pool: &ThreadPool| pool.install(|| timed(1, || bands_json(pinned, boards, frequencies)));
    let (mut one, mut two) = (Vec::new(), Vec::new());
    for _ in 0..repeats {
        one.extend(run(&pools[0]));
        two.extend(run(&pools[1]));
    }
    println!("{}", serde_json::json!({ "one": one, "two": two }));
}
