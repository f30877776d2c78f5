//! What can be exported, and the file that it is.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use super::picture::{Picture, STAGES};
use super::{parts_list, tables};
use crate::design::Design;
use crate::outcome::Outcome;
use crate::plots::Chart;
use crate::sheet;

/// A file that leaves the page.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct File {
    /// With its ending: `parts.csv`.
    pub name: String,
    pub media_type: String,
    pub text: String,
}

/// What there may be to export. Scripts know it by its file's name without the ending.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum What {
    /// All of it on paper.
    BuildSheet,
    Parts,
    Netlist,
    /// Poles, zeros and gains.
    Transfer,
    /// Of the shown stage.
    Curves,
    PathCurves,
    /// Of the shown stage.
    Band,
    PathBand,
    /// Of all stages, and over the boards of the shown one.
    Figures,
    /// Of the shown stage's figures.
    Histograms,
    /// Yield against each limit's width.
    Widths,
    /// The first boards, one by one.
    Boards,
    WorstCase,
    Contributions,
    /// Densities of the shown stage.
    Noise,
    /// Of all stages, over the band.
    NoiseContributors,
    /// Densities at the path's output.
    PathNoise,
    /// Of drive and position.
    LoopNoise,
    Plant,
    /// The fitted model's numbers with their uncertainties.
    Fit,
    Loop,
    Margins,
    /// Over boards and plants.
    LoopFigures,
    LoopHistograms,
    LoopContributions,
    /// The loop with the least phase margin.
    WorstLoop,
    Motion,
    MotionFigures,
    SupplyLines,
    /// On op amps, with levels and offsets.
    Demands,
    /// Values of the measured board's parts.
    BenchValues,
    Picture(Picture),
}

/// Texts in the order of [`What::ALL`].
const TEXTS: [What; 31] = [
    What::BuildSheet,
    What::Parts,
    What::Netlist,
    What::Transfer,
    What::Curves,
    What::PathCurves,
    What::Band,
    What::PathBand,
    What::Figures,
    What::Histograms,
    What::Widths,
    What::Boards,
    What::WorstCase,
    What::Contributions,
    What::Noise,
    What::NoiseContributors,
    What::PathNoise,
    What::LoopNoise,
    What::Plant,
    What::Fit,
    What::Loop,
    What::Margins,
    What::LoopFigures,
    What::LoopHistograms,
    What::LoopContributions,
    What::WorstLoop,
    What::Motion,
    What::MotionFigures,
    What::SupplyLines,
    What::Demands,
    What::BenchValues,
];

const COUNT: usize = TEXTS.len() + STAGES + Chart::ALL.len() + 2;

impl What {
    /// Texts, then pictures: schematics, charts, histograms.
    pub const ALL: [What; COUNT] = {
        let mut all = [What::Picture(Picture::LoopHistograms); COUNT];
        let (texts, schematics) = all.split_at_mut(TEXTS.len());
        texts.copy_from_slice(&TEXTS);
        let (schematics, charts) = schematics.split_at_mut(STAGES);
        let mut place = 0;
        while place < STAGES {
            schematics[place] = What::Picture(Picture::Schematic(place as u8));
            place += 1;
        }
        let mut chart = 0;
        while chart < Chart::ALL.len() {
            charts[chart] = What::Picture(Picture::Chart(Chart::ALL[chart]));
            chart += 1;
        }
        charts[chart] = What::Picture(Picture::Histograms);
        all
    };

    /// Whether it is a picture and no text.
    pub fn is_picture(self) -> bool {
        matches!(self, What::Picture(_))
    }

    /// What it is called.
    pub fn label(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            What::Picture(picture) => return picture.label(),
            What::BuildSheet => "Build sheet",
            What::Parts => "Parts list",
            What::Netlist => "Netlist",
            What::Transfer => "Poles, zeros and gain",
            What::Curves => "Curves of the shown stage",
            What::PathCurves => "Curves of the whole path",
            What::Band => "Bands of the shown stage",
            What::PathBand => "Bands of the whole path",
            What::Figures => "Figures",
            What::Histograms => "Histograms",
            What::Widths => "Yield against limit widths",
            What::Boards => "Boards",
            What::WorstCase => "Worst case",
            What::Contributions => "Variance contributions",
            What::Noise => "Noise of the shown stage",
            What::NoiseContributors => "Noise by contributor",
            What::PathNoise => "Noise of the whole path",
            What::LoopNoise => "Noise in the closed loop",
            What::Plant => "Plant",
            What::Fit => "Fitted model",
            What::Loop => "Loop",
            What::Margins => "Margins",
            What::LoopFigures => "Loop figures over boards",
            What::LoopHistograms => "Loop histograms",
            What::LoopContributions => "Variance contributions to the phase margin",
            What::WorstLoop => "Loop with the least phase margin",
            What::Motion => "Closed-loop time response",
            What::MotionFigures => "Figures of the time response",
            What::SupplyLines => "Supply lines",
            What::Demands => "Demands on op amps",
            What::BenchValues => "Values of the measured board",
        })
    }

    /// The file's name.
    fn file_name(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            What::Picture(picture) => return format!("{}.svg", picture.name()).into(),
            What::BuildSheet => "build-sheet.html",
            What::Parts => "parts.csv",
            What::Netlist => "netlist.cir",
            What::Transfer => "transfer.json",
            What::Curves => "curves.csv",
            What::PathCurves => "path-curves.csv",
            What::Band => "band.csv",
            What::PathBand => "path-band.csv",
            What::Figures => "figures.csv",
            What::Histograms => "histograms.csv",
            What::Widths => "widths.csv",
            What::Boards => "boards.csv",
            What::WorstCase => "worst-case.csv",
            What::Contributions => "contributions.csv",
            What::Noise => "noise.csv",
            What::NoiseContributors => "noise-contributors.csv",
            What::PathNoise => "path-noise.csv",
            What::LoopNoise => "loop-noise.csv",
            What::Plant => "plant.csv",
            What::Fit => "fit.csv",
            What::Loop => "loop.csv",
            What::Margins => "margins.csv",
            What::LoopFigures => "loop-figures.csv",
            What::LoopHistograms => "loop-histograms.csv",
            What::LoopContributions => "loop-contributions.csv",
            What::WorstLoop => "worst-loop.csv",
            What::Motion => "motion.csv",
            What::MotionFigures => "motion-figures.csv",
            What::SupplyLines => "supply-lines.csv",
            What::Demands => "demands.csv",
            What::BenchValues => "measured-board.csv",
        })
    }

    /// What scripts call it.
    pub fn name(self) -> String {
        let file = self.file_name();
        let name = file.split('.').next().unwrap_or_default();
        name.to_owned()
    }

    fn media_type(self) -> &'static str {
        match self {
            What::BuildSheet => "text/html; charset=utf-8",
            What::Netlist => "text/plain; charset=utf-8",
            What::Transfer => "application/json",
            What::Picture(_) => "image/svg+xml",
            // RFC 7111.
            _ => "text/csv; charset=utf-8; header=present",
        }
    }

    /// Why it is not there, as a sentence.
    fn missing(self) -> &'static str {
        match self {
            What::BuildSheet => "No stage is picked yet, and there is no loop.",
            What::Parts | What::Netlist | What::Curves | What::Figures => {
                "The path holds no stage, or its parts are not picked yet."
            }
            What::Transfer => "The path is not worked out yet.",
            What::PathCurves => "The path holds one stage only, or is not worked out yet.",
            What::Band | What::Histograms | What::Widths | What::Boards => {
                "The boards are not drawn yet, or the path holds no stage."
            }
            What::PathBand => "The path holds one stage only, or its boards are not drawn yet.",
            What::WorstCase => "The worst case is not asked for, or not worked out yet.",
            What::Contributions => {
                "Variance contributions are not asked for, or not worked out yet."
            }
            What::Noise | What::NoiseContributors | What::PathNoise => {
                "The path holds no stage, or its noise is not worked out yet."
            }
            What::LoopNoise => "There is no plant, or its loop is not stable.",
            What::Plant | What::Loop | What::Margins => {
                "There is no plant, or its loop is not worked out yet."
            }
            What::Fit => "There is no sweep that a model was fitted to.",
            What::LoopFigures
            | What::LoopHistograms
            | What::LoopContributions
            | What::WorstLoop => {
                "There is no plant with a model, or its loops over boards are not drawn yet."
            }
            What::Motion | What::MotionFigures => {
                "There is no plant with a model, or its loop does not move."
            }
            What::SupplyLines => "There is no supply, or no plant with a model.",
            What::Demands => "The path holds no stage, or its demands are not worked out yet.",
            What::BenchValues => "No board was measured, or it is not looked at yet.",
            What::Picture(picture) => picture.missing(),
        }
    }

    /// The text, where it is there; the parts list has columns for so many boards.
    fn text(
        self,
        design: &Design,
        outcome: &Outcome,
        boards: u32,
    ) -> Result<Option<String>, String> {
        match self {
            What::BuildSheet => {
                let is_there = sheet::is_there(outcome);
                Ok(is_there.then(|| sheet::document(design, outcome)))
            }
            What::Parts => match parts_list::parts_list(design, outcome, boards)? {
                rows if rows.is_empty() => Ok(None),
                rows => parts_list::written(&rows, boards).map(Some),
            },
            What::Netlist => Ok(outcome.netlist.clone()),
            What::Transfer => {
                let told = outcome.transfer.as_ref();
                let text = told.map(serde_json::to_string_pretty).transpose();
                text.map_err(|error| error.to_string())
            }
            What::Picture(picture) => Ok(picture.svg(design, outcome)),
            other => match tables::table(other, outcome) {
                Some(table) => table.written().map(Some),
                None => Ok(None),
            },
        }
    }
}

impl From<What> for String {
    fn from(what: What) -> String {
        what.name()
    }
}

impl TryFrom<String> for What {
    type Error = String;

    fn try_from(name: String) -> Result<What, String> {
        let found = What::ALL.into_iter().find(|what| what.name() == name);
        found.ok_or_else(|| format!("There is no “{name}” to export."))
    }
}

/// Makes a file of one thing. `boards` is how many boards the parts list buys for, 1 or more; nothing else reads it.
///
/// # Errors
/// A sentence where it is not there, where `boards` is 0, or where the outcome is another design's.
pub fn export(design: &Design, outcome: &Outcome, what: What, boards: u32) -> Result<File, String> {
    let text = what.text(design, outcome, boards)?;
    let text = text.ok_or_else(|| what.missing().to_owned())?;
    Ok(File {
        name: what.file_name().into_owned(),
        media_type: what.media_type().to_owned(),
        text,
    })
}
