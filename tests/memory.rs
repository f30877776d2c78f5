//! Work after work keeps no more memory than it needs: live bytes are counted by an allocator of this binary.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicIsize, Ordering::Relaxed};

use polewright::design::Design;
use polewright::solve::{Progress, Work};
use serde_json::json;

static LIVE: AtomicIsize = AtomicIsize::new(0);

struct Counting;

// SAFETY: every call goes to the system's allocator as it came.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        LIVE.fetch_add(layout.size() as isize, Relaxed);
        // SAFETY: the caller's promise is passed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        LIVE.fetch_sub(layout.size() as isize, Relaxed);
        // SAFETY: the caller's promise is passed on.
        unsafe { System.dealloc(at, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// A few boards, with worst case, blame, table and proposals on the first edits alone, which take long.
fn design(plant: bool, q: f64) -> Design {
    let mut tree = json!({
        "stages": [
            {"circuit": "mfb-notch", "ask": {"family": "notch", "frequency": 2350.0, "q": q}},
            {"circuit": "gain-inverting", "ask": {"family": "gain"}}
        ],
        "spread": {"boards": 300},
        "view": {"compare": false, "blame": false, "propose": false}
    });
    if plant {
        tree["servo"] = json!({
            "model": {"modes": [{"frequency": 27.0, "damping": 0.1, "residue": 28_779.0}]},
            "shape": {"crossover": 200.0}
        });
    }
    Design::from_tree(tree).expect("a design")
}

/// The same two designs in turn, each worked on after the other: what is alive after each round is the same.
#[test]
fn edits_leave_nothing_behind() {
    const ROUNDS: usize = 100;
    let pairs = [
        [design(false, 2.0), design(false, 2.1)],
        [design(true, 2.0), design(true, 2.1)],
        [design(false, 2.0), design(true, 2.0)],
    ];
    for pair in pairs {
        let mut work = None;
        let mut live = Vec::with_capacity(2 * ROUNDS);
        for design in pair.iter().cycle().take(2 * ROUNDS) {
            let mut next = Work::begin_after(design, work.take()).expect("work");
            while next.advance(&mut || true).expect("progress") != Progress::Done {}
            work = Some(next);
            live.push(LIVE.load(Relaxed));
        }
        let (early, late) = (live[2 * ROUNDS / 4 - 1], live[2 * ROUNDS - 1]);
        println!("{early} bytes live after {} edits, {late} after {}", ROUNDS / 2, 2 * ROUNDS);
        // Half a kilobyte is far below anything that is kept of an edit.
        assert!(late - early < 512, "{early} bytes grew to {late}: {live:?}");
    }
}
