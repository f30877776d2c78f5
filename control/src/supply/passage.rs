//! What the path, the plant and the closed loop make of a line where it meets a mode.

use serde::{Deserialize, Serialize};

use super::{Hit, ModeBand};
use crate::feedback::OpenLoop;
use crate::plant::Model;

/// Places looked at over a mode's band.
const PLACES: usize = 33;

/// How a line comes through, at the frequency at which it comes through most.
///
/// A line on the path's input comes out of the plant by path, plant and sensitivity in a row, |C·P/(1 + L)|: where
/// the loop is closed that is |L/(1 + L)|. One that enters behind the path, at the drive, does not have the path's
/// share. How large it is where it enters, nobody knows but a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Passage {
    /// Hz.
    pub frequency: f64,
    /// The path's gain from input to output, dB.
    pub path_db: f64,
    /// The plant's gain on a unit whose mode lies as near as it drifts, dB.
    pub plant_db: f64,
    /// |1/(1 + L)| with that plant, dB; none where the loop is not stable, so that it has none.
    pub sensitivity_db: Option<f64>,
    /// All of them together, dB.
    pub through_db: f64,
}

/// The passages of one loop, band by band.
pub struct Passages<'a> {
    open: &'a OpenLoop<'a>,
    model: &'a Model,
    is_stable: bool,
    bands: &'a [ModeBand],
    /// Over each band, ends included.
    over: Vec<Vec<Passage>>,
}

impl<'a> Passages<'a> {
    /// Looks over each band. `open` must have a plant that is `model`; `is_stable` says whether the loop with it
    /// may be counted as closed.
    pub fn new(
        open: &'a OpenLoop<'a>,
        model: &'a Model,
        is_stable: bool,
        bands: &'a [ModeBand],
    ) -> Passages<'a> {
        let mut passages = Passages {
            open,
            model,
            is_stable,
            bands,
            over: Vec::new(),
        };
        passages.over = bands
            .iter()
            .map(|band| {
                let (low, high) = band.range;
                let last = (PLACES - 1) as f64;
                let places = (0..PLACES).map(|k| match k as f64 / last {
                    1.0 => high,
                    share => low + (high - low) * share,
                });
                places.map(|f| passages.at(band, f)).collect()
            })
            .collect();
        passages
    }

    /// Where and how a hit comes through most; none for a hit on another model's mode.
    pub fn worst(&self, hit: &Hit) -> Option<Passage> {
        let index = self.bands.iter().position(|band| band.mode == hit.mode)?;
        let (band, (from, to)) = (&self.bands[index], hit.shared);
        let mut ends = Vec::new();
        if from > band.range.0 {
            ends.push(self.at(band, from));
        }
        if to < band.range.1 && to > from {
            ends.push(self.at(band, to));
        }
        let within = self.over[index]
            .iter()
            .filter(|passage| (from..=to).contains(&passage.frequency));
        within
            .chain(&ends)
            .max_by(|a, b| a.through_db.total_cmp(&b.through_db))
            .copied()
    }

    fn at(&self, band: &ModeBand, frequency: f64) -> Passage {
        let mut unit = self.model.clone();
        unit.modes[band.mode].frequency = frequency.clamp(band.drift.0, band.drift.1);
        let plant = unit.at(frequency);
        let stages = self.open.stages.iter();
        let path = stages.fold(num_complex::Complex64::ONE, |path, stage| {
            path * stage.at(frequency)
        });
        let (path_db, plant_db) = (decibels(path.norm()), decibels(plant.norm()));
        let sensitivity_db = self
            .is_stable
            .then(|| -decibels((1.0 + self.open.sign * path * plant).norm()));
        Passage {
            frequency,
            path_db,
            plant_db,
            sensitivity_db,
            through_db: path_db + plant_db + sensitivity_db.unwrap_or(0.0),
        }
    }
}

/// 20·lg of a ratio, and no less than −400 dB.
fn decibels(ratio: f64) -> f64 {
    (20.0 * ratio.log10()).max(-400.0)
}

#[cfg(test)]
mod tests {
    use super::super::{Line, Source, bands};
    use super::*;
    use crate::plant::{Mode, Plant};

    #[test]
    fn a_line_meets_the_peak_wherever_that_drifts() {
        let omega = std::f64::consts::TAU * 1000.0;
        let model = Model {
            rigid: None,
            modes: vec![Mode {
                frequency: 1000.0,
                damping: 0.01,
                residue: omega * omega,
                slope: 0.0,
            }],
            ..Model::default()
        };
        let open = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let bands = bands(&model, 0.02);
        let passages = Passages::new(&open, &model, false, &bands);
        let line = Line {
            source: Source::Harmonic {
                converter: 0,
                order: 1,
            },
            range: (1015.0, 1015.0),
        };
        let hit = Hit {
            line,
            mode: 0,
            shared: line.range,
        };
        let passage = passages.worst(&hit).expect("a passage");
        // 1/(2ζ), and less by the square of the frequencies' ratio.
        let expected = 20.0 * (50.0 / 1.015f64.powi(2)).log10();
        assert!((passage.plant_db - expected).abs() < 1e-9, "{passage:?}");
        assert_eq!((passage.path_db, passage.sensitivity_db), (0.0, None));
        // Closed, |P/(1 + P)|.
        let closed = Passages::new(&open, &model, true, &bands).worst(&hit);
        let mut unit = model.clone();
        unit.modes[0].frequency = 1015.0;
        let p = unit.at(1015.0);
        let expected = 20.0 * (p / (1.0 + p)).norm().log10();
        assert!((closed.expect("a passage").through_db - expected).abs() < 1e-9);
    }
}
