//! Settling over boards and plants against each board's motion, worked out in full.

use polewright::feedback::{LoopRun, Motion, MotionAsk, PlantVariations};
use polewright::plant::{Mode, Model, Rigid};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde_json::json;

use crate::loop_boards::{Bench, closed_round};

/// How settling over boards compares with their motions.
#[derive(Default, Debug)]
struct Tally {
    compared: usize,
    /// Apart by more than 3 %, though they agree in a band that is a few per cent wider or narrower: a hump touches it.
    touching: usize,
    /// Apart by more than 3 %, and not so: board, settling, and as the motion has it.
    apart: Vec<(u32, f64, f64)>,
    /// What the motion says nothing certain of: it ends before it has settled.
    cut: usize,
}

impl Tally {
    fn of(bench: &Bench, run: &mut LoopRun) -> Tally {
        let all = bench.models();
        assert!(run.advance(&all, &mut || true).is_ready());
        let mut tally = Tally::default();
        let built = run.built().to_vec();
        for (number, built) in (0..).zip(&built) {
            if !built.is_stable {
                assert_eq!(built.settling, f64::INFINITY, "board {number}");
                continue;
            }
            let (transfers, plant) = run.board(&all, number);
            let open = closed_round(&transfers, &plant);
            let motion = |span, settle_band| {
                let ask = MotionAsk {
                    span,
                    settle_band,
                    ..MotionAsk::default()
                };
                Motion::work_out(&open, &ask).expect("a motion")
            };
            let full = motion(None, 0.02);
            let is_cut = full.notes.iter().any(|note| note.starts_with("Only"));
            let Some(time) = full.figures.settling_time.filter(|_| !is_cut) else {
                tally.cut += 1;
                continue;
            };
            tally.compared += 1;
            let agrees = |time: f64| (built.settling / time - 1.0).abs() < 0.03;
            // Over a long time a motion takes steps that are coarse for what rings; over a shorter one it is finer.
            let span = Some(1.5 * time.max(built.settling));
            let again = |band| motion(span, band).figures.settling_time.is_some_and(agrees);
            if agrees(time) || again(0.02) {
                continue;
            }
            if again(0.0195) || again(0.0205) {
                tally.touching += 1;
            } else {
                tally.apart.push((number, built.settling, time));
            }
        }
        tally
    }
}

const MILD: PlantVariations = PlantVariations {
    frequency: 0.02,
    damping: 0.3,
    gain: 0.1,
};
const WIDE: PlantVariations = PlantVariations {
    frequency: 0.04,
    damping: 0.4,
    gain: 0.3,
};

/// Four loops round the demo's plant, 500 boards of each: wide notches and narrow ones that boards miss, and
/// integrators that creep.
#[test]
fn boards_settle_as_their_motions_do() {
    for (low, high, gain, q, variations) in [
        (15.0, 130.0, 400.0, 6.0, WIDE),
        (15.0, 130.0, 400.0, 2.0, MILD),
        (15.0, 130.0, 100.0, 2.0, MILD),
        (40.0, 60.0, 250.0, 2.0, MILD),
    ] {
        let values =
            json!({"notation": "zeros", "low": low, "high": high, "gain": gain, "at": 420.0});
        let bench = Bench::demo(values, q);
        let tally = Tally::of(&bench, &mut bench.run(variations, 500));
        assert!(tally.compared >= 400 && tally.apart.is_empty(), "{tally:?}");
        assert!(50 * tally.touching <= tally.compared, "{tally:?}");
    }
}

/// Plants drawn at random behind one PID, rigid ones and suspended ones, up to six modes, delays from none to a fifth of
/// the crossover's period.
#[test]
fn boards_of_many_kinds_settle_as_their_motions_do() {
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let mut unit = move || f64::from(random.next_u32()) / f64::from(u32::MAX);
    let values = json!({"notation": "zeros", "low": 60.0, "high": 80.0, "gain": 40.0, "at": 420.0});
    let mut bench = Bench::demo(values, 2.0).first();
    let (mut compared, mut touching, mut cut) = (0, 0, 0);
    for number in 0..40 {
        let marked = bench.transfers();
        bench.plant = plant(&mut unit);
        let crossover = 80.0 + 400.0 * unit();
        let gain = closed_round(&marked, &bench.plant).at(crossover).norm();
        if let Some(rigid) = &mut bench.plant.rigid {
            rigid.gain /= gain;
        }
        bench
            .plant
            .modes
            .iter_mut()
            .for_each(|mode| mode.residue /= gain);
        let tally = Tally::of(&bench, &mut bench.run(WIDE, 40));
        assert!(tally.apart.is_empty(), "plant {number}: {tally:?}");
        compared += tally.compared;
        touching += tally.touching;
        cut += tally.cut;
    }
    assert!(
        compared > 900 && 4 * cut < compared,
        "{compared} compared, {cut} cut"
    );
    assert!(50 * touching <= compared, "{touching} of {compared}");
}

fn plant(unit: &mut impl FnMut() -> f64) -> Model {
    let pick = |share: f64, count: usize| ((share * count as f64) as usize).min(count - 1);
    let integrators = [0, 1, 2][pick(unit(), 3)];
    let is_rigid = unit() < 0.6;
    // Near the crossover a share is as large as a rigid body's.
    let size = 2600f64.powi(2 - if is_rigid { integrators as i32 } else { 0 });
    let mut modes = Vec::new();
    if !is_rigid {
        modes.push(Mode {
            frequency: 5.0 + 100.0 * unit(),
            damping: 0.003 * 100f64.powf(unit()),
            residue: size,
            slope: 0.0,
        });
    }
    for _ in 0..pick(unit(), 6) {
        modes.push(Mode {
            frequency: 100.0 * 60f64.powf(unit()),
            damping: 0.003 * 100f64.powf(unit()),
            residue: size * 0.05 * (unit() - 0.2),
            slope: 0.0,
        });
    }
    modes.sort_by(|a, b| a.frequency.total_cmp(&b.frequency));
    Model {
        rigid: is_rigid.then_some(Rigid::new(integrators, 1.0)),
        modes,
        lag: (unit() < 0.3).then_some(2e3),
        delay: [0.0, 6e-6, 1e-4, 4e-4][pick(unit(), 4)],
    }
}

/// What a board costs.
#[test]
#[ignore = "a timing, to be looked at"]
fn how_long_a_board_takes() {
    let values =
        json!({"notation": "zeros", "low": 15.0, "high": 130.0, "gain": 400.0, "at": 420.0});
    let bench = Bench::demo(values, 2.0);
    let mut run = bench.run(MILD, 10_000);
    let start = std::time::Instant::now();
    assert!(run.advance(&bench.models(), &mut || true).is_ready());
    println!("{:?} a board", start.elapsed() / 10_000);
}
