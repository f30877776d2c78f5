//! The bench against boards that are made here: every circuit of the catalogue as it is picked by default, its parts
//! drawn within their tolerances, one of them off or miswired, measured with noise. Their responses are solved node by
//! node (`circuit::nodal`), not by the program that the bench predicts with.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use num_complex::Complex64;
use polewright::bench::{
    Action, BenchWork, Cause, Measurement, PartAt, Report, Setting, SettingStage, Step, Verdict,
};
use polewright::circuit::Kind;
use polewright::circuit::nodal::Nodal;
use polewright::parts::{OpAmp, Shelf};
use polewright::pick::{IN_A_LOOP, Search};
use polewright::plant::{Point, Sweep};
use polewright::spread::{Distribution, Draws, Population, Reach, Variation, VariationKind};
use polewright::stages::{CATALOGUE, Model, Scratch, Stage};

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
    op_amp: OpAmp,
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
    let values = search.take().picks.into_iter().next()?.values;
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
        op_amp,
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

/// The report, and how long it took in all and in its longest slice.
fn report(setting: Setting) -> (Report, Duration, Duration) {
    let begun = Instant::now();
    let mut work = BenchWork::begin(setting).expect("a measurement");
    let mut longest = Duration::ZERO;
    loop {
        let slice = Instant::now();
        let mut go_on = || slice.elapsed() < Duration::from_millis(3);
        let ready = work.advance(&mut go_on);
        longest = longest.max(slice.elapsed());
        if let std::task::Poll::Ready(report) = ready {
            return (report, begun.elapsed(), longest);
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

/// How a report did on a board whose fault is known.
#[derive(Debug, Default)]
struct Score {
    count: u32,
    named: u32,
    untold: u32,
    healthy: u32,
    wrong: u32,
    unexplained: u32,
    beyond: u32,
    listed: usize,
    home: u32,
    asked_home: u32,
    time: Duration,
    longest: Duration,
    slice: Duration,
    good_before: u32,
}

fn home(
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
            Action::PutRight => {
                let touched = match *fault {
                    Fault::Off(p, _) | Fault::Times(p, _) | Fault::Open(p) | Fault::Shorted(p) => {
                        p == part
                    }
                    Fault::Swapped(a, b) => a == part || b == part,
                    Fault::None => false,
                };
                if touched {
                    new(built.values[part])
                } else {
                    numbers[at]
                }
            }
            Action::Turn(_) => panic!("there is no trimmer"),
        };
    }
    numbers
}

fn holds(built: &Built, numbers: &[f64]) -> bool {
    let model = &built.model;
    let mut transfers = vec![model.program.transfer(numbers, model.scale)];
    transfers.extend(
        model
            .others
            .iter()
            .map(|p| p.transfer(numbers, model.scale)),
    );
    let seen = polewright::stages::Seen {
        main: &transfers[0],
        others: &transfers[1..],
    };
    let hint = model.figures(&built.values, None, &mut Scratch::default());
    let mut figures = vec![0.0; hint.len()];
    model.yardstick.read(seen, Some(&hint), &mut figures);
    model.yardstick.keeps_all(&figures)
}

fn run(kind: &str, count: u32, seed: u64, bed: Bed, is_loud: bool) -> Score {
    let mut random = Random(seed);
    let mut score = Score::default();
    let mut all: BTreeMap<usize, Built> = BTreeMap::new();
    let mut at = 0;
    while score.count < count {
        let place = at % CATALOGUE.len();
        at += 1;
        let made = match bed.varied {
            true => built(CATALOGUE[place], &bed, &mut random),
            false => None,
        };
        let built = match &made {
            Some(built) => built,
            None => {
                if !all.contains_key(&place) {
                    let Some(new) = built(CATALOGUE[place], &bed, &mut random) else {
                        continue;
                    };
                    all.insert(place, new);
                }
                &all[&place]
            }
        };
        if built.bought().is_empty() {
            continue;
        }
        let mut numbers: Vec<f64> = vec![0.0; built.population.variations.len()];
        Draws::new(built.population.clone(), random.next()).board(0, &mut numbers);
        let fault = built.fault(kind, &bed, &mut random);
        built.with(&fault, &mut numbers);
        let Some(measurement) = built.measure(&bed, &numbers, &mut random) else {
            continue;
        };
        if measurement.check().is_err() {
            continue;
        }
        let (report, time, slice) = report(built.setting(measurement));
        score.count += 1;
        score.time += time;
        score.longest = score.longest.max(time);
        score.slice = score.slice.max(slice);
        score.beyond += u32::from(report.band.is_beyond);
        score.listed += report.causes.len();
        let is_listed = report.causes.iter().any(|one| fault.is(built, &one.cause));
        let is_suspect = report
            .suspects
            .iter()
            .any(|one| fault.is(built, &one.cause));
        let is_unseen = fault
            .parts()
            .iter()
            .any(|part| report.unseen.contains(&part_at(built, *part)));
        let how = match report.verdict {
            Verdict::Found if is_listed => {
                score.named += 1;
                "named"
            }
            Verdict::OneOf | Verdict::Undecided if is_listed => {
                score.untold += 1;
                "untold"
            }
            Verdict::Healthy if kind == "healthy" => {
                score.healthy += 1;
                "healthy"
            }
            Verdict::Healthy | Verdict::Undecided | Verdict::OneOf if is_unseen => {
                score.untold += 1;
                "unseen"
            }
            Verdict::Healthy if is_suspect => {
                score.healthy += 1;
                "suspect"
            }
            Verdict::Unexplained => {
                score.unexplained += 1;
                "unexplained"
            }
            Verdict::Undecided if kind == "healthy" => {
                score.untold += 1;
                "untold"
            }
            _ => {
                score.wrong += 1;
                "wrong"
            }
        };
        let before = holds(built, &numbers);
        score.good_before += u32::from(before);
        let mut after = None;
        if how != "wrong" {
            score.asked_home += 1;
            let steps = match report.repair {
                polewright::bench::RepairVerdict::NothingToDo(_) => Vec::new(),
                _ => report
                    .repairs
                    .first()
                    .map(|r| r.steps.clone())
                    .unwrap_or_default(),
            };
            let numbers = home(built, &numbers, &fault, &steps, &mut random);
            after = Some(holds(built, &numbers));
            score.home += u32::from(after == Some(true));
        }
        if is_loud {
            let truth = match fault {
                Fault::Off(p, by) => format!("{} {by}", built.model.netlist.parts()[p].name),
                Fault::Swapped(a, b) => format!(
                    "{}<>{}",
                    built.model.netlist.parts()[a].name,
                    built.model.netlist.parts()[b].name
                ),
                Fault::Times(p, by) => format!("{} x{by}", built.model.netlist.parts()[p].name),
                Fault::Open(p) => format!("{} open", built.model.netlist.parts()[p].name),
                Fault::Shorted(p) => format!("{} short", built.model.netlist.parts()[p].name),
                Fault::None => "healthy".into(),
            };
            let causes: Vec<String> = report
                .causes
                .iter()
                .map(|c| format!("{} {:.2}", c.words, c.probability))
                .collect();
            println!(
                "{how:9} {} {truth}: noise {:.4} misfit {:.2} healthy {:.3} before {before} after {after:?} {:?} | {} | {:?} {:?}",
                built.model.stage.id(),
                report.noise,
                report.misfit,
                report.healthy,
                report.repair,
                causes.join("; "),
                report.repairs.first().map(|r| (
                    r.steps.iter().map(|s| s.words(false)).collect::<Vec<_>>(),
                    r.probability
                )),
                time
            );
        }
    }
    score
}

#[test]
#[ignore = "for other seeds and beds"]
fn explore() {
    let env = |name: &str, usual: f64| {
        std::env::var(name)
            .ok()
            .and_then(|v| v.parse().ok())
            .unwrap_or(usual)
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
        let score = run(
            kind,
            env("COUNT", 94.0) as u32,
            env("SEED", 1.0) as u64,
            bed,
            env("LOUD", 0.0) > 0.0,
        );
        println!("{kind}: {score:?} mean {:?}", score.time / score.count);
    }
    let _ = built(CATALOGUE[0], &bed, &mut Random(1)).map(|b| b.op_amp);
}
