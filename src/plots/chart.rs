//! Every chart that an outcome may have, by its name.

use super::looped;
use super::plot::{Pen, Plot};
use super::response::{Bands, Response};
use super::shaft::shapes_over;
use super::svg::{Caption, Sign};
use super::{bench, mode_shapes, motion, noise, scatter, supply_lines, widths, worst_loop};
use crate::design::{Design, PlantUnits, labelled};
use crate::feedback::Motion;
use crate::outcome::{LoopNoise, Outcome, ServoOutcome, StageNoiseOutcome, WorstBoard};
use crate::plant::shaft::Shaft;

/// A chart as it is drawn where nothing else is chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chart {
    /// Of the shown stage.
    Stage(Response),
    /// Of the whole path, where it is more than one stage.
    Path(Response),
    /// The yield against the width of the first limit.
    Widths,
    /// The first two figures that have limits, board by board.
    Scatter,
    /// Of the shown stage, at its output and referred to its input.
    Noise,
    InputNoise,
    /// Of the whole path, where it is more than one stage.
    PathNoise,
    PathInputNoise,
    DriveNoise,
    PositionNoise,
    PlantMagnitude,
    PlantPhase,
    OpenMagnitude,
    OpenPhase,
    Nyquist,
    Nichols,
    Sensitivity,
    Closed,
    WorstMagnitude,
    WorstNyquist,
    Position,
    Drive,
    SupplyLines,
    ModeShapes,
    /// What was measured of the built board.
    BenchMagnitude,
    BenchPhase,
}

impl Chart {
    pub const ALL: [Chart; 32] = [
        Chart::Stage(Response::Magnitude),
        Chart::Stage(Response::Phase),
        Chart::Stage(Response::Delay),
        Chart::Stage(Response::Step),
        Chart::Path(Response::Magnitude),
        Chart::Path(Response::Phase),
        Chart::Path(Response::Delay),
        Chart::Path(Response::Step),
        Chart::Widths,
        Chart::Scatter,
        Chart::Noise,
        Chart::InputNoise,
        Chart::PathNoise,
        Chart::PathInputNoise,
        Chart::DriveNoise,
        Chart::PositionNoise,
        Chart::PlantMagnitude,
        Chart::PlantPhase,
        Chart::OpenMagnitude,
        Chart::OpenPhase,
        Chart::Nyquist,
        Chart::Nichols,
        Chart::Sensitivity,
        Chart::Closed,
        Chart::WorstMagnitude,
        Chart::WorstNyquist,
        Chart::Position,
        Chart::Drive,
        Chart::SupplyLines,
        Chart::ModeShapes,
        Chart::BenchMagnitude,
        Chart::BenchPhase,
    ];

    /// What scripts and files call it.
    pub fn name(self) -> &'static str {
        match self {
            Chart::Stage(Response::Magnitude) => "magnitude",
            Chart::Stage(Response::Phase) => "phase",
            Chart::Stage(Response::Delay) => "group-delay",
            Chart::Stage(Response::Step) => "step",
            Chart::Path(Response::Magnitude) => "path-magnitude",
            Chart::Path(Response::Phase) => "path-phase",
            Chart::Path(Response::Delay) => "path-group-delay",
            Chart::Path(Response::Step) => "path-step",
            Chart::Widths => "yield-against-width",
            Chart::Scatter => "scatter",
            Chart::Noise => "noise-density",
            Chart::InputNoise => "input-noise-density",
            Chart::PathNoise => "path-noise-density",
            Chart::PathInputNoise => "path-input-noise-density",
            Chart::DriveNoise => "drive-noise",
            Chart::PositionNoise => "position-noise",
            Chart::PlantMagnitude => "plant-magnitude",
            Chart::PlantPhase => "plant-phase",
            Chart::OpenMagnitude => "open-loop-magnitude",
            Chart::OpenPhase => "open-loop-phase",
            Chart::Nyquist => "nyquist",
            Chart::Nichols => "nichols",
            Chart::Sensitivity => "sensitivity",
            Chart::Closed => "closed-loop",
            Chart::WorstMagnitude => "worst-board-magnitude",
            Chart::WorstNyquist => "worst-board-nyquist",
            Chart::Position => "position",
            Chart::Drive => "drive",
            Chart::SupplyLines => "lines-over-frequency",
            Chart::ModeShapes => "mode-shapes",
            Chart::BenchMagnitude => "bench-magnitude",
            Chart::BenchPhase => "bench-phase",
        }
    }

    /// Its heading, without units.
    pub fn title(self) -> &'static str {
        match self {
            Chart::Stage(response) | Chart::Path(response) => response.title(),
            Chart::Widths => "Yield against limit width",
            Chart::Scatter => "Scatter of boards",
            Chart::Noise => "Noise at the stage's output, V/√Hz",
            Chart::InputNoise => "Noise referred to the stage's input, V/√Hz",
            Chart::PathNoise => "Noise at the path's output, V/√Hz",
            Chart::PathInputNoise => "Noise referred to the path's input, V/√Hz",
            Chart::DriveNoise => "Noise of the drive",
            Chart::PositionNoise => "Noise of the position",
            Chart::PlantMagnitude => "Plant, magnitude",
            Chart::PlantPhase => "Plant, phase",
            Chart::OpenMagnitude => "Open loop, magnitude",
            Chart::OpenPhase => "Open loop, phase",
            Chart::Nyquist => "Nyquist, near −1",
            Chart::Nichols => "Nichols",
            Chart::Sensitivity => "Sensitivity",
            Chart::Closed => "Closed loop",
            Chart::WorstMagnitude => "The worst board",
            Chart::WorstNyquist => "The worst board, Nyquist",
            Chart::Position => "Position",
            Chart::Drive => "Drive",
            Chart::SupplyLines => "Lines over frequency",
            Chart::ModeShapes => "Mode shapes",
            Chart::BenchMagnitude => "Measured board, magnitude",
            Chart::BenchPhase => "Measured board, phase",
        }
    }

    /// What is told beside the heading; nothing where the heading says it all.
    pub fn note(self) -> &'static str {
        match self {
            Chart::Nyquist => "the circle is the largest sensitivity allowed",
            Chart::Nichols => "the lines are the required margins",
            Chart::Sensitivity => "the share of a disturbance that remains",
            Chart::Closed => "reference to measured",
            Chart::WorstMagnitude => "over the nominal board",
            Chart::DriveNoise | Chart::PositionNoise => {
                "what the path's noise does in the closed loop"
            }
            Chart::InputNoise | Chart::PathInputNoise => {
                "left out where the gain is below a thousandth of its largest"
            }
            Chart::SupplyLines => {
                "a row for each converter and each pair; modes shaded, lines on a mode in colour, higher orders lower"
            }
            _ => "",
        }
    }

    /// What its pens mean.
    pub fn legend(self) -> Vec<(Sign, &'static str)> {
        match self {
            Chart::Stage(_) | Chart::Path(_) => vec![
                (Sign::Line(Pen::Asked), "required"),
                (Sign::Line(Pen::Ideal), "bought parts, ideal op amp"),
                (Sign::Line(Pen::Real), "bought parts, real op amp"),
                (Sign::Band, "boards: extremes, 5 to 95 %"),
            ],
            Chart::PlantMagnitude
            | Chart::PlantPhase
            | Chart::OpenMagnitude
            | Chart::OpenPhase
            | Chart::Nyquist
            | Chart::Nichols
            | Chart::Sensitivity
            | Chart::Closed => vec![
                (Sign::Point, "measured points"),
                (Sign::Line(Pen::Real), "with the model"),
                (Sign::Line(Pen::Guide), "the required limit"),
            ],
            Chart::WorstMagnitude | Chart::WorstNyquist => vec![
                (Sign::Line(Pen::Asked), "nominal board"),
                (Sign::Line(Pen::Real), "the worst board"),
            ],
            Chart::BenchMagnitude | Chart::BenchPhase => vec![
                (Sign::Point, "measured points"),
                (Sign::Line(Pen::Real), "predicted"),
                (Sign::Band, "boards: extremes, 5 to 95 %"),
            ],
            Chart::Position => vec![
                (Sign::Line(Pen::Asked), "reference"),
                (Sign::Line(Pen::Real), "position"),
            ],
            Chart::Scatter => vec![
                (Sign::Point, "within every limit"),
                (Sign::Dot, "outside a limit"),
                (Sign::Line(Pen::Guide), "limit"),
            ],
            Chart::Noise => vec![
                (Sign::Line(Pen::Real), "all parts"),
                (Sign::Line(Pen::Ideal), "resistors alone"),
                (Sign::Line(Pen::Guide), "largest contributors"),
            ],
            Chart::PathNoise => vec![
                (Sign::Line(Pen::Real), "all stages"),
                (Sign::Line(Pen::Guide), "each stage"),
            ],
            Chart::SupplyLines => vec![
                (Sign::Band, "modes"),
                (Sign::Line(Pen::Real), "lines on a mode"),
                (Sign::Line(Pen::Guide), "other lines"),
            ],
            Chart::Drive
            | Chart::Widths
            | Chart::ModeShapes
            | Chart::InputNoise
            | Chart::PathInputNoise
            | Chart::DriveNoise
            | Chart::PositionNoise => Vec::new(),
        }
    }

    /// What stands above it where it stands by itself.
    pub fn caption(self, design: &Design, outcome: &Outcome) -> Caption {
        let units = &design.servo.units;
        let (mut title, mut note) = (self.title().to_owned(), self.note().to_owned());
        match self {
            Chart::Stage(_) => {
                let stage = outcome.stages.get(outcome.shown);
                note = stage.map_or(String::new(), |stage| {
                    format!("stage {}: {}", outcome.shown + 1, stage.title)
                });
            }
            Chart::Path(_) => note = "whole path".to_owned(),
            Chart::PlantMagnitude if !units.reference().is_empty() => {
                title = labelled(&title, &units.decibels());
            }
            Chart::Position => title = labelled(&title, &units.output),
            Chart::Drive => title = labelled(&title, &units.input),
            Chart::DriveNoise => title = labelled(&title, &over_root_hertz(&units.input)),
            Chart::PositionNoise => title = labelled(&title, &over_root_hertz(&units.output)),
            Chart::Noise => {
                let stage = outcome.stages.get(outcome.shown);
                note = stage.map_or(String::new(), |stage| {
                    format!("stage {}: {}", outcome.shown + 1, stage.title)
                });
            }
            Chart::Widths => {
                let figure = outcome.spread.as_ref().and_then(widths::first);
                note = figure.map_or(String::new(), widths::note);
            }
            Chart::Scatter => {
                let axes = outcome.spread.as_ref().and_then(|spread| {
                    let (x, y) = scatter::first(spread)?;
                    scatter::note(spread, x, y)
                });
                note = axes.unwrap_or_default();
            }
            Chart::ModeShapes => {
                title =
                    shapes_over(matches!(design.servo.shaft, Some(Shaft::Chain { .. }))).to_owned()
            }
            _ => {}
        }
        Caption {
            title,
            note,
            legend: self
                .legend()
                .into_iter()
                .map(|(sign, text)| (sign, text.to_owned()))
                .collect(),
        }
    }

    /// The chart; none where there is nothing to draw.
    pub fn plot(self, design: &Design, outcome: &Outcome) -> Option<Plot> {
        let servo = outcome.servo.as_ref();
        let moved = |draw: fn(&Motion, Option<f64>, &PlantUnits) -> Plot| {
            let answer = outcome.motion.as_ref()?.answer.as_ref()?;
            Some(draw(
                answer,
                design.servo.motion.saturation,
                &design.servo.units,
            ))
        };
        match self {
            Chart::Stage(response) => {
                let curves = outcome.stages.get(outcome.shown)?.curves.as_ref()?;
                Some(response.plot(curves, self.bands(outcome).as_ref()))
            }
            Chart::Path(response) => {
                let curves = outcome.path.as_ref()?.curves.as_ref()?;
                Some(response.plot(curves, self.bands(outcome).as_ref()))
            }
            Chart::Widths => widths::plot(widths::first(outcome.spread.as_ref()?)?),
            Chart::Scatter => {
                let spread = outcome.spread.as_ref()?;
                let (x, y) = scatter::first(spread)?;
                scatter::plot(spread, x, y)
            }
            Chart::Noise => noise::stage(noise_of_stage(outcome)?),
            Chart::InputNoise => noise::referred(&noise_of_stage(outcome)?.density),
            Chart::PathNoise => noise::path(outcome.noise.as_ref().filter(|n| n.stages.len() > 1)?),
            Chart::PathInputNoise => {
                let several = outcome.noise.as_ref().filter(|n| n.stages.len() > 1);
                noise::referred(&several?.path.density)
            }
            Chart::DriveNoise => noise::drive(noise_of_loop(outcome)?),
            Chart::PositionNoise => noise::position(noise_of_loop(outcome)?),
            Chart::PlantMagnitude => looped::plant_magnitude(servo?),
            Chart::PlantPhase => looped::plant_phase(servo?),
            Chart::OpenMagnitude => looped::open_magnitude(servo?),
            Chart::OpenPhase => looped::open_phase(servo?),
            Chart::Nyquist => looped::nyquist(servo.filter(has_loop)?),
            Chart::Nichols => looped::nichols(servo.filter(has_loop)?),
            Chart::Sensitivity => looped::sensitivity(servo?),
            Chart::Closed => looped::closed(servo?),
            Chart::WorstMagnitude => worst_loop::magnitude(servo?, worst(outcome)?),
            Chart::WorstNyquist => worst_loop::nyquist(servo?, worst(outcome)?),
            Chart::Position => moved(motion::position),
            Chart::Drive => moved(motion::drive),
            Chart::SupplyLines => supply_lines(outcome.supply.as_ref()?),
            Chart::ModeShapes => mode_shapes(outcome.shaft.as_ref()?),
            Chart::BenchMagnitude => bench::of_outcome(outcome, Response::Magnitude),
            Chart::BenchPhase => bench::of_outcome(outcome, Response::Phase),
        }
    }

    /// The bands behind a response.
    fn bands(self, outcome: &Outcome) -> Option<Bands<'_>> {
        let spread = outcome.spread.as_ref()?;
        match self {
            Chart::Stage(_) => Some(Bands::of_stage(spread)),
            Chart::Path(_) => Bands::of_path(spread),
            _ => None,
        }
    }
}

/// A unit's densities; nothing where it has no name.
pub fn over_root_hertz(unit: &str) -> String {
    match unit {
        "" => "1/√Hz".to_owned(),
        unit => format!("{unit}/√Hz"),
    }
}

fn noise_of_stage(outcome: &Outcome) -> Option<&StageNoiseOutcome> {
    outcome.noise.as_ref()?.stages.get(outcome.shown)
}

fn noise_of_loop(outcome: &Outcome) -> Option<&LoopNoise> {
    outcome.noise.as_ref()?.looped.as_ref()
}

fn has_loop(servo: &&ServoOutcome) -> bool {
    servo.measured.is_some() || servo.modelled.is_some()
}

/// In a whole outcome it stands with the loop.
fn worst(outcome: &Outcome) -> Option<&WorstBoard> {
    let servo = outcome.servo.as_ref();
    let loops = servo.and_then(|servo| servo.spread.as_ref());
    loops.or(outcome.loops.as_ref())?.worst.as_ref()
}
