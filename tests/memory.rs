//! Work after work keeps no more memory than it needs: live bytes are counted by an allocator of this binary.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicIsize, Ordering::Relaxed};

use polewright::design::Design;
use polewright::solve::{Step, Work};
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

/// One design or another, with an entry that is edited; worst case, table and proposals where `all` is wanted.
fn design(plant: bool, q: f64, all: bool) -> Design {
    let mut tree = json!({
        "stages": [
            {"circuit": "mfb-notch", "ask": {"family": "notch", "frequency": 2350.0, "q": q}},
            {"circuit": "gain-inverting", "ask": {"family": "gain"}}
        ],
        "spread": {"boards": 300},
        "view": {"compare": all, "blame": all, "propose": all}
    });
    if plant {
        tree["servo"] = json!({
            "model": {"modes": [{"frequency": 27.0, "damping": 0.1, "residue": 28_779.0}]},
            "shape": {"crossover": 200.0}
        });
    }
    Design::from_tree(tree).expect("a design")
}

/// Edits in a circle, each worked on after the other and most given up on the way, as somebody types: what is alive
/// after each round is what was alive after the one before.
#[test]
fn edits_leave_nothing_behind() {
    const ROUNDS: usize = 30;
    // How many times the work goes on; some to the end.
    let round = [
        (design(false, 2.0, false), 3),
        (design(true, 2.0, false), 10),
        (design(true, 2.1, false), usize::MAX),
        (design(true, 2.0, true), 60),
        (design(false, 2.1, true), 25),
        (design(false, 2.0, true), 400),
        (design(false, 2.2, false), usize::MAX),
    ];
    let mut work = Work::begin(&round[0].0).expect("work");
    let mut live = Vec::with_capacity(ROUNDS);
    for _ in 0..ROUNDS {
        for (design, most) in &round {
            work.change(design).expect("a design");
            for _ in 0..*most {
                let mut slices = 3;
                let mut go_on = || {
                    slices -= 1;
                    slices > 0
                };
                if work.advance(&mut go_on) == Step::Done {
                    break;
                }
            }
        }
        live.push(LIVE.load(Relaxed));
    }
    println!(
        "bytes live after each round of {} edits: {live:?}",
        round.len()
    );
    // Ten bytes an edit would be more in what is left of the 210 edits.
    let (early, late) = (live[ROUNDS / 3], live[ROUNDS - 1]);
    assert!(
        late - early < 1024,
        "{early} bytes grew to {late}: {live:?}"
    );
}
