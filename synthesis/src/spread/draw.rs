//! Drawing boards.
//!
//! Every board has its own stretch of one ChaCha8 key stream, so a board is the same whether it is
//! drawn first, last, or alone, in one slice or in many, natively or in WebAssembly. Terms as in
//! JCGM 101:2008: what strays is an input quantity, drawn through the inverse of its distribution
//! (C.2); what parts share is an input quantity of its own, so that all of them are independent.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde::{Deserialize, Serialize};

use super::law::Deviations;
use super::side_by_side;
use super::{Reach, Variation, VariationKind};
use crate::numerics::put_in_order;

/// All boards that might be built.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Population {
    pub variations: Vec<Variation>,
    /// How many deviations are shared by several of them.
    pub commons: usize,
    /// Boards work up to this many kelvins above or below the temperature at which parts are measured.
    pub temperature_span: f64,
}

/// What independently strays on a board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Factor {
    /// The temperature at which the board works.
    Temperature,
    /// A deviation that several numbers have in common.
    Common(usize),
    /// What is one number's own.
    Own(usize),
}

/// Boards that a thread draws at once.
const TAKEN: u32 = 2048;
/// A factor's numbers from 0 to 1: deviation as delivered, drift with temperature, ageing.
const UNITS: usize = 3;

/// The boards of a population: [`Draws::board`] gives any of them.
#[derive(Clone)]
pub struct Draws {
    population: Population,
    deviations: Vec<Deviations>,
    /// Strays that are drawn, by their place.
    drawn: Vec<usize>,
    /// A stray that feels each common deviation, and how far.
    shared: Vec<Option<(usize, Reach)>>,
    random: ChaCha8Rng,
    /// The board that comes next in the stream.
    next: Option<u64>,
    units: Vec<f64>,
}

impl Draws {
    pub fn new(population: Population, seed: u64) -> Draws {
        let variations = &population.variations;
        let drawn: Vec<usize> = (0..variations.len())
            .filter(|&at| variations[at].kind != VariationKind::Fixed)
            .collect();
        let deviations = variations.iter().map(|s| s.distribution.ready()).collect();
        let feels = |common: usize| {
            variations.iter().enumerate().find_map(|(at, variation)| {
                let with = variation.shared.filter(|with| with.common == common)?;
                Some((at, with.reach))
            })
        };
        let shared = (0..population.commons).map(feels).collect();
        Draws {
            units: vec![0.0; 1 + UNITS * (population.commons + drawn.len())],
            population,
            deviations,
            drawn,
            shared,
            random: ChaCha8Rng::seed_from_u64(seed),
            next: None,
        }
    }

    pub fn population(&self) -> &Population {
        &self.population
    }

    /// What strays independently, in the order of the units.
    pub fn factors(&self) -> Vec<Factor> {
        let commons = (0..self.population.commons).map(Factor::Common);
        let own = self.drawn.iter().map(|&at| Factor::Own(at));
        std::iter::once(Factor::Temperature)
            .chain(commons)
            .chain(own)
            .collect()
    }

    /// How many of them there are.
    pub fn factor_count(&self) -> usize {
        1 + self.population.commons + self.drawn.len()
    }

    /// How many numbers from 0 to 1 make a board.
    pub fn unit_count(&self) -> usize {
        1 + UNITS * (self.factor_count() - 1)
    }

    /// Which of a board's units belong to the factor at this place of [`Draws::factors`].
    pub fn units_of(&self, factor: usize) -> std::ops::Range<usize> {
        match factor {
            0 => 0..1,
            _ => 1 + UNITS * (factor - 1)..1 + UNITS * factor,
        }
    }

    /// The numbers that feel a factor, by their place, and how far each may go with it. Temperature moves what
    /// has a tempco.
    pub fn felt(&self, factor: Factor) -> Vec<(usize, Reach)> {
        let variations = &self.population.variations;
        let drawn = self.drawn.iter().map(|&at| (at, &variations[at]));
        let shared = |variation: &Variation| variation.shared.map(|with| (with.common, with.reach));
        match factor {
            Factor::Own(at) => vec![(at, variations[at].own)],
            Factor::Common(common) => drawn
                .filter_map(|(at, variation)| {
                    let (of, reach) = shared(variation)?;
                    (of == common).then_some((at, reach))
                })
                .collect(),
            Factor::Temperature => drawn
                .map(|(at, variation)| {
                    let with = shared(variation).map_or(0.0, |(_, reach)| reach.tempco);
                    let tempco = variation.own.tempco + with;
                    (
                        at,
                        Reach {
                            tempco,
                            ..Reach::default()
                        },
                    )
                })
                .filter(|(_, reach)| reach.tempco > 0.0)
                .collect(),
        }
    }

    /// Whether a factor moves anything.
    pub fn moves(&self, factor: Factor) -> bool {
        let drifts = self.population.temperature_span > 0.0;
        self.felt(factor).iter().any(|(_, reach)| {
            reach.tolerance > 0.0 || reach.ageing > 0.0 || (drifts && reach.tempco > 0.0)
        })
    }

    /// The part values of board number `index`, written to `values`.
    pub fn board(&mut self, index: u64, values: &mut [f64]) {
        let mut units = std::mem::take(&mut self.units);
        self.units(index, &mut units);
        self.values(&units, values);
        self.units = units;
    }

    /// Boards from number `first` on, row after row: as many as `numbers` has room for.
    pub fn boards(&mut self, first: u64, numbers: &mut [f64]) {
        let stride = self.population.variations.len();
        for (board, row) in (first..).zip(numbers.chunks_exact_mut(stride)) {
            self.board(board, row);
        }
    }

    /// All boards before number `count`, row after row; on threads, where there are some.
    pub fn side_by_side(self, count: u32) -> Vec<f64> {
        let stride = self.population.variations.len();
        let range = |from: u32| from..count.min(from.saturating_add(TAKEN));
        let ranges = (0..count).step_by(TAKEN as usize).map(range).collect();
        let mut drawn = side_by_side::draw(
            &mut vec![self; side_by_side::threads()],
            ranges,
            |draws, range| {
                let mut numbers = vec![0.0; stride * range.len()];
                draws.boards(u64::from(range.start), &mut numbers);
                numbers
            },
        );
        put_in_order(&mut drawn, |(a, _), (b, _)| a.start.cmp(&b.start));
        let rows: Vec<Vec<f64>> = drawn.into_iter().map(|(_, rows)| rows).collect();
        rows.concat()
    }

    /// The units of board number `index`: independent and uniform within (0, 1), never an end.
    pub fn units(&mut self, index: u64, units: &mut [f64]) {
        if self.next != Some(index) {
            let words = self.unit_count() as u128;
            self.random.set_word_pos(u128::from(index) * words);
        }
        for unit in units {
            *unit = (f64::from(self.random.next_u32()) + 0.5) / 4_294_967_296.0;
        }
        self.next = Some(index + 1);
    }

    /// The values of the board with these units, written to `values`; units may be 0 or 1 here.
    pub fn values(&self, units: &[f64], values: &mut [f64]) {
        let Population {
            variations,
            commons,
            temperature_span,
        } = &self.population;
        let (temperature, rest) = units.split_at(1);
        let kelvin = temperature_span * (2.0 * temperature[0] - 1.0);
        let (shared, own) = rest.split_at(UNITS * commons);
        for (value, variation) in values.iter_mut().zip(variations) {
            *value = variation.nominal;
        }
        for (&at, own) in self.drawn.iter().zip(own.chunks_exact(UNITS)) {
            let variation = &variations[at];
            let (mut deviation, mut drift) = self.moved(at, variation.own, own, kelvin);
            if let Some(with) = variation.shared {
                let units = &shared[UNITS * with.common..][..UNITS];
                let (more, further) = self.moved(at, with.reach, units, kelvin);
                deviation += more;
                drift += further;
            }
            values[at] = variation.value(deviation, drift);
        }
    }

    /// A deviation as delivered and a drift, as a factor's units say.
    fn moved(&self, at: usize, reach: Reach, units: &[f64], kelvin: f64) -> (f64, f64) {
        let side = |unit: f64| 2.0 * unit - 1.0;
        let deviation = if reach.tolerance == 0.0 {
            0.0
        } else {
            reach.tolerance * self.deviations[at].at(units[0])
        };
        let drift = reach.tempco * side(units[1]) * kelvin + reach.ageing * side(units[2]);
        (deviation, drift)
    }

    /// How far each factor but the temperature moves a board with these units, written to `moved` in the
    /// order of [`Draws::factors`]: a deviation in all, uncorrelated between factors.
    pub fn factor_deviations(&self, units: &[f64], moved: &mut [f64]) {
        let kelvin = self.population.temperature_span * (2.0 * units[0] - 1.0);
        let commons = self.shared.iter().copied();
        let own = self
            .drawn
            .iter()
            .map(|&at| Some((at, self.population.variations[at].own)));
        moved[0] = 0.0;
        let factors = commons.chain(own).zip(units[1..].chunks_exact(UNITS));
        for (moved, (felt, units)) in moved[1..].iter_mut().zip(factors) {
            *moved = felt.map_or(0.0, |(at, reach)| {
                let (deviation, drift) = self.moved(at, reach, units, kelvin);
                deviation + drift
            });
        }
    }
}
