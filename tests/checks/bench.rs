//! The bench against boards that are made here: every circuit of the catalogue as it is picked by default, its parts
//! drawn within their tolerances, one of them off or miswired, measured with noise. Their responses are solved node by
//! node (`circuit::nodal`), not by the program that the bench predicts with.

use std::collections::BTreeMap;
use std::task::Poll;
use std::time::{Duration, Instant};

use num_complex::Complex64;
use polewright::bench::{
    Action, BenchWork, Cause, Likely, Measurement, PartAt, RepairVerdict, Report, Setting,
    SettingStage, Step, Verdict,
};
use polewright::circuit::nodal::Nodal;
use polewright::circuit::{Kind, Program};
use polewright::parts::{OpAmp, Shelf};
use polewright::pick::{IN_A_LOOP, Search};
use polewright::plant::{Point, Sweep};
use polewright::spread::{Distribution, Draws, Population, Reach, Variation, VariationKind};
use polewright::stages::{CATALOGUE, Model, Scratch, Seen, Stage};

use super::asks::{Random, vary};

/// What is wrong with a board.
#[derive(Clone, Debug, PartialEq)]
enum Fault {
    None,
    /// A part by its place among the parts, and by what its value is multiplied.
    Off(usize, f64),
    Swapped(usize, usize),
    Times(usize, f64),
    Open(usize),
    Shorted(usize),
}

/// How boards are made and measured.
#[derive(Clone, Copy, Debug)]
struct Bed {
    noise: f64,
    /// Points, and decades to each side of the ask's frequencies.
    points: usize,
    decades: f64,
    has_phase: bool,
    /// Tolerance of capacitors.
    capacitors: f64,
    /// How far a part is off.
    off: f64,
    /// Whether asks are drawn, too.
    varied: bool,
    gain: f64,
}

const USUAL: Bed = Bed {
    noise: 0.01,
    points: 81,
    decades: 1.0,
    has_phase: true,
    capacitors: 0.05,
    off: 0.05,
    varied: false,
    gain: 1.0,
};

/// A stage as it is built by default.
struct Built {
    model: Model,
    values: Vec<f64>,
    shelf: Shelf,
    population: Population,
}

fn built(stage: &'static dyn Stage, bed: &Bed, random: &mut Random) -> Option<Built> {
    let ask = match bed.varied {
        true => vary(stage, random).unwrap_or_else(|| stage.default_ask()),
        false => stage.default_ask(),
    };
    let mut shelf = Shelf::default();
    shelf.capacitors.tolerance = bed.capacitors;
    let op_amp = OpAmp::default();
    let model = Model::new(stage, &ask, &op_amp).expect("a circuit");
    let mut search = Search::new(&model, &shelf, &BTreeMap::new(), IN_A_LOOP);
    assert!(search.advance(&model, &mut || true).is_ready());
    // A board whose design misses its limits cannot be brought into them.
    let picks = search.take().picks.into_iter();
    let values = picks.into_iter().find(|pick| pick.rank.holds())?.values;
    let mut variations = Vec::new();
    for ((part, &value), &bought) in model.netlist.parts().iter().zip(&values).zip(&model.bought) {
        match (part.kind, shelf.bin(part.kind)) {
            (Kind::OpAmp { .. }, _) => {
                let [gain, bandwidth, resistance] = op_amp.values();
                variations.push(Variation {
                    kind: VariationKind::InverseDecibel,
                    ..Variation::within(gain, 6.0, Distribution::UNIFORM)
                });
                variations.push(Variation {
                    kind: VariationKind::Inverse,
                    ..Variation::within(bandwidth, 0.3, Distribution::UNIFORM)
                });
                variations.push(Variation::fixed(resistance));
            }
            (_, Some(bin)) if bought => variations.push(Variation {
                own: Reach {
                    tolerance: bin.tolerance,
                    tempco: bin.tempco,
                    ageing: 0.0,
                },
                ..Variation::within(value, bin.tolerance, Distribution::UNIFORM)
            }),
            _ => variations.push(Variation::fixed(value)),
        }
    }
    let population = Population {
        variations,
        commons: 0,
        temperature_span: 10.0,
    };
    Some(Built {
        model,
        values,
        shelf,
        population,
    })
}

impl Built {
    /// Where a part's numbers begin among a board's.
    fn number(&self, part: usize) -> usize {
        let before = self.model.netlist.parts()[..part].iter();
        before.map(|part| part.kind.inputs()).sum()
    }

    fn bought(&self) -> Vec<usize> {
        (0..self.values.len())
            .filter(|&part| self.model.bought[part])
            .collect()
    }

    /// A board's numbers with a fault in them.
    fn with(&self, fault: &Fault, numbers: &mut [f64]) {
        let at = |part: usize| self.number(part);
        let is_resistor =
            |part: usize| matches!(self.model.netlist.parts()[part].kind, Kind::Resistor { .. });
        match *fault {
            Fault::None => {}
            Fault::Off(part, by) => numbers[at(part)] = self.values[part] * by,
            Fault::Swapped(a, b) => numbers.swap(at(a), at(b)),
            Fault::Times(part, by) => numbers[at(part)] *= by,
            Fault::Open(part) if is_resistor(part) => numbers[at(part)] *= 1e9,
            Fault::Open(part) => numbers[at(part)] *= 1e-9,
            Fault::Shorted(part) if is_resistor(part) => numbers[at(part)] *= 1e-6,
            Fault::Shorted(part) => numbers[at(part)] *= 1e8,
        }
    }

    fn measure(&self, bed: &Bed, numbers: &[f64], random: &mut Random) -> Option<Measurement> {
        let (low, high) = self.model.ask.asked().span();
        let reach = 10f64.powf(bed.decades);
        let (from, to) = (low / reach, high * reach);
        let mut points = Vec::new();
        for k in 0..bed.points {
            let f = from * (to / from).powf(k as f64 / (bed.points - 1) as f64);
            let netlist = &self.model.netlist;
            let nodal = Nodal::at(netlist, numbers, std::f64::consts::TAU * f)?;
            let h = nodal.answer(0)?.voltages[netlist.output()] * bed.gain;
            let off = Complex64::new(bed.noise * normal(random), bed.noise * normal(random));
            points.push(Point::new(f, h * (1.0 + off)));
        }
        let mut measurement = Measurement::new(Sweep { points });
        measurement.has_phase = bed.has_phase;
        if !bed.has_phase {
            for point in &mut measurement.sweep.points {
                point.response = Complex64::new(point.response.norm(), 0.0);
            }
        }
        Some(measurement)
    }

    fn setting(&self, measurement: Measurement) -> Setting {
        Setting {
            stages: vec![SettingStage {
                model: self.model.clone(),
                values: self.values.clone(),
            }],
            population: self.population.clone(),
            shelf: self.shelf.clone(),
            measurement,
            behind: None,
            trimmers: Vec::new(),
            seed: 1,
        }
    }

    /// What a fault of this kind could be, drawn.
    fn fault(&self, kind: &str, bed: &Bed, random: &mut Random) -> Fault {
        let bought = self.bought();
        let one = |random: &mut Random| bought[(random.next() % bought.len() as u64) as usize];
        match kind {
            "off" => {
                let by = if random.part() < 0.5 {
                    1.0 + bed.off
                } else {
                    1.0 - bed.off
                };
                Fault::Off(one(random), by)
            }
            "wired" => match random.next() % 5 {
                0 | 1 => {
                    let parts = self.model.netlist.parts();
                    let pairs: Vec<(usize, usize)> = bought
                        .iter()
                        .flat_map(|&a| bought.iter().map(move |&b| (a, b)))
                        .filter(|&(a, b)| {
                            let ratio = (self.values[a] / self.values[b]).ln().abs();
                            a < b && parts[a].kind.is_like(parts[b].kind) && ratio > 0.15
                        })
                        .collect();
                    match pairs.len() {
                        0 => Fault::Times(one(random), 10.0),
                        n => {
                            let (a, b) = pairs[(random.next() % n as u64) as usize];
                            Fault::Swapped(a, b)
                        }
                    }
                }
                2 => Fault::Times(one(random), if random.part() < 0.5 { 10.0 } else { 0.1 }),
                3 => Fault::Open(one(random)),
                _ => Fault::Shorted(one(random)),
            },
            _ => Fault::None,
        }
    }
}

fn normal(random: &mut Random) -> f64 {
    let (a, b) = (random.part().max(1e-15), random.part());
    (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// The report, and its longest slice.
fn report(setting: Setting) -> (Report, Duration) {
    let mut work = BenchWork::begin(setting).expect("a measurement");
    let mut longest = Duration::ZERO;
    loop {
        let slice = Instant::now();
        let mut go_on = || slice.elapsed() < Duration::from_millis(3);
        let ready = work.advance(&mut go_on);
        longest = longest.max(slice.elapsed());
        if let Poll::Ready(report) = ready {
            return (report, longest);
        }
    }
}

fn part_at(built: &Built, part: usize) -> PartAt {
    PartAt {
        stage: 0,
        part: built.model.netlist.parts()[part].name.clone(),
    }
}

impl Fault {
    /// The parts that it is of.
    fn parts(&self) -> Vec<usize> {
        match *self {
            Fault::None => Vec::new(),
            Fault::Off(p, _) | Fault::Times(p, _) | Fault::Open(p) | Fault::Shorted(p) => vec![p],
            Fault::Swapped(a, b) => vec![a, b],
        }
    }

    /// Whether a cause is this one.
    fn is(&self, built: &Built, cause: &Cause) -> bool {
        let at = |part: usize| part_at(built, part);
        match (self, cause) {
            (Fault::None, Cause::Healthy) => true,
            (Fault::Off(part, _), Cause::Off(found)) => at(*part) == *found,
            (Fault::Swapped(a, b), Cause::Swapped(c, d)) => at(*a) == *c && at(*b) == *d,
            (Fault::Times(part, by), Cause::TimesFactor(found, factor)) => {
                at(*part) == *found && (by / factor - 1.0).abs() < 1e-9
            }
            (Fault::Open(part), Cause::Open(found))
            | (Fault::Shorted(part), Cause::Shorted(found)) => at(*part) == *found,
            _ => false,
        }
    }
}

/// How reports did on boards whose faults are known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Score {
    boards: u32,
    /// The one cause, and no other.
    named: u32,
    /// Among causes that cannot be told apart, or a part that this measurement does not see.
    listed: u32,
    /// Called healthy; the part is among those that may be off alone.
    healthy: u32,
    unexplained: u32,
    wrong: u32,
    /// Said to be beyond all boards.
    beyond: u32,
    /// Repairs that were looked at, and those that bring all figures into their limits.
    repairs: u32,
    home: u32,
    longest: Duration,
}

impl Score {
    fn share(&self, of: u32) -> f64 {
        f64::from(of) / f64::from(self.boards)
    }

    fn add(&mut self, other: Score) {
        self.boards += other.boards;
        self.named += other.named;
        self.listed += other.listed;
        self.healthy += other.healthy;
        self.unexplained += other.unexplained;
        self.wrong += other.wrong;
        self.beyond += other.beyond;
        self.repairs += other.repairs;
        self.home += other.home;
        self.longest = self.longest.max(other.longest);
    }
}

/// What the told steps make of a board; new parts are drawn within their tolerances.
fn repaired(
    built: &Built,
    numbers: &[f64],
    fault: &Fault,
    steps: &[Step],
    random: &mut Random,
) -> Vec<f64> {
    let mut numbers = numbers.to_vec();
    for step in steps {
        let part = built.model.netlist.position(&step.at.part).expect("a part");
        let at = built.number(part);
        let kind = built.model.netlist.parts()[part].kind;
        let tolerance = built.shelf.bin(kind).expect("a bin").tolerance;
        let mut new = |value: f64| value * (1.0 + tolerance * (2.0 * random.part() - 1.0));
        let is_resistor = matches!(kind, Kind::Resistor { .. });
        numbers[at] = match step.action {
            Action::Replace(value) => new(value),
            Action::Series(value) if is_resistor => numbers[at] + new(value),
            Action::Parallel(value) if !is_resistor => numbers[at] + new(value),
            Action::Series(value) | Action::Parallel(value) => {
                let beside = new(value);
                numbers[at] * beside / (numbers[at] + beside)
            }
            Action::PutRight if fault.parts().contains(&part) => new(built.values[part]),
            Action::PutRight => numbers[at],
            Action::Turn(_) => panic!("there is no trimmer"),
        };
    }
    numbers
}

/// Whether a board keeps all limits.
fn holds(built: &Built, numbers: &[f64]) -> bool {
    let model = &built.model;
    let transfer = |program: &Program| program.transfer(numbers, model.scale);
    let main = transfer(&model.program);
    let others: Vec<_> = model.others.iter().map(transfer).collect();
    let hint = model.figures(&built.values, None, &mut Scratch::default());
    let mut figures = vec![0.0; hint.len()];
    let seen = Seen {
        main: &main,
        others: &others,
    };
    model.yardstick.read(seen, Some(&hint), &mut figures);
    model.yardstick.keeps_all(&figures)
}

/// Boards with faults of one kind, circuit after circuit.
fn run(kind: &str, count: u32, seed: u64, bed: Bed) -> Score {
    let mut random = Random(seed);
    let mut score = Score::default();
    let mut all: BTreeMap<usize, Option<Built>> = BTreeMap::new();
    for place in (0..CATALOGUE.len()).cycle() {
        if score.boards == count {
            break;
        }
        if bed.varied {
            all.remove(&place);
        }
        let built = all
            .entry(place)
            .or_insert_with(|| built(CATALOGUE[place], &bed, &mut random));
        let Some(built) = built.as_ref().filter(|built| !built.bought().is_empty()) else {
            continue;
        };
        let mut numbers: Vec<f64> = vec![0.0; built.population.variations.len()];
        Draws::new(built.population.clone(), random.next()).board(0, &mut numbers);
        let fault = built.fault(kind, &bed, &mut random);
        built.with(&fault, &mut numbers);
        let measured = built.measure(&bed, &numbers, &mut random);
        if let Some(measurement) = measured.filter(|m| m.check().is_ok()) {
            score.add(judged(built, &fault, &numbers, measurement, &mut random));
        }
    }
    score
}

/// What the bench says of a board whose fault is known.
fn judged(
    built: &Built,
    fault: &Fault,
    numbers: &[f64],
    measurement: Measurement,
    random: &mut Random,
) -> Score {
    let (report, longest) = report(built.setting(measurement));
    let mut score = Score {
        boards: 1,
        beyond: u32::from(report.band.is_beyond),
        longest,
        ..Score::default()
    };
    let is_in = |list: &[Likely]| list.iter().any(|one| fault.is(built, &one.cause));
    let unseen = |part: &usize| report.unseen.contains(&part_at(built, *part));
    let is_unseen = fault.parts().iter().any(unseen);
    let counted = match report.verdict {
        Verdict::Found if is_in(&report.causes) => &mut score.named,
        Verdict::OneOf | Verdict::Undecided if is_in(&report.causes) => &mut score.listed,
        Verdict::Healthy if *fault == Fault::None => &mut score.healthy,
        Verdict::Healthy | Verdict::Undecided if is_unseen => &mut score.listed,
        Verdict::Healthy if is_in(&report.suspects) => &mut score.healthy,
        Verdict::Unexplained => &mut score.unexplained,
        _ => &mut score.wrong,
    };
    *counted += 1;
    if score.wrong + score.unexplained == 0 {
        let steps = match report.repair {
            RepairVerdict::NothingToDo(_) => &[][..],
            _ => report.repairs.first().map_or(&[][..], |first| &first.steps),
        };
        score.repairs = 1;
        let after = repaired(built, numbers, fault, steps, random);
        score.home = u32::from(holds(built, &after));
    }
    if std::env::var("LOUD").is_ok_and(|what| what == "all")
        || std::env::var("LOUD").is_ok()
            && (score.wrong + score.unexplained > 0 || score.home < score.repairs)
    {
        let causes: Vec<String> = report
            .causes
            .iter()
            .map(|cause| format!("{} {:.2}", cause.words, cause.probability))
            .collect();
        println!(
            "{} {fault:?} of {:?}: {:?} healthy {:.3} noise {:.4} misfit {:.2}; {}; {:?} {}",
            built.model.stage.id(),
            fault
                .parts()
                .iter()
                .map(|p| part_at(built, *p).part)
                .collect::<Vec<_>>(),
            report.verdict,
            report.healthy,
            report.noise,
            report.misfit,
            causes.join("; "),
            report.repair,
            report
                .repairs
                .first()
                .map_or(String::new(), |best| best.words(false)),
        );
    }
    score
}

/// One part in twenty off, whatever the capacitors' tolerance: the right part, or honestly that it cannot be told; and
/// the repair brings the figures home.
#[test]
fn a_part_that_is_off() {
    let mut all = Score::default();
    for (seed, capacitors) in [(101, 0.05), (102, 0.01)] {
        all.add(run(
            "off",
            250,
            seed,
            Bed {
                capacitors,
                ..USUAL
            },
        ));
    }
    println!("{all:?}");
    assert!(
        all.share(all.named + all.listed + all.healthy) >= 0.95,
        "{all:?}"
    );
    // Where capacitors are no better than the part is off, it is seldom named.
    assert!(all.share(all.named) >= 0.2, "{all:?}");
    assert!(
        f64::from(all.home) >= 0.95 * f64::from(all.repairs),
        "{all:?}"
    );
}

/// A tenth of what is wired wrongly is a resistor for a capacitor's sake, or the like: what acts alike is named together.
#[test]
fn common_mistakes_of_wiring() {
    let all = run("wired", 200, 103, USUAL);
    println!("{all:?}");
    assert!(all.share(all.named + all.listed) >= 0.9, "{all:?}");
    assert!(all.share(all.named) >= 0.5, "{all:?}");
    assert!(all.share(all.beyond) >= 0.9, "{all:?}");
    assert!(
        f64::from(all.home) >= 0.9 * f64::from(all.repairs),
        "{all:?}"
    );
}

#[test]
fn healthy_boards_are_not_called_ill() {
    let all = run("healthy", 200, 104, USUAL);
    println!("{all:?}");
    assert!(all.share(all.wrong + all.unexplained) <= 0.05, "{all:?}");
    assert!(all.share(all.beyond) <= 0.05, "{all:?}");
}

/// Other asks, noise, spans, numbers of points, deviations, without the phase, and with a gain that was not calibrated.
#[test]
fn other_boards_and_measurements() {
    let varied = Bed {
        varied: true,
        ..USUAL
    };
    let beds = [
        Bed {
            noise: 0.003,
            ..varied
        },
        Bed {
            noise: 0.03,
            ..varied
        },
        Bed {
            points: 20,
            ..varied
        },
        Bed {
            points: 400,
            decades: 2.0,
            ..varied
        },
        Bed {
            decades: 0.4,
            ..varied
        },
        Bed {
            has_phase: false,
            ..varied
        },
        Bed { off: 0.2, ..varied },
        Bed {
            off: 0.03,
            capacitors: 0.01,
            ..varied
        },
        Bed {
            gain: 1.1,
            ..varied
        },
    ];
    let kinds = [("off", 0.95), ("wired", 0.9), ("healthy", 0.95)];
    for (kind, least) in kinds {
        let mut all = Score::default();
        for (seed, bed) in (200..).zip(beds) {
            all.add(run(kind, 40, seed, bed));
        }
        println!("{kind}: {all:?}");
        let right = all.named + all.listed + all.healthy;
        assert!(all.share(right) >= least, "{kind}: {all:?}");
    }
}

/// For a look at other seeds and beds.
#[test]
#[ignore = "prints rates"]
fn explore() {
    let env = |name: &str, usual: f64| {
        let given = std::env::var(name).ok().and_then(|v| v.parse().ok());
        given.unwrap_or(usual)
    };
    let bed = Bed {
        noise: env("NOISE", USUAL.noise),
        points: env("POINTS", USUAL.points as f64) as usize,
        decades: env("DECADES", USUAL.decades),
        has_phase: env("PHASE", 1.0) > 0.0,
        capacitors: env("CAPS", USUAL.capacitors),
        off: env("OFF", USUAL.off),
        varied: env("VARIED", 0.0) > 0.0,
        gain: env("GAIN", 1.0),
    };
    let kinds = std::env::var("KINDS").unwrap_or("healthy,off,wired".into());
    for kind in kinds.split(',') {
        let begun = Instant::now();
        let score = run(
            kind,
            env("COUNT", 94.0) as u32,
            env("SEED", 1.0) as u64,
            bed,
        );
        println!(
            "{kind}: {score:?}, {:?} each",
            begun.elapsed() / score.boards
        );
    }
}
