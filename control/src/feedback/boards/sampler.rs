//! Draws boards with their plants and reads their loops: what came of one board never hangs on another.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::lanes::{LANES, Lanes};
use super::look::{HARMLESS, Look};
use super::{Built, LoopSetting, PlantVariations};
use crate::feedback::motion::Settling;
use crate::feedback::{Margins, OpenLoop, OpenPoles, Traced, trace_whole, unstable_poles};
use crate::plant::{Model, Plant};
use crate::spread::{Draw, Draws, Factor, Population, Variation};
use crate::stages;

/// Waves that take as long as a point.
const WAVES: usize = 10;
/// A stream of its own for plants, so that parts are drawn as in the spread without a plant.
const PLANTS: u64 = 0x706c_616e_7473;

/// What was read of a range of boards.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LoopBatch {
    pub(super) built: Vec<Built>,
    /// How far each factor moves each board, board after board.
    pub(super) moved: Vec<f64>,
    /// Points of each board's loop that were followed, where it was followed alone.
    pub(super) followed: Vec<u32>,
}

impl LoopBatch {
    /// Whether it is one of so many boards with so many factors.
    pub(super) fn is_of(&self, boards: usize, factors: usize) -> bool {
        self.built.len() == boards
            && self.followed.len() == boards
            && self.moved.len() == boards * factors
    }
}

/// One board with its plant.
pub(super) struct Drawn {
    /// What the stages' programs take.
    pub parts: Vec<f64>,
    /// How far each factor moves it.
    pub moved: Vec<f64>,
    pub plant: Model,
}

/// Draws and reads loops.
#[derive(Clone)]
pub struct LoopSampler {
    parts: Draws,
    plants: Draws,
    model: Model,
    /// Modes so narrow, beside how far they drift, that their peaks may lie between points of the grid.
    hidden: Vec<usize>,
    /// Modes that drift together; those in none do not drift.
    companies: Vec<Vec<usize>>,
    sign: f64,
    lanes: Lanes,
    /// Open poles at the origin: a circuit has them whatever its parts are.
    at_origin: usize,
    settling: Settling,
}

impl LoopSampler {
    /// As [`super::LoopRun::new`].
    pub fn new(setting: LoopSetting, nominal: &OpenLoop, traced: &[Traced]) -> LoopSampler {
        let LoopSetting {
            stages,
            plant,
            variations,
            sign,
            ..
        } = setting;
        let (grid, hidden) = grid(traced, plant, variations);
        let lanes = Lanes::new(&stages, plant, sign, &grid);
        let variation =
            |nominal, tolerance| Variation::within(nominal, tolerance, setting.distribution);
        let mut of_plant = vec![variation(1.0, variations.gain)];
        let companies = plant.companies();
        for _ in &companies {
            of_plant.push(variation(1.0, variations.frequency));
            of_plant.push(variation(1.0, variations.damping));
        }
        let of_plant = Population {
            variations: of_plant,
            commons: 0,
            temperature_span: 0.0,
        };
        let settling = Settling::new(nominal, setting.settle_band);
        // What the marked board costs is no other's.
        settling.take_spent();
        LoopSampler {
            parts: Draws::new(setting.population, setting.seed),
            plants: Draws::new(of_plant, setting.seed ^ PLANTS),
            model: plant.clone(),
            hidden,
            companies,
            sign,
            lanes,
            at_origin: nominal.open_poles().at_origin,
            settling,
        }
    }

    /// What strays independently: of the path, then of the plant.
    pub fn factors(&self) -> (Vec<Factor>, Vec<Factor>) {
        (self.parts.factors(), self.plants.factors())
    }

    /// How many of both there are.
    pub fn factor_count(&self) -> usize {
        self.parts.factor_count() + self.plants.factor_count()
    }

    /// Places of modes that drift together.
    pub fn companies(&self) -> &[Vec<usize>] {
        &self.companies
    }

    /// One board.
    pub(super) fn board(&mut self, number: u64) -> Drawn {
        let mut moved = Vec::new();
        let mut parts = Vec::new();
        let mut numbers = Vec::new();
        for (draws, values) in [
            (&mut self.parts, &mut parts),
            (&mut self.plants, &mut numbers),
        ] {
            let mut units = vec![0.0; draws.unit_count()];
            draws.units(number, &mut units);
            values.resize(draws.population().variations.len(), 0.0);
            draws.values(&units, values);
            let first = moved.len();
            moved.resize(first + draws.factor_count(), 0.0);
            draws.factor_deviations(&units, &mut moved[first..]);
        }
        let mut plant = self.model.clone();
        if let Some(rigid) = &mut plant.rigid {
            rigid.gain *= numbers[0];
        }
        for mode in &mut plant.modes {
            mode.residue *= numbers[0];
            mode.slope *= numbers[0];
        }
        for (company, pair) in self.companies.iter().zip(numbers[1..].chunks(2)) {
            for &k in company {
                plant.modes[k].frequency *= pair[0];
                plant.modes[k].damping *= pair[1];
            }
        }
        Drawn {
            parts,
            moved,
            plant,
        }
    }

    /// Reads one lane's loop, closing in where the grid saw something; with the points that were followed, where it was
    /// too coarse.
    fn read(&self, look: &Look, drawn: &Drawn, lane: usize) -> (Built, usize) {
        let transfers = self.lanes.transfers(lane);
        let open = OpenLoop {
            stages: transfers.iter().collect(),
            plant: Plant::Model(&drawn.plant),
            sign: self.sign,
        };
        // A stage may oscillate on one board and not on the next.
        let open_poles = OpenPoles {
            right: open.right_poles(),
            at_origin: self.at_origin,
        };
        let is_unseen = |mode: &usize| {
            let peak = open.at(drawn.plant.modes[*mode].frequency);
            peak.norm_sqr() > HARMLESS
        };
        if look.is_coarse || self.hidden.iter().any(is_unseen) {
            let traced = trace_whole(&open);
            let unstable = unstable_poles(&traced, self.model.delay, open_poles);
            let built = self.told(&open, &Margins::read(&open, &traced), unstable);
            return (built, traced.len());
        }
        let margins = Margins::read_pieces(&open, look.crossings(), look.touching(), &look.near());
        let mut built = self.told(&open, &margins, look.unstable_poles(open_poles));
        built.sensitivity = built.sensitivity.max(look.sensitivity());
        (built, 0)
    }

    fn told(&self, open: &OpenLoop, margins: &Margins, unstable: Option<usize>) -> Built {
        let decibel = |ratio: f64| (20.0 * ratio.log10()).abs();
        let gains = margins
            .phase_crossings
            .iter()
            .map(|c| decibel(c.gain_margin));
        let is_stable = unstable == Some(0);
        Built {
            is_stable,
            phase_margin: margins.phase_margin().map_or(f64::NAN, |c| c.phase_margin),
            gain_margin_db: gains.fold(f64::INFINITY, f64::min),
            sensitivity: margins.sensitivity_peak.map_or(f64::NAN, |(peak, _)| peak),
            crossover: margins.crossover().map_or(f64::NAN, |c| c.frequency),
            settling: if is_stable {
                self.settling.of(open)
            } else {
                f64::INFINITY
            },
        }
    }
}

impl Draw for LoopSampler {
    type Batch = LoopBatch;
    const GRAIN: u32 = LANES as u32;
    const ROUND: usize = 16;
    const MANY: u32 = 64;

    fn twin(&self) -> LoopSampler {
        self.clone()
    }

    fn draw(&mut self, models: &[&stages::Model], boards: Range<u32>) -> LoopBatch {
        let mut batch = LoopBatch::default();
        for first in boards.clone().step_by(LANES) {
            let count = (boards.end - first).min(LANES as u32);
            // A lane too many repeats the last board.
            let drawn: [Drawn; LANES] = std::array::from_fn(|lane| {
                self.board(u64::from(first + (lane as u32).min(count - 1)))
            });
            self.lanes.set(models, &drawn);
            let looks = self.lanes.look();
            for lane in 0..count as usize {
                let (built, points) = self.read(&looks[lane], &drawn[lane], lane);
                let followed = points + self.settling.take_spent() / WAVES;
                batch.followed.push(followed as u32);
                batch.moved.extend_from_slice(&drawn[lane].moved);
                batch.built.push(built);
            }
        }
        batch
    }
}

/// Frequencies that follow every board's loop: the marked board's, and close ones wherever a mode may lie. With the modes
/// for which that would be too many: their points lie farther apart than half their width.
fn grid(traced: &[Traced], plant: &Model, variations: PlantVariations) -> (Vec<f64>, Vec<usize>) {
    /// Points for one mode's reach at most.
    const MOST: usize = 160;
    let mut grid: Vec<f64> = traced.iter().map(|t| t.frequency).collect();
    let mut hidden = Vec::new();
    let (Some(&low), Some(&high)) = (grid.first(), grid.last()) else {
        return (grid, hidden);
    };
    for (place, mode) in plant.modes.iter().enumerate() {
        let width = mode.damping * (1.0 - variations.damping).max(0.05);
        let reach = variations.frequency + 3.0 * width;
        let count = (2.0 * reach / (0.5 * width)) as usize + 2;
        if count > MOST {
            hidden.push(place);
        }
        let count = count.min(MOST);
        let step = 2.0 * reach / (count - 1) as f64;
        grid.extend((0..count).map(|k| mode.frequency * (1.0 - reach + step * k as f64)));
    }
    grid.retain(|f| (low..=high).contains(f));
    grid.sort_by(f64::total_cmp);
    grid.dedup_by(|b, a| *b <= *a * (1.0 + 1e-9));
    (grid, hidden)
}
