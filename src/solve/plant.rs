//! The plant: read and fitted, and as it is drawn.

use num_complex::Complex64;

use crate::design::InputError;
use crate::outcome::{PlantOutcome, Shape};
use crate::plant::{
    FitWork, Fitted, Model, PlantUnits, Settings, Sweep, antiresonances, peaks, sweep,
};
use crate::response::resolving_grid;
use crate::solve::task::{Asked, Before, Blocked, Task, Turn};

/// Points a decade of the model's curve, before modes ask for more.
const PER_DECADE: f64 = 40.0;
/// A model without a sweep is drawn so far below its lowest corner and above its highest, as a ratio.
const DRAWN_RATIO: f64 = 30.0;

/// All that reading and fitting a plant reads.
#[derive(PartialEq)]
pub(in crate::solve) struct PlantReads {
    sweep: String,
    fit: Settings,
    /// A model that is used as it stands.
    model: Option<Model>,
}

/// A plant as far as it is known.
pub(in crate::solve) struct Known {
    pub sweep: Option<Sweep>,
    /// The model in use.
    pub model: Option<Model>,
    pub fitted: Option<Fitted>,
    /// Why there is no model.
    pub unfitted: Option<String>,
}

/// Reading and fitting.
pub(in crate::solve) struct PlantModel {
    sweep: Option<Sweep>,
    fit: Fit,
}

enum Fit {
    /// No sweep, or a model that is used as it stands.
    None,
    Working(Box<FitWork>),
    /// Why there is no model.
    Failed(String),
}

impl Task for PlantModel {
    const FIELD: &'static str = "plant";
    type Reads = PlantReads;
    type Finds = Known;

    fn reads(asked: &Asked) -> Result<Option<PlantReads>, Blocked> {
        let servo = &asked.design.servo;
        Ok(servo.has_plant().then(|| PlantReads {
            sweep: servo.sweep.clone(),
            fit: servo.fit.clone(),
            model: servo.model.clone(),
        }))
    }

    fn begin(
        reads: &PlantReads,
        _: Option<Before<PlantModel>>,
    ) -> Result<PlantModel, Vec<InputError>> {
        let sweep = (!reads.sweep.is_empty()).then(|| sweep::read(&reads.sweep, None).sweep);
        let fit = match &sweep {
            Some(sweep) if reads.model.is_none() => match FitWork::begin(sweep, &reads.fit) {
                Ok(work) => Fit::Working(Box::new(work)),
                Err(error) => Fit::Failed(error.to_string()),
            },
            _ => Fit::None,
        };
        Ok(PlantModel { sweep, fit })
    }

    fn advance(&mut self, reads: &PlantReads, go_on: &mut dyn FnMut() -> bool) -> Turn<Known> {
        if let Fit::Working(work) = &mut self.fit {
            while work.step().is_pending() {
                if !go_on() {
                    return Turn::More(0.0);
                }
            }
        }
        let (fitted, unfitted) = match std::mem::replace(&mut self.fit, Fit::None) {
            Fit::Working(work) => (Some(work.into_fitted()), None),
            Fit::Failed(why) => (None, Some(why)),
            Fit::None => (None, None),
        };
        let of_fit = || fitted.as_ref().map(|fitted| fitted.model.clone());
        Turn::Found(Known {
            sweep: self.sweep.take(),
            model: reads.model.clone().or_else(of_fit),
            fitted,
            unfitted,
        })
    }
}

/// `shaft_modes` are drawn beside the plant's own, Hz.
pub(super) fn describe(plant: &Known, units: &PlantUnits, shaft_modes: Vec<f64>) -> PlantOutcome {
    let (sweep, model) = (plant.sweep.as_ref(), plant.model.as_ref());
    let measured = sweep.map(|sweep| {
        let frequency = sweep.points.iter().map(|p| p.frequency).collect();
        let responses = sweep.points.iter().map(|p| p.response);
        shape(frequency, responses)
    });
    let range = sweep.map_or_else(|| model.map(range), ends);
    let modelled = model.zip(range).map(|(model, (low, high))| {
        let count = ((high / low).log10() * PER_DECADE) as usize + 2;
        let grid = resolving_grid(low, high, count, &model.poles());
        let responses: Vec<Complex64> = grid.iter().map(|f| model.at(*f)).collect();
        shape(grid, responses)
    });
    PlantOutcome {
        measured,
        modelled,
        model: model.cloned(),
        peaks: model.map(peaks).unwrap_or_default(),
        antiresonances: model
            .zip(range)
            .map(|(model, (low, high))| antiresonances(model, low, high))
            .unwrap_or_default(),
        fitted: plant.fitted.clone(),
        unfitted: plant.unfitted.clone(),
        shaft_modes,
        units: units.of_plant(),
    }
}

/// A response as it is drawn.
pub(super) fn shape(frequency: Vec<f64>, responses: impl IntoIterator<Item = Complex64>) -> Shape {
    let (magnitude_db, phase_deg) = responses
        .into_iter()
        .map(|h| (decibels(h.norm()), h.arg().to_degrees()))
        .unzip();
    Shape {
        frequency,
        magnitude_db,
        phase_deg,
    }
}

/// 20·lg of a ratio, and no less than −400 dB.
pub(super) fn decibels(ratio: f64) -> f64 {
    (20.0 * ratio.log10()).max(-400.0)
}

fn ends(sweep: &Sweep) -> Option<(f64, f64)> {
    Some((
        sweep.points.first()?.frequency,
        sweep.points.last()?.frequency,
    ))
}

fn range(model: &Model) -> (f64, f64) {
    let corners = model.modes.iter().map(|mode| mode.frequency);
    let corners = corners.chain(model.lag);
    let (low, high) = corners.fold((f64::INFINITY, 0.0f64), |(low, high), f| {
        (low.min(f), high.max(f))
    });
    if low > high {
        return (1.0, 100e3);
    }
    (low / DRAWN_RATIO, high * DRAWN_RATIO)
}
