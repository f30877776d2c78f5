//! Boards side by side: the outcome is the same to the last bit for any number of threads and of other workers, in
//! whatever order they answer, and whoever of them dies.

use std::collections::VecDeque;

use polewright::exchange::{HelperOrder, HelperReport, HelperSession, decode, encode};
use polewright::solve_json;
use serde_json::{Value, json};

use super::asks::Random;
use super::exchange::Remote;

/// So many turns of anything are enough.
const ENOUGH: usize = 100_000;

fn notch() -> Value {
    json!({"circuit": "mfb-notch", "ask": {"family": "notch", "frequency": 2350.0, "q": 2.0}})
}

fn path(stages: usize) -> Vec<Value> {
    let all = [
        notch(),
        json!({"circuit": "gain-inverting", "ask": {"family": "gain"}}),
        json!({"circuit": "sallen-key-low-pass", "ask": {"family": "low-pass2", "frequency": 9000.0, "q": 0.7}}),
    ];
    all[..stages].to_vec()
}

fn design(stages: usize, boards: u32) -> Value {
    json!({
        "stages": path(stages),
        "spread": {"boards": boards},
        "view": {"compare": false, "blame": false, "propose": false, "stage": stages - 1},
    })
}

fn with_plant(boards: u32) -> Value {
    let mut design = design(2, boards);
    design["servo"] = json!({
        "model": {"modes": [
            {"frequency": 27.0, "damping": 0.1, "residue": 28_779.0},
            {"frequency": 2350.0, "damping": 0.01, "residue": 2_000.0},
        ]},
        "drift": {"frequency": 0.03, "damping": 0.4, "gain": 0.2},
    });
    design
}

/// A limit on the noise of the stage in view, which some boards miss.
fn with_noise_limit() -> Value {
    let mut design = design(2, 7_001);
    design["view"]["stage"] = json!(0);
    let text = solve_json(&design.to_string());
    let found: Value = serde_json::from_str(&text).expect("an outcome");
    let parts = found["stages"][0]["parts"].as_array().expect("parts");
    for part in parts {
        let name = part["name"].as_str().expect("a name");
        design["stages"][0]["pins"][name] = part["value"].clone();
    }
    design["stages"][0]["noise_limit"] = found["noise"]["stages"][0]["total"]["rms"].clone();
    design
}

fn until_stable() -> Value {
    let mut design = design(1, 1_000_000);
    design["spread"]["stop"] = json!("stable");
    design["spread"]["digits"] = json!(1);
    design["spread"]["yield_within"] = json!(0.01);
    design
}

/// What is done with so many threads.
fn on_threads<T: Send>(threads: usize, what: impl FnOnce() -> T + Send) -> T {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
    pool.build().expect("threads").install(what)
}

/// Another worker with what it was told and what it has to say.
#[derive(Default)]
struct Pretended {
    session: HelperSession,
    orders: VecDeque<Vec<u8>>,
    reports: VecDeque<Vec<u8>>,
    is_dead: bool,
}

/// A session with helpers that answer when chance has it.
struct Team {
    remote: Remote,
    helpers: Vec<Pretended>,
    random: Random,
    /// Reports of helpers that were heard.
    heard: usize,
    /// Whether the session had nothing more to do in the last slice.
    is_idle: bool,
}

impl Team {
    fn new(helpers: usize, seed: u64) -> Team {
        let mut remote = Remote::new();
        for number in 0..helpers {
            assert_eq!(remote.session.join(), number);
        }
        Team {
            remote,
            helpers: (0..helpers).map(|_| Pretended::default()).collect(),
            random: Random(seed),
            heard: 0,
            is_idle: false,
        }
    }

    fn chance(&mut self, of: usize) -> usize {
        (self.random.part() * of as f64) as usize
    }

    /// One slice, then some helpers do something and some are heard.
    fn turn(&mut self) {
        self.is_idle = !self.remote.work(1);
        let helpers = &mut self.helpers;
        self.remote
            .session
            .give_out(&mut |number, order: HelperOrder| {
                let bytes = encode(&order).expect("bytes");
                helpers[number].orders.push_back(bytes);
            });
        let waits_for = self.remote.session.waits_for();
        if self.is_idle && !self.remote.done {
            assert!(
                !waits_for.is_empty(),
                "nothing to do, and nobody to wait for"
            );
        }
        for _ in 0..self.helpers.len() {
            let (one, other) = (
                self.chance(self.helpers.len()),
                self.chance(self.helpers.len()),
            );
            let helper = &mut self.helpers[one];
            if let Some(order) = helper.orders.pop_front().filter(|_| !helper.is_dead) {
                let order = decode(&order).expect("an order");
                if let Some(report) = helper.session.take(order) {
                    helper.reports.push_back(encode(&report).expect("bytes"));
                }
            }
            self.hear(other);
        }
    }

    fn hear(&mut self, number: usize) {
        let Some(report) = self.helpers[number].reports.pop_front() else {
            return;
        };
        let report: HelperReport = decode(&report).expect("a report");
        self.heard += 1;
        self.remote.session.hear(number, report);
    }

    /// A helper is gone with all that it was given; so is what it said and nobody heard.
    fn kill(&mut self, number: usize) {
        self.helpers[number].is_dead = true;
        self.helpers[number].reports.clear();
        self.remote.session.leave(number);
    }

    fn finish(&mut self) -> String {
        for _ in 0..ENOUGH {
            self.turn();
            if self.remote.done {
                let told = self.remote.told.clone().whole();
                return serde_json::to_string(&told).expect("JSON");
            }
        }
        panic!("never done");
    }
}

/// The same as JSON with its numbers to the last bit.
fn same(found: &str, expected: &str, what: &str) {
    let [found, expected] = [found, expected].map(|text| {
        let mut tree: Value = serde_json::from_str(text).expect("JSON");
        tree["stale"] = json!([]);
        tree
    });
    assert!(found == expected, "{what}");
}

#[test]
fn any_number_of_threads_gives_the_same() {
    for design in [design(3, 9_000), with_plant(400), until_stable()] {
        let design = design.to_string();
        let alone = on_threads(1, || solve_json(&design));
        for threads in [2, 3, 8] {
            let found = on_threads(threads, || solve_json(&design));
            assert!(found == alone, "{threads} threads: {design}");
        }
    }
}

#[test]
fn any_number_of_workers_gives_the_same() {
    let designs = [
        (design(1, 100), false),
        (design(1, 255), false),
        (design(1, 256), false),
        (design(1, 257), false),
        (design(1, 7_001), true),
        (design(3, 9_000), true),
        (with_noise_limit(), true),
        (with_plant(403), true),
        (until_stable(), true),
    ];
    // One thread, so that the slices of the session are short.
    on_threads(1, || {
        for (design, is_long) in &designs {
            let expected = solve_json(&design.to_string());
            for helpers in [0, 1, 2, 7] {
                let mut team = Team::new(helpers, helpers as u64);
                team.remote.solve(design);
                same(
                    &team.finish(),
                    &expected,
                    &format!("{helpers} helpers: {design}"),
                );
                assert_eq!(
                    team.heard > 0,
                    *is_long && helpers > 0,
                    "{helpers}: {design}"
                );
            }
        }
    });
}

#[test]
fn helpers_may_die() {
    on_threads(1, || {
        for design in [design(3, 9_000), with_plant(403), until_stable()] {
            let expected = solve_json(&design.to_string());
            for seed in 0..6 {
                let mut team = Team::new(3, seed);
                team.remote.solve(&design);
                // Some before they have said anything, some when they hold counts.
                for number in 0..3 {
                    let later = team.heard + 3 * seed as usize;
                    for _ in 0..ENOUGH {
                        if team.remote.done || team.heard >= later && team.heard > 0 {
                            break;
                        }
                        team.turn();
                    }
                    team.kill(number);
                }
                same(&team.finish(), &expected, &format!("seed {seed}: {design}"));
            }
        }
    });
}

#[test]
fn what_was_drawn_for_another_design_is_not_taken() {
    on_threads(1, || {
        let first = with_plant(803);
        let mut second = first.clone();
        second["spread"]["seed"] = json!(12_345);
        // Other limits on the same loops: the run is kept.
        let mut third = first.clone();
        third["servo"]["asked"] = json!({"phase_margin": 33.0});
        let expected = [&first, &second, &third].map(|design| solve_json(&design.to_string()));
        let mut team = Team::new(2, 5);
        for (turn, at) in [0, 1, 0, 2, 0, 1, 2].into_iter().enumerate() {
            let design = [&first, &second, &third][at];
            team.remote.solve(design);
            let before = team.heard;
            for _ in 0..ENOUGH {
                if team.heard > before + 7 + turn || team.remote.done {
                    break;
                }
                team.turn();
            }
        }
        same(&team.finish(), &expected[2], "the last design");
        team.remote.solve(&second);
        same(&team.finish(), &expected[1], "the one before");
    });
}
