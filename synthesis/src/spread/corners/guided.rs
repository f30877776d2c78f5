//! A guided search among corners that are too many.
//!
//! For each figure, downwards and upwards: from several corners on, the one axis is turned to its other end
//! that helps most, until none helps; from the best corner then pairs of axes as well. It starts at the
//! corner that the slopes in the middle of the box point to, at the corner nearest to the furthest board
//! that was drawn, and at corners by chance.

use std::task::Poll;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::look::Look;
use super::record::SIDES;
use crate::spread::Figures;

/// Corners by chance, for each figure and side.
const CHANCE: usize = 4;
/// Boards read at once at most.
const BATCH: usize = 64;

/// Where the search stands: [`Guided::step`] until it says that it is done.
pub struct Guided {
    /// `[axis][figure]`: upper less lower end in the middle of the box; empty until read.
    slopes: Vec<Vec<f64>>,
    /// Figure and side that are at work.
    task: usize,
    start: usize,
    climb: Option<Climb>,
    /// The best corner of this task so far: its ends, and its value.
    best: Option<(Vec<bool>, f64)>,
    random: ChaCha8Rng,
}

/// One way up.
struct Climb {
    ends: Vec<bool>,
    /// NaN until it is read.
    value: f64,
    /// Turns that are tried in this round, and those that were.
    turns: Vec<Vec<usize>>,
    tried: usize,
    found: Option<(Vec<bool>, f64)>,
    with_pairs: bool,
}

impl Climb {
    fn new(ends: Vec<bool>, value: f64, with_pairs: bool) -> Climb {
        let count = ends.len();
        let mut turns: Vec<Vec<usize>> = (0..count).map(|axis| vec![axis]).collect();
        if with_pairs {
            turns.extend((0..count).flat_map(|a| (a + 1..count).map(move |b| vec![a, b])));
        }
        if value.is_nan() {
            // The start itself comes first.
            turns.insert(0, Vec::new());
        }
        Climb {
            ends,
            value,
            turns,
            tried: 0,
            found: None,
            with_pairs,
        }
    }
}

impl Guided {
    pub fn new(seed: u64) -> Guided {
        Guided {
            slopes: Vec::new(),
            task: 0,
            start: 0,
            climb: None,
            best: None,
            random: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    pub fn progress(&self, figures: usize) -> f64 {
        self.task as f64 / (2 * figures).max(1) as f64
    }

    /// Reads one batch; ready when all is done. `drawn` are the furthest boards that were drawn, by figure
    /// and side.
    pub fn step(
        &mut self,
        look: &mut Look,
        figures: &mut dyn Figures,
        drawn: &[[Option<Vec<f64>>; 2]],
    ) -> Poll<()> {
        if self.slopes.is_empty() {
            self.read_slopes(look, figures);
            return Poll::Pending;
        }
        let (figure, side) = (self.task / 2, self.task % 2);
        if figure >= figures.count() {
            return Poll::Ready(());
        }
        let Some(climb) = &mut self.climb else {
            let drawn = drawn.get(figure).and_then(|sides| sides[side].as_deref());
            self.climb = self.next_climb(look, figure, side, drawn);
            self.start += 1;
            if self.climb.is_none() && self.start > CHANCE + 2 {
                self.finish();
            }
            return Poll::Pending;
        };
        let last = (climb.tried + BATCH).min(climb.turns.len());
        let batch = &climb.turns[climb.tried..last];
        let corners: Vec<Vec<bool>> = batch
            .iter()
            .map(|turned| {
                let mut ends = climb.ends.clone();
                turned.iter().for_each(|&axis| ends[axis] = !ends[axis]);
                ends
            })
            .collect();
        let mut boards = Vec::new();
        let mut units = look.board(0.0);
        for ends in &corners {
            for (axis, &end) in look.axes.iter().zip(ends) {
                axis.put(&mut units, f64::from(u8::from(end)));
            }
            boards.extend_from_slice(&units);
        }
        let read = look.read(figures, &boards, true);
        for (ends, row) in corners.into_iter().zip(read.chunks_exact(figures.count())) {
            let value = SIDES[side] * row[figure];
            let known = climb
                .found
                .as_ref()
                .map_or(climb.value, |(_, value)| *value);
            if value > known || (known.is_nan() && !value.is_nan()) {
                climb.found = Some((ends, value));
            }
        }
        climb.tried = last;
        if climb.tried == climb.turns.len() {
            self.next_round();
        }
        Poll::Pending
    }

    fn read_slopes(&mut self, look: &mut Look, figures: &mut dyn Figures) {
        let middle = look.board(0.5);
        let mut boards = Vec::new();
        for axis in &look.axes {
            for place in [0.0, 1.0] {
                let mut units = middle.clone();
                axis.put(&mut units, place);
                boards.extend_from_slice(&units);
            }
        }
        let read = look.read(figures, &boards, false);
        let rows: Vec<&[f64]> = read.chunks_exact(figures.count()).collect();
        self.slopes = rows
            .chunks_exact(2)
            .map(|pair| {
                let both = pair[1].iter().zip(pair[0]);
                both.map(|(high, low)| high - low).collect()
            })
            .collect();
    }

    /// The next way up; none where there is no such start.
    fn next_climb(
        &mut self,
        look: &Look,
        figure: usize,
        side: usize,
        drawn: Option<&[f64]>,
    ) -> Option<Climb> {
        let axes = look.axes.iter();
        let ends = match self.start {
            0 => {
                let slopes = self.slopes.iter();
                slopes.map(|s| SIDES[side] * s[figure] > 0.0).collect()
            }
            1 => {
                let units = drawn?;
                axes.map(|axis| axis.place(units) > 0.5).collect()
            }
            start if start < CHANCE + 2 => axes.map(|_| self.random.next_u32() & 1 == 1).collect(),
            // Pairs as well, from the best of all.
            _ => {
                let (ends, value) = self.best.clone()?;
                return Some(Climb::new(ends, value, true));
            }
        };
        Some(Climb::new(ends, f64::NAN, false))
    }

    /// Goes on from what the round found, or ends this way.
    fn next_round(&mut self) {
        let Some(climb) = self.climb.take() else {
            return;
        };
        if let Some((ends, value)) = climb.found {
            self.climb = Some(Climb::new(ends, value, climb.with_pairs));
            return;
        }
        let is_better = self.best.as_ref().is_none_or(|best| climb.value > best.1);
        if is_better && !climb.value.is_nan() {
            self.best = Some((climb.ends, climb.value));
        }
        if climb.with_pairs {
            self.finish();
        }
    }

    fn finish(&mut self) {
        self.task += 1;
        self.start = 0;
        self.climb = None;
        self.best = None;
    }
}
