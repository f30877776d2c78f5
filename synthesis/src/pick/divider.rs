//! The best pair for a divider: two parts that count only by the fraction that they pass.

use super::descend::slopes_at;
use super::moves::Move;
use std::cmp::Ordering;
use std::ops::Range;

use super::comfort::{Bother, Weights};
use super::rank::steps_below;
use crate::numerics::{Bracket, Scatter, put_in_order};
use crate::stages::{Model, Scratch, Terms};

/// Where a divider is bought, and what is known of the set that it is for.
pub(super) struct Shop<'a> {
    pub model: &'a Model,
    /// Values that the upper and the lower part may have, rising.
    pub uppers: &'a [f64],
    pub lowers: &'a [f64],
    /// What each of them costs in comfort.
    pub upper_strains: &'a [f64],
    pub lower_strains: &'a [f64],
    /// Figures of a similar set.
    pub hint: &'a [f64],
    /// No pair brings the set below this step.
    pub step: u32,
    pub weights: Weights,
}

/// Misses within the same share of a limit count as equal here, so that pairs that are easier to buy win.
const STEP: f64 = 0.1;

/// The step that a miss belongs to.
pub(super) fn step_of(miss: f64) -> u32 {
    (miss / STEP).min(1e9) as u32
}

/// The lower part over the upper one.
#[derive(Clone, Copy)]
struct Ratio(f64);

impl Ratio {
    /// With which a pair passes a fraction.
    fn of(fraction: f64) -> Ratio {
        match fraction < 1.0 {
            true => Ratio(fraction / (1.0 - fraction)),
            false => Ratio(f64::INFINITY),
        }
    }

    fn fraction(self) -> f64 {
        match self.0.is_finite() {
            true => self.0 / (1.0 + self.0),
            false => 1.0,
        }
    }
}

/// From a fraction to another.
type Span = (f64, f64);

/// Misses this much larger may be worth a value that need not be bought, in limits.
const WORTH_A_VALUE: f64 = 0.4;

/// What a pair's set costs, in points, and its miss, which decides among equals.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Rank {
    points: f64,
    miss: f64,
}

impl Rank {
    fn order(&self, other: &Rank) -> Ordering {
        (self.points.total_cmp(&other.points)).then(self.miss.total_cmp(&other.miss))
    }
}

/// So many pairs are tried for a set: where no pair keeps what its bound promises, all would be.
const MOST_TRIED: usize = 60;

/// Of pairs that add the same number of values about so many are listed: where there are more, every second, third
/// and so on.
const MOST_LISTED: usize = 3000;

/// What is promised is believed when no term of the pairs that come of it is further off, in limits.
const SURE: f64 = 0.01;

/// And of all pairs so many that promise the least misses: boards may ask for one of them.
const NEAREST: usize = 6;

/// A pair with the least that its set can rank at, and the miss that it promises.
#[derive(Clone, Copy)]
struct Offer {
    bound: Rank,
    /// Of the set with the pair in it.
    distinct: u32,
    strain: f64,
    miss: f64,
    fraction: f64,
    above: f64,
    below: f64,
}

impl Offer {
    fn is_same(&self, other: &Offer) -> bool {
        (self.above, self.below) == (other.above, other.below)
    }
}

/// A set with a pair in it.
struct Tried {
    rank: Rank,
    /// Of good boards.
    share: f64,
    offer: Offer,
}

/// Where pairs are looked for.
struct Window {
    bend: Bend,
    /// For each upper part's value the lower ones with which a pair is as good as the best one's; and those with which
    /// it may still be worth it where it adds fewer values.
    near: Vec<Range<usize>>,
    wide: Vec<Range<usize>>,
}

/// The set without the divider: what is counted already.
struct Rest {
    distinct: u32,
    strain: f64,
    /// Values of its parts of the divider's kind.
    values: Vec<f64>,
}

impl Shop<'_> {
    /// The pair whose fraction comes nearest to the one that these values have, as comfortable as may be: for a set
    /// that does not hold the limits anyway.
    pub fn nearest(&self, values: &[f64], (upper, lower): (usize, usize)) -> Vec<f64> {
        let wanted = values[lower] / (values[upper] + values[lower]);
        let mut best = (f64::INFINITY, values[upper], values[lower]);
        for (place, &above) in self.uppers.iter().enumerate() {
            let at = self
                .lowers
                .partition_point(|below| below / (above + below) < wanted);
            for next in at.saturating_sub(1)..(at + 1).min(self.lowers.len()) {
                let below = self.lowers[next];
                let away = (below / (above + below) - wanted).abs();
                let strain = self.upper_strains[place] + self.lower_strains[next];
                let cost = away + 0.002 * strain;
                if cost < best.0 {
                    best = (cost, above, below);
                }
            }
        }
        let mut set = values.to_vec();
        (set[upper], set[lower]) = (best.1, best.2);
        set
    }

    /// The set with its best pairs, all other values standing: the one of fewest points, and the one that a step of
    /// the boards' share would have; none where the curve cannot be read or no pair is of use.
    ///
    /// Pairs that repeat values already bought are looked at first, because they rank first. `scatter` is that of
    /// boards of a similar set.
    pub fn choose(
        &self,
        values: &[f64],
        movement: Move,
        pair: (usize, usize),
        scatter: &Scatter,
        scratch: &mut Scratch,
    ) -> Vec<Vec<f64>> {
        let Some((bend, near, wide)) = self.window(values, movement, scratch) else {
            return Vec::new();
        };
        let rest = self.rest(values, pair);
        let window = Window {
            near: self.ranges(near),
            wide: self.ranges(wide),
            bend,
        };
        let with = |offer: &Offer| {
            let mut values = values.to_vec();
            (values[pair.0], values[pair.1]) = (offer.above, offer.below);
            values
        };
        let mut read = |offer: &Offer| self.model.terms(&with(offer), Some(self.hint), scratch);
        let bend = &window.bend;
        let mut chosen = self.best(&window, &rest, scatter, &mut |offer| {
            bend.at(offer.fraction)
        });
        // A slow op amp feels a divider's level too; then pairs are looked at one by one.
        let is_as_promised = chosen.iter().all(|offer| {
            let promised = bend.at(offer.fraction);
            let mut both = promised.iter().zip(read(offer));
            both.all(|(promised, term)| (promised - term).abs() <= SURE)
        });
        if !is_as_promised {
            chosen = self.best(&window, &rest, scatter, &mut read);
        }
        chosen.iter().map(with).collect()
    }

    /// The pairs that [`Shop::choose`] gives to a set; `terms_of` tells the misses with a pair.
    fn best(
        &self,
        window: &Window,
        rest: &Rest,
        scatter: &Scatter,
        terms_of: &mut dyn FnMut(&Offer) -> Vec<f64>,
    ) -> Vec<Offer> {
        let there = There::new(self, rest);
        let mut tried: Vec<Tried> = Vec::new();
        let mut best = None;
        let useless = |bound: &Rank, best: &Option<Rank>| {
            best.is_some_and(|known| known.order(bound).is_le())
        };
        let mut nearest: Vec<Offer> = Vec::new();
        for new in 0..=2 {
            let bound = self.rank(rest.distinct + new, rest.strain, self.step);
            let rows = if new < 2 { &window.wide } else { &window.near };
            let pairs = self.pairs(new, &there, rows);
            let mut offers: Vec<Offer> = (pairs.iter())
                .map(|pair| self.offer(pair, &window.bend, rest, new))
                .collect();
            put_in_order(&mut offers, |a, b| a.bound.order(&b.bound));
            nearest.extend(&offers);
            if useless(&bound, &best) {
                continue;
            }
            for offer in offers {
                if tried.len() >= MOST_TRIED || useless(&offer.bound, &best) {
                    break;
                }
                let trial = self.try_out(&offer, terms_of(&offer), scatter);
                if best.is_none_or(|known| trial.rank.order(&known).is_lt()) {
                    best = Some(trial.rank);
                }
                tried.push(trial);
            }
        }
        put_in_order(&mut nearest, |a, b| a.miss.total_cmp(&b.miss));
        for offer in nearest.iter().take(NEAREST) {
            if !tried.iter().any(|trial| trial.offer.is_same(offer)) {
                tried.push(self.try_out(offer, terms_of(offer), scatter));
            }
        }
        let share = tried.iter().map(|trial| trial.share).fold(0.0, f64::max);
        let steps = |trial: &Tried| steps_below(trial.share, share);
        let by_points = |a: &&Tried, b: &&Tried| a.rank.order(&b.rank);
        let by_share =
            |a: &&Tried, b: &&Tried| steps(a).cmp(&steps(b)).then_with(|| by_points(a, b));
        let few = tried.iter().min_by(by_points);
        let good = tried.iter().min_by(by_share);
        let mut chosen: Vec<Offer> = few.into_iter().chain(good).map(|t| t.offer).collect();
        chosen.dedup_by(|a, b| a.is_same(b));
        chosen
    }

    /// What a pair that adds `new` values promises.
    fn offer(&self, pair: &Pair, bend: &Bend, rest: &Rest, new: u32) -> Offer {
        let (above, below) = (self.uppers[pair.upper], self.lowers[pair.lower]);
        let fraction = below / (above + below);
        let miss = bend.miss(self.model.term_shape(), fraction);
        let least = (miss - bend.doubt(fraction)).max(0.0);
        let (distinct, strain) = (rest.distinct + new, rest.strain + pair.strain);
        Offer {
            bound: self.rank(distinct, strain, step_of(least)),
            distinct,
            strain,
            miss,
            fraction,
            above,
            below,
        }
    }

    fn try_out(&self, offer: &Offer, terms: Vec<f64>, scatter: &Scatter) -> Tried {
        let shape = self.model.term_shape();
        let miss = shape.miss(&terms);
        let rank = Rank {
            miss,
            ..self.rank(offer.distinct, offer.strain, step_of(miss))
        };
        Tried {
            rank,
            share: scatter.share(&shape.groups, &terms),
            offer: *offer,
        }
    }

    /// With a miss at the beginning of a step.
    fn rank(&self, distinct: u32, strain: f64, step: u32) -> Rank {
        let weights = &self.weights;
        let points = weights.value * f64::from(distinct)
            + weights.strain * strain
            + weights.miss * STEP * f64::from(step)
            // No value saved is worth a limit that is not held.
            + if STEP * f64::from(step) >= 1.0 { 1e3 } else { 0.0 };
        Rank { points, miss: 0.0 }
    }

    /// How the misses go with the fraction, and between which fractions they are as good as the best pair's; and
    /// between which a pair may still be worth it that adds fewer values.
    fn window(
        &self,
        values: &[f64],
        movement: Move,
        scratch: &mut Scratch,
    ) -> Option<(Bend, Span, Span)> {
        let (model, hint) = (self.model, Some(self.hint));
        let shape = model.term_shape();
        let mut base = values.to_vec();
        let mut terms = model.terms(&base, hint, scratch);
        let slope = slopes_at(model, &base, &terms, self.hint, &[movement], scratch).remove(0);
        movement.go(&mut base, least_squares(&terms, &slope));
        terms = model.terms(&base, hint, scratch);
        if terms.iter().any(|t| !t.is_finite()) {
            return None;
        }
        let centre = movement.position(&base);
        let (mut under, mut over) = (0.0f64, f64::INFINITY);
        let mut passed = 0;
        for &above in self.uppers {
            passed = self.up_to(above, Ratio::of(centre), passed);
            if let Some(below) = self.lowers[..passed].last() {
                under = under.max(below / above);
            }
            if let Some(below) = self.lowers.get(passed) {
                over = over.min(below / above);
            }
        }
        let (under, over) = (Ratio(under).fraction(), Ratio(over).fraction());
        // Only the fraction counts, so it may be tried without a pair that has it.
        let mut exact = |fraction: f64| {
            let mut trial = base.clone();
            movement.go(&mut trial, fraction - centre);
            model.terms(&trial, hint, scratch)
        };
        let least = shape.miss(&exact(under)).min(shape.miss(&exact(over)));
        // Everything up to the end of the step of the least miss is as good, for its first key.
        let end = f64::from(step_of(least) + 1) * STEP;
        let line = Bend {
            centre,
            curve: vec![0.0; terms.len()],
            terms,
            slope,
        };
        let wide = end + WORTH_A_VALUE;
        let far = [
            line.edge(shape, wide, 0.0).min(under),
            line.edge(shape, wide, 1.0).max(over),
        ];
        let bend = line.through(far, far.map(&mut exact));
        let within = |end: f64| {
            let lowest = bend.edge(shape, end, 0.0).min(under) - 1e-12;
            (lowest, bend.edge(shape, end, 1.0).max(over) + 1e-12)
        };
        let (near, wide) = (within(end), within(wide));
        Some((bend, near, wide))
    }

    /// How many of the lower part's values pass at most `limit` below `above`; at least `passed`,
    /// which a smaller `above` had.
    fn up_to(&self, above: f64, limit: Ratio, passed: usize) -> usize {
        let most = above * limit.0;
        let more = self.lowers[passed..]
            .iter()
            .take_while(|&&below| below <= most);
        passed + more.count()
    }

    fn rest(&self, values: &[f64], (upper, lower): (usize, usize)) -> Rest {
        let is_other = |part: usize| part != upper && part != lower;
        let Bother {
            distinct, strain, ..
        } = Bother::among(self.model, values, &self.weights, is_other);
        let kind = |part: usize| self.model.netlist.parts()[part].kind;
        Rest {
            distinct,
            strain,
            values: (0..values.len())
                .filter(|&p| is_other(p) && kind(p).is_like(kind(upper)))
                .map(|p| values[p])
                .collect(),
        }
    }

    /// For each upper part's value the lower ones with which a pair passes something between two fractions.
    fn ranges(&self, (lowest, highest): Span) -> Vec<Range<usize>> {
        let (lowest, highest) = (Ratio::of(lowest), Ratio::of(highest));
        let mut range = 0..0;
        let row = |above: &f64| {
            range = self.up_to(*above, lowest, range.start)..self.up_to(*above, highest, range.end);
            range.clone()
        };
        self.uppers.iter().map(row).collect()
    }

    /// Pairs of these rows that add exactly `new` values to those bought already; the most comfortable ones, and not
    /// all of these, where there are very many: in these rows all are as good otherwise.
    fn pairs(&self, new: u32, there: &There, rows: &[Range<usize>]) -> Vec<Pair> {
        let with = |upper: usize| new.checked_sub(u32::from(!there.uppers[upper]));
        let all = || (rows.iter().enumerate()).filter_map(|(at, row)| Some((at, row, with(at)?)));
        let count = all().map(|(_, row, _)| row.len()).sum::<usize>();
        let stride = count.div_ceil(MOST_LISTED).max(1);
        let mut pairs = Comfortable::default();
        for (upper, row, added) in all() {
            let above = self.uppers[upper];
            let same = |lower: usize| there.lowers[lower] || self.lowers[lower] == above;
            let pair = |lower: usize| Pair {
                upper,
                lower,
                strain: self.upper_strains[upper] + self.lower_strains[lower],
            };
            match added {
                0 => {
                    let own = self.lowers.partition_point(|below| *below < above);
                    let own = Some(own).filter(|own| there.lowers.get(*own) == Some(&false));
                    let near = there.few.iter().copied().chain(own);
                    let near = near.filter(|&lower| row.contains(&lower) && same(lower));
                    near.for_each(|lower| pairs.offer(pair(lower)));
                }
                1 => {
                    for lower in row.clone().step_by(stride) {
                        if !same(lower) {
                            pairs.offer(pair(lower));
                        }
                    }
                }
                _ => {}
            }
        }
        pairs.take()
    }
}

/// Which values of the upper and the lower part are bought already.
struct There {
    uppers: Vec<bool>,
    lowers: Vec<bool>,
    /// Places of those of the lower part.
    few: Vec<usize>,
}

impl There {
    fn new(shop: &Shop, rest: &Rest) -> There {
        let mark = |list: &[f64]| {
            let mut marks = vec![false; list.len()];
            for value in &rest.values {
                let at = list.partition_point(|known| known < value);
                if list.get(at) == Some(value) {
                    marks[at] = true;
                }
            }
            marks
        };
        let lowers = mark(shop.lowers);
        There {
            uppers: mark(shop.uppers),
            few: (0..lowers.len()).filter(|&at| lowers[at]).collect(),
            lowers,
        }
    }
}

/// The pairs of least strain.
#[derive(Default)]
struct Comfortable {
    pairs: Vec<Pair>,
    /// Above it none is taken.
    most: Option<f64>,
}

impl Comfortable {
    fn offer(&mut self, pair: Pair) {
        if self.most.is_some_and(|most| pair.strain >= most) {
            return;
        }
        self.pairs.push(pair);
        if self.pairs.len() >= 4 * MOST_TRIED {
            self.shorten();
        }
    }

    fn shorten(&mut self) {
        let by_strain = |a: &Pair, b: &Pair| a.strain.total_cmp(&b.strain);
        let (_, last, _) = (self.pairs).select_nth_unstable_by(MOST_TRIED - 1, by_strain);
        self.most = Some(last.strain);
        self.pairs.truncate(MOST_TRIED);
    }

    fn take(mut self) -> Vec<Pair> {
        if self.pairs.len() > MOST_TRIED {
            self.shorten();
        }
        self.pairs
    }
}

/// Places of a pair's values, and their strain.
struct Pair {
    upper: usize,
    lower: usize,
    strain: f64,
}

/// How the terms move with a divider's fraction: a parabola for each.
struct Bend {
    centre: f64,
    terms: Vec<f64>,
    slope: Vec<f64>,
    /// Second-order parts; 0 for straight lines.
    curve: Vec<f64>,
}

impl Bend {
    /// The parabolas that also meet `terms` at two more fractions.
    fn through(self, [left, right]: [f64; 2], [at_left, at_right]: [Vec<f64>; 2]) -> Bend {
        let (a, b) = (left - self.centre, right - self.centre);
        if !(a < 0.0 && b > 0.0) || at_left.iter().chain(&at_right).any(|t| !t.is_finite()) {
            return self;
        }
        let mut bent = self;
        for (index, term) in bent.terms.iter().enumerate() {
            let (left, right) = ((at_left[index] - term) / a, (at_right[index] - term) / b);
            bent.curve[index] = (right - left) / (b - a);
            bent.slope[index] = left - bent.curve[index] * a;
        }
        bent
    }

    fn miss(&self, shape: &Terms, fraction: f64) -> f64 {
        let by = fraction - self.centre;
        let all = self.terms.iter().zip(&self.slope).zip(&self.curve);
        shape.miss_of(all.map(|((t, s), c)| t + (s + c * by) * by))
    }

    fn at(&self, fraction: f64) -> Vec<f64> {
        let by = fraction - self.centre;
        let all = self.terms.iter().zip(&self.slope).zip(&self.curve);
        all.map(|((t, s), c)| t + (s + c * by) * by).collect()
    }

    /// What a prediction may be wrong by.
    fn doubt(&self, fraction: f64) -> f64 {
        let by = fraction - self.centre;
        let bent = self.curve.iter().fold(0.0f64, |most, c| most.max(c.abs()));
        0.1 * bent * by * by + 1e-5
    }

    /// The fraction towards `outside` up to which the miss stays within `end`. Strides from the centre
    /// double until it does not, because far out a parabola comes back to where it was.
    fn edge(&self, shape: &Terms, end: f64, outside: f64) -> f64 {
        let (mut good, mut bad) = (self.centre, outside);
        let mut stride = 1e-4 * (outside - self.centre);
        while stride.abs() < (outside - self.centre).abs() {
            let next = self.centre + stride;
            if self.miss(shape, next) > end {
                bad = next;
                break;
            }
            good = next;
            stride *= 2.0;
        }
        let mut holds = Bracket {
            holds: good,
            fails: bad,
        };
        for _ in 0..20 {
            let middle = holds.middle();
            holds.learn(middle, self.miss(shape, middle) <= end);
        }
        holds.fails
    }
}

/// How far to go along `slope` so that `terms` become least in the sense of squares.
pub(super) fn least_squares(terms: &[f64], slope: &[f64]) -> f64 {
    let along: f64 = terms.iter().zip(slope).map(|(t, s)| t * s).sum();
    let square: f64 = slope.iter().map(|s| s * s).sum();
    if square > 0.0 { -along / square } else { 0.0 }
}
