//! A measured response of what was built against the predicted one.

use std::sync::Arc;
use std::task::Poll;

use num_complex::Complex64;

use super::feedback::LoopOf;
use super::plant::shape;
use super::population::{drawn, population, population_of};
use super::spread::boards_design;
use super::stages::{Line, Stages};
use super::task::{Asked, Before, Blocked, Seen, Task, Turn};
use crate::bench::{
    BenchWork, Block, Known, Measurement, PlantBlock, PlantTolerance, Report, Setting,
    SettingStage, Trimmer,
};
use crate::design::{Design, Drift, InputError, Measured, TrimmerDesign};
use crate::feedback::{Margins, OpenLoop, trace_whole};
use crate::outcome::{BenchOutcome, Outcome};
use crate::plant::{Plant, Sweep, sweep};
use crate::response::log_grid;

/// Frequencies at which the prediction is drawn.
const DRAWN: usize = 400;

/// A point tells of L where 1 − T, or 1 − S, is larger than its noise by this factor; and that noise where it is not given.
const TOLD: f64 = 10.0;
const USUAL_NOISE: f64 = 0.01;

/// All that the bench reads.
#[derive(PartialEq)]
pub(super) struct BenchReads {
    lines: Seen<Vec<Line>>,
    /// How parts stray, and the shelf; all else is blank.
    design: Design,
    of: Measured,
    /// The stage that was measured, where it is one.
    stage: Option<usize>,
    response: String,
    noise: Option<f64>,
    trimmers: Vec<Option<TrimmerDesign>>,
    /// The loop, where it was measured.
    looped: Option<(LoopOf, Drift)>,
}

/// The work.
pub(super) struct Bench {
    /// What was measured; of a loop in any form the open loop, L.
    measured: Measurement,
    state: State,
}

enum State {
    Working(Box<BenchWork>),
    /// Why it cannot be worked on.
    Refused(String),
}

impl Task for Bench {
    const FIELD: &'static str = "bench";
    type Reads = BenchReads;
    type Finds = BenchOutcome;

    fn reads(asked: &Asked) -> Result<Option<BenchReads>, Blocked> {
        let design = asked.design;
        let lines = asked.found::<Stages>()?.filter(|lines| !lines.is_empty());
        let of = design.bench.of;
        let shown = design.view.stage;
        let response = design.measured_response();
        if response.is_empty() {
            return Ok(None);
        }
        let looped = match of.is_loop() {
            true => LoopOf::reads(asked)?.map(|of| (of, design.servo.drift)),
            false => None,
        };
        let stages = design.stages.iter();
        Ok(lines.map(|lines| BenchReads {
            lines,
            design: boards_design(design),
            of,
            stage: (of == Measured::Stage).then_some(shown),
            response: response.to_owned(),
            noise: design.bench.noise,
            trimmers: stages.map(|stage| stage.trimmer.clone()).collect(),
            looped,
        }))
    }

    fn begin(reads: &BenchReads, _: Option<Before<Bench>>) -> Result<Bench, Vec<InputError>> {
        let reading = sweep::read_measured(&reads.response, None);
        let has_phase = reading.columns.has_phase();
        let refused = reading.error.or_else(|| reads.phase_needed(has_phase));
        let (measured, state) = match refused {
            Some(error) => (Measurement::default(), State::Refused(error)),
            None => {
                let measured = Measurement {
                    sweep: reads.open_loop(reading.sweep),
                    has_phase,
                    noise: reads.noise,
                };
                let state = reads.work(&measured);
                (measured, state)
            }
        };
        Ok(Bench { measured, state })
    }

    fn advance(
        &mut self,
        reads: &BenchReads,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<BenchOutcome> {
        let work = match &mut self.state {
            State::Refused(error) => {
                let error = error.clone();
                return Turn::Found(BenchOutcome {
                    error: Some(error),
                    ..reads.outcome(&self.measured)
                });
            }
            State::Working(work) => work,
        };
        match work.advance(go_on) {
            Poll::Pending => Turn::More(0.5),
            Poll::Ready(report) => Turn::Found(BenchOutcome {
                words: reads.words(&report, self.measured.has_phase),
                report: Some(report),
                ..reads.outcome(&self.measured)
            }),
        }
    }

    fn tell(_: &BenchReads, found: &BenchOutcome, outcome: &mut Outcome) {
        outcome.bench = Some(found.clone());
    }
}

impl BenchReads {
    /// The stages that were measured, with their places in the path.
    fn stages(&self) -> Vec<(usize, &Line)> {
        let all = self.lines.iter().enumerate();
        all.filter(|(place, _)| self.stage.is_none_or(|own| own == *place))
            .collect()
    }

    /// Why this measurement says nothing without its phase.
    fn phase_needed(&self, has_phase: bool) -> Option<String> {
        let is_other_form = self.of.is_loop() && self.of != Measured::OpenLoop;
        (is_other_form && !has_phase).then(|| {
            "The phase is missing: only with it the open loop follows from the closed loop or from the sensitivity. \
             Measure it along, or measure the open loop."
                .to_owned()
        })
    }

    fn words(&self, report: &Report, has_phase: bool) -> Vec<String> {
        let mut words = report.words(self.stages().len() > 1);
        if !has_phase {
            let less =
                "Phase not measured: magnitudes alone are compared, so that less can be told.";
            words.push(match self.of.is_loop() {
                true => format!("{less} Margins need the phase."),
                false => less.to_owned(),
            });
        }
        words
    }

    fn work(&self, measured: &Measurement) -> State {
        if self.of.is_loop() && self.looped.is_none() {
            return State::Refused(
                "There is no plant, so that there is no loop to hold the measurement against."
                    .to_owned(),
            );
        }
        match BenchWork::begin(self.setting(measured)) {
            Ok(work) => State::Working(Box::new(work)),
            Err(error) => State::Refused(error.to_string()),
        }
    }

    fn setting(&self, measured: &Measurement) -> Setting {
        let stages = self.stages();
        let of_path = drawn(&self.lines);
        let population = match self.stage.and_then(|place| {
            let asked = self.design.stages.get(place)?;
            Some((asked, *of_path.get(place)?))
        }) {
            Some((asked, of)) => population_of(&self.design, asked, of),
            None => population(&self.design, &of_path),
        };
        let trimmers = stages.iter().enumerate().filter_map(|(own, (place, _))| {
            let trimmer = self.trimmers.get(*place)?.as_ref()?;
            Some(Trimmer {
                stage: own,
                part: trimmer.part.clone(),
                fixed: trimmer.fixed,
                range: trimmer.range,
                turns: trimmer.turns,
            })
        });
        Setting {
            trimmers: trimmers.collect(),
            stages: stages
                .iter()
                .map(|(_, line)| SettingStage {
                    model: line.real.clone(),
                    values: line.found.values.clone(),
                })
                .collect(),
            population,
            shelf: self.design.shelf.clone(),
            measurement: measured.clone(),
            behind: self.behind(&measured.sweep),
            seed: self.design.spread.seed,
        }
    }

    /// The plant, with what is not known of it; as it was measured where it has no model.
    fn behind(&self, measured: &Sweep) -> Option<Arc<dyn Block>> {
        let (of, drift) = self.looped.as_ref()?;
        let points = &measured.points;
        let (first, last) = (points.first()?.frequency, points.last()?.frequency);
        if let Some(modelled) = of.modelled() {
            let tolerance = PlantTolerance {
                gain: drift.gain,
                frequency: drift.frequency,
                damping: drift.damping,
            };
            let middle = (first * last).sqrt();
            return Some(Arc::new(PlantBlock::new(
                modelled.model,
                of.sign(),
                tolerance,
                middle,
            )));
        }
        let (plant, sign) = (of.plant.0.clone(), of.sign());
        Some(Arc::new(Known {
            name: "the plant".to_owned(),
            response: move |frequency: f64| {
                let sweep = plant.sweep.as_ref();
                sweep.map_or(Complex64::default(), |sweep| {
                    sign * Plant::Sweep(sweep).at(frequency)
                })
            },
        }))
    }

    /// The measurement as that of the open loop, where it is another form of it. What is left of a point's certainty goes
    /// with the derivative: dL/L is dT/T over 1 − T, and dS/S over 1 − S. Where that is next to nothing the point tells
    /// nothing of L.
    fn open_loop(&self, mut measured: Sweep) -> Sweep {
        let (of, least) = (self.of, TOLD * self.noise.unwrap_or(USUAL_NOISE));
        if !of.is_loop() || of == Measured::OpenLoop {
            return measured;
        }
        measured.points.retain_mut(|point| {
            let seen = point.response;
            let rest = 1.0 - seen;
            point.response = match of {
                Measured::ClosedLoop => seen / rest,
                _ => rest / seen,
            };
            point.weight *= rest.norm_sqr().min(1.0);
            rest.norm() > least
        });
        measured
    }

    /// The predicted response.
    fn predicted(&self, frequency: f64) -> Complex64 {
        let stages = self.stages();
        let path: Complex64 = stages
            .iter()
            .map(|(_, line)| line.found.transfers[2].at(frequency))
            .product();
        let plant = self.looped.as_ref().map(|(of, _)| {
            let plant = match (&of.plant.model, &of.plant.sweep) {
                (Some(model), _) => model.at(frequency),
                (None, Some(sweep)) => Plant::Sweep(sweep).at(frequency),
                (None, None) => Complex64::default(),
            };
            of.sign() * plant
        });
        path * plant.unwrap_or(Complex64::new(1.0, 0.0))
    }

    /// What is measured and predicted, without what is made of it.
    fn outcome(&self, measured: &Measurement) -> BenchOutcome {
        let points = &measured.sweep.points;
        let frequencies: Vec<f64> = points.iter().map(|point| point.frequency).collect();
        let ends = frequencies.first().zip(frequencies.last());
        let grid = ends.map_or_else(Vec::new, |(first, last)| log_grid(*first, *last, DRAWN));
        let predicted: Vec<Complex64> = grid.iter().map(|f| self.predicted(*f)).collect();
        let mut shown = shape(frequencies, points.iter().map(|point| point.response));
        if !measured.has_phase {
            shown.phase_deg.clear();
        }
        BenchOutcome {
            of: self.of,
            stage: self.stage,
            error: None,
            predicted: shape(grid, predicted),
            has_phase: measured.has_phase,
            measured: shown,
            report: None,
            words: Vec::new(),
            margins: self.margins(measured),
        }
    }

    fn margins(&self, measured: &Measurement) -> Option<[Margins; 2]> {
        let (of, _) = self.looped.as_ref().filter(|_| measured.has_phase)?;
        let measured = &measured.sweep;
        let own = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Sweep(measured),
            sign: 1.0,
        };
        let modelled = of.modelled();
        let predicted = match &modelled {
            Some(of) => of.open(),
            None => of.measured()?,
        };
        let read = |open: &OpenLoop| Margins::read(open, &trace_whole(open));
        (measured.points.len() > 1).then(|| [read(&own), read(&predicted)])
    }
}
