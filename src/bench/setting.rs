//! What was built and measured: the stages, what their parts may be, and what lies behind them.

use std::sync::Arc;

use num_complex::Complex64;

use super::measurement::{Measurement, MeasurementError};
use super::prior::{NumberLaw, laws};
use super::trimmer::Trimmer;
use crate::circuit::Kind;
use crate::parts::Shelf;
use crate::spread::Population;
use crate::stages::Model;

/// A stage of the path as it was meant.
#[derive(Clone)]
pub struct SettingStage {
    pub model: Model,
    /// Values of all its netlist's parts as marked, Ω and F.
    pub values: Vec<f64>,
}

/// All that the bench works from.
#[derive(Clone)]
pub struct Setting {
    /// The stages between the measurement's input and its output, in series.
    pub stages: Vec<SettingStage>,
    /// The boards that might be built of them: their numbers, stage by stage.
    pub population: Population,
    /// What a repair may take its values from.
    pub shelf: Shelf,
    pub measurement: Measurement,
    /// What else lies in series: the plant, where the loop was measured. A path alone has none.
    pub behind: Option<Arc<dyn Block>>,
    /// Parts that can be turned.
    pub trimmers: Vec<Trimmer>,
    /// Where random numbers begin.
    pub seed: u64,
}

/// A block in series with the stages that may have unknowns of its own, such as a plant's gain and modes.
///
/// An unknown is counted so that 0 is what is known of it best: the logarithm of a gain or of a mode's frequency over
/// its known value, a delay beyond the known one over the period of the middle of the measurement.
pub trait Block: Send + Sync {
    /// What it is called in sentences.
    fn name(&self) -> &str;
    /// Its unknowns; none for a block that is known.
    fn parameters(&self) -> &[BlockParameter];
    /// Its response at a frequency in Hz, with its unknowns at these values.
    fn at(&self, frequency: f64, values: &[f64]) -> Complex64;
}

/// An unknown of a [`Block`].
#[derive(Clone, Debug, PartialEq)]
pub struct BlockParameter {
    /// What it is called in sentences.
    pub label: String,
    /// Standard deviation of what is known of it.
    pub standard_deviation: f64,
}

/// A block without unknowns.
pub struct Known<F> {
    pub name: String,
    /// Its response at a frequency in Hz.
    pub response: F,
}

impl<F: Fn(f64) -> Complex64 + Send + Sync> Block for Known<F> {
    fn name(&self) -> &str {
        &self.name
    }

    fn parameters(&self) -> &[BlockParameter] {
        &[]
    }

    fn at(&self, frequency: f64, _: &[f64]) -> Complex64 {
        (self.response)(frequency)
    }
}

/// One number of a board: where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub stage: usize,
    /// Of the stage's parts.
    pub part: usize,
    /// Of the part's numbers.
    pub input: usize,
}

impl Setting {
    /// Whether it can be worked on.
    ///
    /// # Errors
    /// What is wrong with the measurement, or that the population is another path's.
    pub fn check(&self) -> Result<(), MeasurementError> {
        if self.stages.is_empty() {
            return Err(MeasurementError::NoStage);
        }
        let (given, needed) = (self.population.variations.len(), self.places().len());
        if given != needed {
            return Err(MeasurementError::Population(given, needed));
        }
        self.measurement.check()
    }

    /// Where each of a board's numbers stands.
    pub(super) fn places(&self) -> Vec<Place> {
        let mut places = Vec::new();
        for (stage, of) in self.stages.iter().enumerate() {
            for (part, one) in of.model.netlist.parts().iter().enumerate() {
                let inputs = 0..one.kind.inputs();
                places.extend(inputs.map(|input| Place { stage, part, input }));
            }
        }
        places
    }

    /// The numbers of the board as marked.
    pub(super) fn nominal(&self) -> Vec<f64> {
        let variations = self.population.variations.iter();
        variations.map(|variation| variation.nominal).collect()
    }

    /// Where each stage's numbers begin, and behind them where the last one's end.
    pub(super) fn firsts(&self) -> Vec<usize> {
        let mut firsts = vec![0];
        for stage in &self.stages {
            firsts.push(firsts[firsts.len() - 1] + stage.model.program.inputs());
        }
        firsts
    }

    pub(super) fn kind(&self, place: Place) -> Kind {
        self.stages[place.stage].model.netlist.parts()[place.part].kind
    }

    /// The laws of a board's numbers; what can be turned may stand anywhere in its range.
    pub(super) fn laws(&self) -> Vec<NumberLaw> {
        let mut laws = laws(&self.population);
        for (law, place) in laws.iter_mut().zip(self.places()) {
            if let Some(trimmer) = self.trimmer(place) {
                let lowest = trimmer.fixed.max(0.02 * trimmer.range);
                let width = ((trimmer.fixed + trimmer.range) / lowest).ln();
                *law = NumberLaw::free(width / 12f64.sqrt());
            }
        }
        laws
    }

    /// The trimmer that stands at a place.
    pub(super) fn trimmer(&self, place: Place) -> Option<&Trimmer> {
        let part = &self.stages[place.stage].model.netlist.parts()[place.part];
        let mut all = self.trimmers.iter();
        all.find(|t| t.stage == place.stage && t.part == part.name)
    }

    pub(super) fn is_bought(&self, place: Place) -> bool {
        self.stages[place.stage].model.bought[place.part]
    }
}
