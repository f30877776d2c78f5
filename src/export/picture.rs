//! What leaves the page as a picture (SVG): charts as they are drawn where nothing else is chosen, histograms, schematics.

use std::borrow::Cow;

use crate::design::Design;
use crate::outcome::{FigureSpread, Outcome};
use crate::plots::{self, Chart, histogram, scatter, schematic};

/// Most stages that a path may hold.
pub(super) const STAGES: usize = crate::design::MOST_STAGES;

/// A picture that there may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Picture {
    /// Of the stage at this place in the path, from 0.
    Schematic(u8),
    Chart(Chart),
    /// Every figure of the shown stage over all boards.
    Histograms,
    /// Every figure of the loop over boards and plants.
    LoopHistograms,
}

impl Picture {
    /// What scripts and files call it; stages count from 1.
    pub fn name(self) -> Cow<'static, str> {
        match self {
            Picture::Schematic(place) => format!("schematic-{}", u16::from(place) + 1).into(),
            Picture::Chart(chart) => chart.name().into(),
            Picture::Histograms => "distributions".into(),
            Picture::LoopHistograms => "loop-distributions".into(),
        }
    }

    /// What a button says.
    pub fn label(self) -> Cow<'static, str> {
        match self {
            Picture::Schematic(place) => {
                format!("Schematic of stage {}", u16::from(place) + 1).into()
            }
            Picture::Chart(Chart::Stage(response)) => {
                format!("{} of the shown stage", response.title()).into()
            }
            Picture::Chart(Chart::Path(response)) => {
                format!("{} of the whole path", response.title()).into()
            }
            Picture::Chart(chart) => chart.title().into(),
            Picture::Histograms => "Histograms of the shown stage".into(),
            Picture::LoopHistograms => "Histograms of the loop".into(),
        }
    }

    /// Why it is not there, as a sentence.
    pub fn missing(self) -> &'static str {
        match self {
            Picture::Schematic(_) => {
                "The path holds no such stage, or its parts are not picked yet."
            }
            _ => "There is nothing to draw in it, or it is not worked out yet.",
        }
    }

    /// Whether there is something to draw.
    pub fn is_there(self, outcome: &Outcome) -> bool {
        match self {
            Picture::Schematic(place) => usize::from(place) < outcome.stages.len(),
            // What is drawn hangs on the design, that something is does not.
            Picture::Chart(chart) => chart.plot(&Design::blank(), outcome).is_some(),
            Picture::Histograms => !shown_figures(outcome).is_empty(),
            Picture::LoopHistograms => !loop_figures(outcome).is_empty(),
        }
    }

    /// The picture, where there is something to draw.
    pub fn svg(self, design: &Design, outcome: &Outcome) -> Option<String> {
        match self {
            Picture::Schematic(place) => {
                let stage = outcome.stages.get(usize::from(place))?;
                let title = format!("Stage {}: {}", u16::from(place) + 1, stage.title);
                Some(schematic::svg(stage, &title))
            }
            Picture::Chart(chart) => {
                let caption = chart.caption(design, outcome);
                Some(plots::svg(
                    &chart.plot(design, outcome)?,
                    &caption,
                    plots::SIZE,
                ))
            }
            Picture::Histograms => histograms(&self.label(), shown_figures(outcome)),
            Picture::LoopHistograms => histograms(&self.label(), loop_figures(outcome)),
        }
    }
}

fn histograms(title: &str, figures: Vec<&FigureSpread>) -> Option<String> {
    (!figures.is_empty()).then(|| histogram::svg(title, &figures))
}

/// In the page's order.
fn shown_figures(outcome: &Outcome) -> Vec<&FigureSpread> {
    outcome.spread.as_ref().map_or(Vec::new(), |spread| {
        let order = scatter::limited_first(spread).into_iter();
        order.map(|at| &spread.figures[at]).collect()
    })
}

fn loop_figures(outcome: &Outcome) -> Vec<&FigureSpread> {
    // In a whole outcome they stand with the loop.
    let servo = outcome.servo.as_ref();
    let loops = servo.and_then(|servo| servo.spread.as_ref());
    let loops = loops.or(outcome.loops.as_ref());
    loops.map_or(Vec::new(), |loops| loops.figures.iter().collect())
}
