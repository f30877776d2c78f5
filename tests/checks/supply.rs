//! Lines of switching supplies: against boards drawn one by one with their modes, against lines that an FFT finds in
//! waveforms made for it (tests/reference/supply.py), and free bands against the hits themselves.

use std::f64::consts::TAU;

use polewright::design::{Design, InputError, check, fields};
use polewright::feedback::OpenLoop;
use polewright::outcome::Outcome;
use polewright::plant::{Mode, Model, Plant};
use polewright::response::Transfer;
use polewright::solve::solve;
use polewright::supply::{
    Burst, Converter, Hit, Line, ModeBand, Passages, Source, SpreadSpectrum, Supply, bands,
    free_bands, hits, lines,
};
use serde::Deserialize;

use crate::reference;

use super::draw::Draw;

impl Draw {
    /// −1 to 1, and often one of the ends.
    fn share(&mut self) -> f64 {
        match self.one_of(4) {
            0 => -1.0,
            1 => 1.0,
            _ => self.even(-1.0, 1.0),
        }
    }

    fn supply(&mut self) -> Supply {
        let converters = (0..1 + self.one_of(4)).map(|_| Converter {
            name: String::new(),
            frequency: self.corner(40e3, 2e6),
            tolerance: [0.0, self.even(0.001, 0.15)][self.one_of(2) as usize],
            burst: (self.one_of(3) == 0).then(|| {
                let from = self.corner(50.0, 5e3);
                Burst {
                    from,
                    to: from * self.corner(1.0, 10.0),
                }
            }),
            spread: (self.one_of(3) == 0).then(|| SpreadSpectrum {
                depth: self.even(0.0, 0.08),
                rate: self.corner(1e3, 60e3),
            }),
        });
        Supply {
            converters: converters.collect(),
            harmonics: 1 + self.one_of(6),
            divisors: 1 + self.one_of(5),
            beats: self.one_of(5),
            range: (30e3, 3e6),
        }
    }

    fn model(&mut self) -> Model {
        let modes = (0..1 + self.one_of(4))
            .map(|_| mode(self.corner(20.0, 400e3), self.corner(0.002, 0.3)));
        Model {
            rigid: None,
            modes: modes.collect(),
            ..Model::default()
        }
    }
}

fn mode(frequency: f64, damping: f64) -> Mode {
    Mode {
        frequency,
        damping,
        residue: (TAU * frequency).powi(2),
        slope: 0.0,
    }
}

/// One board: each converter's own numbers as shares of their deviations, from −1 to 1.
#[derive(Clone, Copy)]
struct Board {
    /// Of the switching frequency, of the moment's place in the spread, of the place among the sidebands, of the
    /// modulation's rate, of the bursts.
    shares: [[f64; 5]; Supply::MOST],
}

impl Board {
    /// The signed frequency of a line on this board.
    fn place(&self, supply: &Supply, source: Source) -> f64 {
        let rate = |converter: usize| {
            let known = &supply.converters[converter];
            let spread = known.spread.expect("spread spectrum");
            spread.rate * (1.0 + known.tolerance * self.shares[converter][3])
        };
        let moved = |converter: usize, factor: f64| {
            let known = &supply.converters[converter];
            let [variation, moment, side, ..] = self.shares[converter];
            let own = known.frequency * (1.0 + known.tolerance * variation);
            match known.spread {
                Some(spread) => {
                    factor * own * (1.0 + spread.depth * moment) + side * rate(converter)
                }
                None => factor * own,
            }
        };
        match source {
            Source::Harmonic { converter, order } => moved(converter, f64::from(order)),
            Source::Subharmonic {
                converter,
                order,
                divisor,
            } => moved(converter, f64::from(order) / f64::from(divisor)),
            Source::Burst { converter, order } => {
                let burst = supply.converters[converter].burst.expect("bursts");
                let share = 0.5 + 0.5 * self.shares[converter][4];
                f64::from(order) * (burst.from + (burst.to - burst.from) * share)
            }
            Source::Modulation { converter, order } => f64::from(order) * rate(converter),
            Source::Beat { converters, orders } => {
                moved(converters.0, f64::from(orders.0)) - moved(converters.1, f64::from(orders.1))
            }
        }
    }

    fn drawn(draw: &mut Draw) -> Board {
        Board {
            shares: std::array::from_fn(|_| std::array::from_fn(|_| draw.share())),
        }
    }

    fn between(a: &Board, b: &Board, share: f64) -> Board {
        Board {
            shares: std::array::from_fn(|i| {
                std::array::from_fn(|k| a.shares[i][k] + (b.shares[i][k] - a.shares[i][k]) * share)
            }),
        }
    }
}

/// Every line that the description of a supply promises, by plain counting.
fn promised(supply: &Supply) -> Vec<Source> {
    let divides = |d: u32, a: u32, b: u32| a.is_multiple_of(d) && b.is_multiple_of(d);
    let mut all = Vec::new();
    for (converter, known) in supply.converters.iter().enumerate() {
        for order in 1..=supply.harmonics {
            all.push(Source::Harmonic { converter, order });
            for divisor in 2..=supply.divisors {
                if (2..=divisor).all(|d| !divides(d, order, divisor)) {
                    all.push(Source::Subharmonic {
                        converter,
                        order,
                        divisor,
                    });
                }
            }
            if known.burst.is_some() {
                all.push(Source::Burst { converter, order });
            }
            if known.spread.is_some() {
                all.push(Source::Modulation { converter, order });
            }
        }
        for other in converter + 1..supply.converters.len() {
            for m in 1..=supply.beats {
                for n in 1..=supply.beats {
                    all.push(Source::Beat {
                        converters: (converter, other),
                        orders: (m, n),
                    });
                }
            }
        }
    }
    all
}

/// All boards whose numbers lie at an end of their tolerance, as far as they matter to a line.
fn extreme_boards(source: Source) -> Vec<Board> {
    let (one, other) = source.converters();
    let used: Vec<(usize, usize)> = [Some(one), other]
        .into_iter()
        .flatten()
        .flat_map(|converter| (0..5).map(move |k| (converter, k)))
        .collect();
    let make = |bits: u32| {
        let mut board = Board {
            shares: [[0.0; 5]; Supply::MOST],
        };
        for (place, (converter, k)) in used.iter().enumerate() {
            board.shares[*converter][*k] = if bits >> place & 1 == 1 { 1.0 } else { -1.0 };
        }
        board
    };
    (0..1u32 << used.len()).map(make).collect()
}

#[test]
fn drawn_boards_meet_modes_only_at_hits_and_every_hit_is_met() {
    let mut draw = Draw::new(7);
    let (mut met, mut confirmed, mut missed) = (0, 0, 0);
    for _ in 0..60 {
        let (supply, model) = (draw.supply(), draw.model());
        let drift = draw.even(0.0, 0.05);
        let (all, bands) = (lines(&supply), bands(&model, drift));
        let sources = promised(&supply);
        assert_eq!(all.len(), sources.len());
        assert!(
            sources
                .iter()
                .all(|source| all.iter().any(|line| line.source == *source))
        );
        let found = hits(&all, &bands);
        let is_hit = |source: Source, mode: usize| {
            found
                .iter()
                .any(|hit| hit.line.source == source && hit.mode == mode)
        };
        for _ in 0..300 {
            let board = Board::drawn(&mut draw);
            for (place, mode) in model.modes.iter().enumerate() {
                let own = mode.frequency * (1.0 + drift * draw.share());
                for source in &sources {
                    let f = board.place(&supply, *source).abs();
                    // A hair within the half-width: a board at every end at once lies on the edge itself.
                    if (f - own).abs() <= mode.damping * own * (1.0 - 1e-9) {
                        assert!(
                            is_hit(*source, place),
                            "{source:?} at {f} on mode {place} of {supply:?}"
                        );
                        met += 1;
                    }
                }
            }
        }
        for line in &all {
            let (from, to) = reached(&supply, line);
            // From the slowest board to the fastest, through 0 or not.
            if let Some(hit) = found.iter().find(|hit| hit.line == *line) {
                confirm(&supply, hit, &model.modes[hit.mode], drift, &from, &to);
                confirmed += 1;
            } else {
                missed += 1;
            }
        }
    }
    assert!(
        met > 5_000 && confirmed > 150 && missed > 2_000,
        "{met} {confirmed} {missed}"
    );
}

/// Checks that some board reaches either end of a line, and returns the boards with the least and the greatest
/// signed frequency.
fn reached(supply: &Supply, line: &Line) -> (Board, Board) {
    let place = |board: &Board| board.place(supply, line.source);
    let boards = extreme_boards(line.source);
    let least = boards.iter().min_by(|a, b| place(a).total_cmp(&place(b)));
    let most = boards.iter().max_by(|a, b| place(a).total_cmp(&place(b)));
    let (least, most) = (*least.expect("a board"), *most.expect("a board"));
    let (low, high) = (place(&least), place(&most));
    let sizes = (low.abs(), high.abs());
    let scale = 1e-12 * (1.0 + 1e7);
    let near = |a: f64, b: f64| (a - b).abs() <= scale;
    let nearest = if low * high <= 0.0 {
        0.0
    } else {
        sizes.0.min(sizes.1)
    };
    assert!(near(line.range.0, nearest), "{line:?}: {nearest}");
    assert!(
        near(line.range.1, sizes.0.max(sizes.1)),
        "{line:?}: {sizes:?}"
    );
    (least, most)
}

/// Finds a board and a unit for a hit.
fn confirm(supply: &Supply, hit: &Hit, mode: &Mode, drift: f64, least: &Board, most: &Board) {
    let middle = 0.5 * (hit.shared.0 + hit.shared.1);
    let place = |share: f64| Board::between(least, most, share).place(supply, hit.line.source);
    // On the way from the least to the greatest the line passes the middle of what is shared, on either side of 0.
    let wanted = if place(1.0) >= middle {
        middle
    } else {
        -middle
    };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..100 {
        let share = 0.5 * (low + high);
        if place(share) < wanted {
            low = share
        } else {
            high = share
        }
    }
    let f = place(high).abs();
    assert!(
        (f - middle).abs() <= 1e-9 * (1.0 + f) + 1e-5,
        "{hit:?}: {f}"
    );
    let own = f.clamp(
        mode.frequency * (1.0 - drift),
        mode.frequency * (1.0 + drift),
    );
    assert!(
        (f - own).abs() <= mode.damping * own * (1.0 + 1e-9) + 1e-5,
        "{hit:?}: {f} {own}"
    );
}

/// A hit that moves with a converter's switching frequency.
fn moves_with(hit: &Hit, converter: usize) -> bool {
    match hit.line.source {
        Source::Harmonic { converter: own, .. } | Source::Subharmonic { converter: own, .. } => {
            own == converter
        }
        Source::Beat { converters, .. } => converters.0 == converter || converters.1 == converter,
        Source::Burst { .. } | Source::Modulation { .. } => false,
    }
}

#[test]
fn free_bands_are_free_and_end_at_a_hit() {
    let mut draw = Draw::new(8);
    let (mut ends, mut tried) = (0, [0; 2]);
    for _ in 0..120 {
        let (supply, model) = (draw.supply(), draw.model());
        let bands = bands(&model, draw.even(0.0, 0.03));
        for converter in 0..supply.converters.len() {
            let free = free_bands(&supply, &lines(&supply), &bands, converter);
            let is_hit = |frequency: f64| {
                let mut supply = supply.clone();
                supply.converters[converter].frequency = frequency;
                let found = hits(&lines(&supply), &bands);
                found.iter().any(|hit| moves_with(hit, converter))
            };
            for pair in free.windows(2) {
                assert!(pair[0].1 < pair[1].0, "{free:?}");
            }
            // Far finer than any band, far coarser than rounding.
            let hair = 1e-9;
            for &(from, to) in &free {
                assert!(supply.range.0 <= from && from < to && to <= supply.range.1);
                for (end, inwards) in [(from, 1.0 + hair), (to, 1.0 - hair)] {
                    if to > from * (1.0 + 4.0 * hair) {
                        assert!(!is_hit(end * inwards), "{end} {free:?} {supply:?}");
                    }
                    if end != supply.range.0 && end != supply.range.1 {
                        assert!(is_hit(end / inwards), "{end} {free:?} {supply:?}");
                        ends += 1;
                    }
                }
            }
            for _ in 0..40 {
                let frequency = draw.corner(supply.range.0, supply.range.1);
                let is_free = free
                    .iter()
                    .any(|(from, to)| (from..to).contains(&&frequency));
                assert_eq!(
                    is_hit(frequency),
                    !is_free,
                    "{frequency} {free:?} {supply:?}"
                );
                tried[usize::from(is_free)] += 1;
            }
        }
    }
    assert!(
        ends > 300 && tried[0] > 1_000 && tried[1] > 1_000,
        "{ends} {tried:?}"
    );
}

#[derive(Deserialize)]
struct Reference {
    beats: Vec<Beats>,
    doubling: Vec<Doubling>,
    bursts: Vec<Bursts>,
    spread: Vec<Spread>,
}

#[derive(Deserialize)]
struct Beats {
    marked: [f64; 2],
    tolerances: [f64; 2],
    orders: u32,
    boards: Vec<BeatBoard>,
}

#[derive(Deserialize)]
struct BeatBoard {
    frequencies: [f64; 2],
    lines: Vec<f64>,
    amplitudes: Vec<f64>,
}

#[derive(Deserialize)]
struct Doubling {
    frequency: f64,
    divisor: u32,
    below: f64,
    lines: Vec<f64>,
}

#[derive(Deserialize)]
struct Bursts {
    frequency: f64,
    rate: f64,
    below: f64,
    lines: Vec<f64>,
}

#[derive(Deserialize)]
struct Spread {
    frequency: f64,
    depth: f64,
    rate: f64,
    bands: Vec<(f64, f64)>,
}

fn converter(frequency: f64, tolerance: f64) -> Converter {
    Converter {
        frequency,
        tolerance,
        ..Converter::default()
    }
}

/// Where lines of some kind lie that are sharp, in rising order, below a limit.
fn sharp(supply: &Supply, below: f64, is_one: impl Fn(Source) -> bool) -> Vec<(f64, u32)> {
    let mut places: Vec<(f64, u32)> = lines(supply)
        .iter()
        .filter(|line| is_one(line.source) && line.range.0 < below)
        .map(|line| {
            assert!(line.range.1 - line.range.0 < 1e-6, "{line:?}");
            (line.range.0, line.source.order())
        })
        .collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    places
}

fn same(found: &[(f64, u32)], expected: &[f64]) {
    assert_eq!(found.len(), expected.len(), "{found:?} {expected:?}");
    for ((a, _), b) in found.iter().zip(expected) {
        assert!((a - b).abs() < 1e-6, "{found:?} {expected:?}");
    }
}

#[test]
fn beats_are_the_lines_of_two_ripples_multiplied() {
    for case in reference::read::<Reference>("supply").beats {
        let supply = |frequencies: [f64; 2], tolerances: [f64; 2]| Supply {
            converters: vec![
                converter(frequencies[0], tolerances[0]),
                converter(frequencies[1], tolerances[1]),
            ],
            beats: case.orders,
            ..Supply::default()
        };
        let is_beat = |source| matches!(source, Source::Beat { .. });
        let drifting = lines(&supply(case.marked, case.tolerances));
        for board in &case.boards {
            let below = board.frequencies[0].min(board.frequencies[1]);
            let found = sharp(&supply(board.frequencies, [0.0; 2]), below, is_beat);
            same(&found, &board.lines);
            // Of ripples that fall as 1/k each product is exactly 1/(2·m·n) high.
            for ((_, order), amplitude) in found.iter().zip(&board.amplitudes) {
                assert!((amplitude * 2.0 * f64::from(*order) - 1.0).abs() < 1e-9);
            }
            // And each of them lies within some beat of the converters as marked.
            for f in &board.lines {
                let holds =
                    |line: &&Line| is_beat(line.source) && line.range.0 <= *f && *f <= line.range.1;
                assert!(drifting.iter().any(|line| holds(&line)), "{f}");
            }
        }
    }
}

#[test]
fn subharmonics_are_the_lines_of_cycles_that_repeat_late() {
    for case in reference::read::<Reference>("supply").doubling {
        let supply = Supply {
            converters: vec![converter(case.frequency, 0.0)],
            divisors: case.divisor,
            ..Supply::default()
        };
        // A pattern of four cycles has the lines of a pattern of two among its own, and none of three.
        let is_one = |source| match source {
            Source::Harmonic { .. } => true,
            Source::Subharmonic { divisor, .. } => case.divisor.is_multiple_of(divisor),
            _ => false,
        };
        same(&sharp(&supply, case.below, is_one), &case.lines);
    }
}

#[test]
fn bursts_have_their_harmonics() {
    for case in reference::read::<Reference>("supply").bursts {
        let burst = Burst {
            from: case.rate,
            to: case.rate,
        };
        let supply = Supply {
            converters: vec![Converter {
                burst: Some(burst),
                ..converter(case.frequency, 0.0)
            }],
            ..Supply::default()
        };
        let is_burst = |source| matches!(source, Source::Burst { .. });
        same(&sharp(&supply, case.below, is_burst), &case.lines);
    }
}

#[test]
fn a_moved_harmonic_keeps_its_power_within_its_interval() {
    for case in reference::read::<Reference>("supply").spread {
        let spread = SpreadSpectrum {
            depth: case.depth,
            rate: case.rate,
        };
        let supply = Supply {
            converters: vec![Converter {
                spread: Some(spread),
                ..converter(case.frequency, 0.0)
            }],
            ..Supply::default()
        };
        let all = lines(&supply);
        for (k, (from, to)) in case.bands.iter().enumerate() {
            let own = Source::Harmonic {
                converter: 0,
                order: k as u32 + 1,
            };
            let line = all
                .iter()
                .find(|line| line.source == own)
                .expect("a harmonic");
            assert!(
                line.range.0 <= *from && *to <= line.range.1,
                "{line:?} {from} {to}"
            );
            // The interval is Carson's: the deviation and once the rate to each side.
            let carson = 2.0 * (f64::from(k as u32 + 1) * case.depth * case.frequency + case.rate);
            assert!((line.range.1 - line.range.0 - carson).abs() < 1e-6);
        }
    }
}

#[test]
fn what_comes_through_is_the_most_over_units_and_frequencies() {
    let mut draw = Draw::new(9);
    for _ in 0..40 {
        let model = Model {
            rigid: None,
            modes: vec![
                mode(30.0, 0.2),
                mode(draw.corner(1e3, 3e3), draw.corner(0.003, 0.03)),
                mode(9e3, 0.01),
            ],
            lag: Some(20e3),
            delay: 6e-6,
        };
        let notch = Transfer {
            num: vec![1.0, draw.even(0.0, 0.1), 1.0],
            den: vec![1.0, 0.5, 1.0],
            omega: TAU * model.modes[1].frequency * draw.even(0.97, 1.03),
        };
        let gain = Transfer {
            num: vec![draw.corner(0.01, 1.0)],
            den: vec![1.0, 1.0],
            omega: TAU * 500.0,
        };
        let open = OpenLoop {
            stages: vec![&notch, &gain],
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let drift = draw.even(0.0, 0.04);
        let bands = bands(&model, drift);
        let band: ModeBand = bands[1];
        let from = draw.even(0.9, 1.05) * band.range.0;
        let line = Line {
            source: Source::Burst {
                converter: 0,
                order: 1,
            },
            range: (from, from * draw.even(1.0, 1.2)),
        };
        let found = hits(&[line], &bands);
        let Some(hit) = found.iter().find(|hit| hit.mode == 1) else {
            continue;
        };
        let unit = |frequency: f64| {
            let mut unit = model.clone();
            unit.modes[1].frequency = frequency;
            unit
        };
        let path = |f: f64| notch.at(f) * gain.at(f);
        let decibel = |ratio: f64| 20.0 * ratio.log10();
        // With the loop open: all units, all frequencies.
        let opened = Passages::new(&open, &model, false, &bands)
            .worst(hit)
            .expect("a passage");
        let mut most = f64::NEG_INFINITY;
        for i in 0..=200 {
            let f = hit.shared.0 + (hit.shared.1 - hit.shared.0) * f64::from(i) / 200.0;
            for k in -40..=40 {
                let unit = unit(model.modes[1].frequency * (1.0 + drift * f64::from(k) / 40.0));
                most = most.max(decibel((path(f) * unit.at(f)).norm()));
            }
        }
        assert!((opened.through_db - most).abs() < 0.3, "{opened:?} {most}");
        // Closed: as it is told, recomputed with the loop's own transfer.
        let closed = Passages::new(&open, &model, true, &bands)
            .worst(hit)
            .expect("a passage");
        let f = closed.frequency;
        assert!(hit.shared.0 <= f && f <= hit.shared.1);
        let near = unit(f.clamp(
            model.modes[1].frequency * (1.0 - drift),
            model.modes[1].frequency * (1.0 + drift),
        ));
        let l = OpenLoop {
            plant: Plant::Model(&near),
            ..open.clone()
        }
        .at(f);
        assert!((closed.through_db - decibel((l / (1.0 + l)).norm())).abs() < 1e-9);
        assert!((closed.path_db - decibel(path(f).norm())).abs() < 1e-9);
        assert!((closed.plant_db - decibel(near.at(f).norm())).abs() < 1e-9);
    }
}

fn design() -> Design {
    let mut design = Design::default();
    design.spread.boards = 100;
    design.view.compare = false;
    design.view.contributions = false;
    design.view.propose = false;
    design.servo.model = Some(Model {
        rigid: None,
        modes: vec![mode(27.0, 0.1), mode(2350.0, 0.01), mode(5100.0, 0.01)],
        ..Model::default()
    });
    design.servo.supply = Some(Supply {
        converters: vec![
            converter(500e3, 0.1),
            Converter {
                name: "Logic".to_owned(),
                burst: Some(Burst::default()),
                spread: Some(SpreadSpectrum::default()),
                ..converter(2.1e6, 0.1)
            },
        ],
        ..Supply::default()
    });
    design
}

#[test]
fn a_supply_goes_from_design_to_outcome() {
    let design = design();
    let outcome = solve(&design).expect("an outcome");
    let supply = outcome.supply.as_ref().expect("the supply");
    assert_eq!(supply.free.len(), 2);
    // Bursts of 200 Hz to 20 kHz come over 2.35 kHz and 5.1 kHz five times each, and do not beat with anything;
    // 4·500 kHz and 2.1 MHz would meet, but beats are followed to 3.
    let burst =
        |hit: &&polewright::outcome::SupplyHit| matches!(hit.hit.line.source, Source::Burst { .. });
    assert_eq!(supply.hits.iter().filter(burst).count(), 10);
    assert_eq!(supply.hits.len(), 10);
    assert!(
        supply
            .hits
            .windows(2)
            .all(|pair| pair[0].rank_db >= pair[1].rank_db)
    );
    assert!(
        supply
            .told
            .iter()
            .any(|line| line.starts_with("Logic: its bursts")),
        "{:?}",
        supply.told
    );
    let text = serde_json::to_string(&outcome).expect("JSON");
    assert_eq!(
        serde_json::from_str::<Outcome>(&text).expect("an outcome"),
        outcome
    );
    let text = serde_json::to_string(&design).expect("JSON");
    assert_eq!(
        serde_json::from_str::<Design>(&text).expect("a design"),
        design
    );

    let mut more = design.clone();
    more.servo.supply.as_mut().expect("a supply").beats = 4;
    let more = solve(&more)
        .expect("an outcome")
        .supply
        .expect("the supply");
    assert_eq!(more.hits.len(), 13);
    assert!(
        more.told
            .iter()
            .any(|line| line.starts_with("Converter 1 and Logic come so near"))
    );

    let mut bare = design;
    bare.servo.supply = None;
    assert_eq!(solve(&bare).expect("an outcome").supply, None);
}

#[test]
fn entries_of_a_supply_are_fields_and_are_checked() {
    let good = design();
    let supply = fields(&good)
        .into_iter()
        .filter(|(_, f)| f.path.starts_with("/servo/supply"));
    let tree = serde_json::to_value(&good).expect("JSON");
    let mut count = 0;
    for (_, field) in supply {
        let value = tree.pointer(&field.path).expect("a value");
        assert_eq!(field.holds(value), Ok(()));
        let read = field.read(&field.show(value)).expect("a value");
        assert_eq!(
            good.with(&field.path, read).expect("a design"),
            good,
            "{}",
            field.path
        );
        count += 1;
    }
    // Orders and range; two each; bursts and spread spectrum.
    assert_eq!(count, 5 + 2 * 2 + 4);
    let errors = |edit: fn(&mut Supply)| -> Vec<InputError> {
        let mut design = good.clone();
        edit(design.servo.supply.as_mut().expect("a supply"));
        check(&design).expect_err("something wrong")
    };
    type Edit = fn(&mut Supply);
    let cases: [(Edit, &str); 6] = [
        (
            |s| s.converters[1].tolerance = 0.9,
            "converters/1/tolerance",
        ),
        (
            |s| s.converters[0].frequency = f64::NAN,
            "converters/0/frequency",
        ),
        (|s| s.harmonics = 0, "harmonics"),
        (|s| s.converters.clear(), "converters"),
        (|s| s.range.1 = s.range.0, "range/1"),
        (
            |s| s.converters[1].burst = Some(Burst { from: 9.0, to: 2.0 }),
            "converters/1/burst/to",
        ),
    ];
    for (edit, place) in cases {
        let errors = errors(edit);
        assert_eq!(errors[0].path, format!("/servo/supply/{place}"));
        assert!(errors[0].message.ends_with('.'));
    }
}
