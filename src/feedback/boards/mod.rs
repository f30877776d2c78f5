//! The loop over boards and plants: every part of every stage and the plant's modes drawn together.

use std::task::Poll;

mod lanes;
mod look;

use super::motion::Settling;
use super::{Margins, OpenLoop, OpenPoles, Traced, trace_whole, unstable_poles};
use crate::plant::{Model, Plant};
use crate::response::Transfer;
use crate::spread::{Blame, Distribution, Draws, Factor, Population, Stray, Tally};
use crate::stages;

use lanes::{LANES, Lanes};
use look::Look;

/// How far plants stray from the model, largest relative deviations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlantStrays {
    /// Of each resonance's frequency, each drawn for itself and twins together; residues stay, as masses do.
    pub frequency: f64,
    /// Of each resonance's damping.
    pub damping: f64,
    /// Of the whole plant's gain.
    pub gain: f64,
}

/// What is run over.
pub struct LoopSetting<'a> {
    /// The path's stages.
    pub stages: Vec<&'a stages::Model>,
    /// Of every number that their programs take.
    pub population: Population,
    pub plant: &'a Model,
    pub strays: PlantStrays,
    /// How plants lie within that.
    pub distribution: Distribution,
    /// −1 where the summing point adds.
    pub sign: f64,
    /// The band of settling, a fraction of a step's end, as [`super::MotionAsk::settle_band`].
    pub settle_band: f64,
    pub seed: u64,
    pub boards: u32,
}

/// What is kept of each board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Built {
    pub is_stable: bool,
    /// The smallest phase margin by size, degrees; NaN without a crossover.
    pub phase_margin: f64,
    /// The gain margin nearest to 1 in either direction, dB by size; infinite where there is none.
    pub gain_margin_db: f64,
    /// M_s.
    pub sensitivity: f64,
    /// Hz; NaN where the gain nowhere falls through 1.
    pub crossover: f64,
    /// Until a step's answer stays within the band round its end, s, as [`super::Figures::settling_time`]; infinite
    /// where the loop is unstable, NaN where it cannot be told.
    pub settling: f64,
}

/// The run: [`LoopRun::advance`] until it says that it is done.
pub struct LoopRun {
    parts: Draws,
    plants: Draws,
    model: Model,
    /// Modes that drift together; those in none do not drift.
    companies: Vec<Vec<usize>>,
    sign: f64,
    boards: u32,
    lanes: Lanes,
    built: Vec<Built>,
    tally: Tally,
    /// Open poles in the right half plane and at the origin, taken to be alike on all boards.
    open_poles: OpenPoles,
    settling: Settling,
    /// Points of loops that were followed one by one.
    followed: usize,
}

/// Points that are worked out at most for boards whose loops the common grid does not follow, or whose settling is not
/// that of the marked board's poles; a few seconds. Where all
/// boards of a plant are such, some hundred of them tell as much as is worth waiting for.
const MOST_FOLLOWED: usize = 2_000_000;
/// And so many for each board beside that, which is far more than boards cost on an average where a few are such.
const USUAL: usize = 100;
/// Waves that take as long as a point.
const WAVES: usize = 10;
/// So many boards are read whatever they cost.
const LEAST_BOARDS: u32 = 100;

/// A stream of its own for plants, so that parts are drawn as in the spread without a plant.
const PLANTS: u64 = 0x706c_616e_7473;

impl LoopRun {
    /// Prepares a run; `nominal` is the loop of the board as marked, and `traced` its whole curve.
    pub fn new(setting: LoopSetting, nominal: &OpenLoop, traced: &[Traced]) -> LoopRun {
        let LoopSetting {
            stages,
            plant,
            strays,
            sign,
            ..
        } = setting;
        let lanes = Lanes::new(&stages, plant, sign, &grid(traced, plant, strays));
        let stray = |nominal, tolerance| Stray::within(nominal, tolerance, setting.distribution);
        let mut of_plant = vec![stray(1.0, strays.gain)];
        let companies = plant.companies();
        for _ in &companies {
            of_plant.push(stray(1.0, strays.frequency));
            of_plant.push(stray(1.0, strays.damping));
        }
        let of_plant = Population {
            strays: of_plant,
            commons: 0,
            temperature_span: 0.0,
        };
        let parts = Draws::new(setting.population, setting.seed);
        let plants = Draws::new(of_plant, setting.seed ^ PLANTS);
        LoopRun {
            tally: Tally::new(parts.factors().len() + plants.factors().len(), 0.0),
            parts,
            plants,
            model: plant.clone(),
            companies,
            sign,
            boards: setting.boards,
            lanes,
            built: Vec::with_capacity(setting.boards as usize),
            open_poles: nominal.open_poles(),
            settling: Settling::new(nominal, setting.settle_band),
            followed: 0,
        }
    }

    /// Draws and reads loops until all are done or until `go_on` says no. `models` are the
    /// path's, as in [`LoopRun::new`]. It is done with fewer boards than were asked for where too many of them have
    /// loops that must be followed one by one.
    pub fn advance(
        &mut self,
        models: &[&stages::Model],
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<()> {
        while self.drawn() < self.boards {
            let most = MOST_FOLLOWED + USUAL * self.built.len();
            if self.followed > most && self.drawn() >= LEAST_BOARDS {
                self.boards = self.drawn();
                break;
            }
            if !go_on() {
                return Poll::Pending;
            }
            let first = self.drawn();
            let count = (self.boards - first).min(LANES as u32);
            // A lane too many repeats the last board.
            let drawn: [Drawn; LANES] = std::array::from_fn(|lane| {
                self.draw(u64::from(first + (lane as u32).min(count - 1)))
            });
            self.lanes.set(models, &drawn);
            let looks = self.lanes.look();
            for lane in 0..count as usize {
                let built = self.read(&looks[lane], &drawn[lane], lane);
                self.followed += self.settling.take_spent() / WAVES;
                self.tally.add(&drawn[lane].moved, built.phase_margin);
                self.built.push(built);
            }
        }
        Poll::Ready(())
    }

    /// Boards done so far.
    pub fn drawn(&self) -> u32 {
        self.built.len() as u32
    }

    /// What was read, in the order of the boards.
    pub fn built(&self) -> &[Built] {
        &self.built
    }

    /// Each factor's share of the variance of the phase margin, as far as that is linear.
    pub fn blame(&self) -> Vec<Blame> {
        self.tally.ranked()
    }

    /// What strays independently: of the path, then of the plant (its gain, then frequency and damping of each of
    /// [`LoopRun::companies`]), in the order that [`Blame::number`] counts.
    pub fn factors(&self) -> (Vec<Factor>, Vec<Factor>) {
        (self.parts.factors(), self.plants.factors())
    }

    /// Places of modes that drift together.
    pub fn companies(&self) -> &[Vec<usize>] {
        &self.companies
    }

    /// The path's transfer functions and the plant of one board.
    pub fn board(&mut self, models: &[&stages::Model], number: u32) -> (Vec<Transfer>, Model) {
        let drawn = self.draw(u64::from(number));
        let mut first = 0;
        let transfers = models.iter().map(|model| {
            let inputs = &drawn.parts[first..first + model.program.inputs()];
            first += inputs.len();
            model.program.transfer(inputs, model.scale)
        });
        (transfers.collect(), drawn.plant)
    }

    fn draw(&mut self, number: u64) -> Drawn {
        let mut moved = Vec::new();
        let mut parts = Vec::new();
        let mut numbers = Vec::new();
        for (draws, values) in [
            (&mut self.parts, &mut parts),
            (&mut self.plants, &mut numbers),
        ] {
            let mut units = vec![0.0; draws.unit_count()];
            draws.units(number, &mut units);
            values.resize(draws.population().strays.len(), 0.0);
            draws.values(&units, values);
            let first = moved.len();
            moved.resize(first + draws.factor_count(), 0.0);
            draws.contributions(&units, &mut moved[first..]);
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

    /// Reads one lane's loop, closing in where the grid saw something.
    fn read(&mut self, look: &Look, drawn: &Drawn, lane: usize) -> Built {
        let transfers = self.lanes.transfers(lane);
        let open = OpenLoop {
            stages: transfers.iter().collect(),
            plant: Plant::Model(&drawn.plant),
            sign: self.sign,
        };
        if look.is_coarse {
            let traced = trace_whole(&open);
            self.followed += traced.len();
            let unstable = unstable_poles(&traced, self.open_poles);
            return self.told(&open, &Margins::read(&open, &traced), unstable);
        }
        let margins = Margins::read_pieces(&open, look.crossings(), look.touching(), &look.near());
        let mut built = self.told(&open, &margins, look.unstable_poles(self.open_poles));
        built.sensitivity = built.sensitivity.max(look.sensitivity());
        built
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

/// One board with its plant.
struct Drawn {
    /// What the stages' programs take.
    parts: Vec<f64>,
    /// How far each factor moves it.
    moved: Vec<f64>,
    plant: Model,
}

/// Frequencies that follow every board's loop: the marked board's, and close ones wherever a mode may lie.
fn grid(traced: &[Traced], plant: &Model, strays: PlantStrays) -> Vec<f64> {
    /// Points for one mode's reach at most.
    const MOST: usize = 160;
    let mut grid: Vec<f64> = traced.iter().map(|t| t.frequency).collect();
    let (Some(&low), Some(&high)) = (grid.first(), grid.last()) else {
        return grid;
    };
    for mode in &plant.modes {
        let width = mode.damping * (1.0 - strays.damping).max(0.05);
        let reach = strays.frequency + 3.0 * width;
        let count = ((2.0 * reach / (0.5 * width)) as usize + 2).min(MOST);
        let step = 2.0 * reach / (count - 1) as f64;
        grid.extend((0..count).map(|k| mode.frequency * (1.0 - reach + step * k as f64)));
    }
    grid.retain(|f| (low..=high).contains(f));
    grid.sort_by(f64::total_cmp);
    grid.dedup_by(|b, a| *b <= *a * (1.0 + 1e-9));
    grid
}
