//! The loop's type, its error constants, and what they leave of an error.
//!
//! Ogata, "Modern Control Engineering", 5.8 (from memory): with L(s) → c/s^N as s → 0 the loop is of type N, and
//! Kp, Kv, Ka are the limits of L, s·L, s²·L.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::Stimulus;
use super::bands::{TypeBand, bands};
use crate::feedback::{OpenLoop, Traced, trace_whole};
use crate::plant::{Model, Plant, PlantUnits, with_unit};
use crate::quantity::{Unit, rounded};
use crate::response::Transfer;

/// What each type is good for.
const NEEDED: &str = "Type 1 is needed for no error after a step, 2 for none along a ramp and a finite one along a \
                      parabola, 3 for none along a parabola.";

/// What L does towards rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ErrorConstants {
    /// Integrators in the loop as it is built, less its differentiators. An integrator round a real op amp has
    /// a finite gain at DC and is none.
    pub kind: i32,
    /// Limit of L, output per input; none where it grows without bound.
    pub kp: Option<f64>,
    /// Limit of s·L, 1/s.
    pub kv: Option<f64>,
    /// Limit of s²·L, 1/s².
    pub ka: Option<f64>,
    /// Error that is left of a unit step, `1/(1 + Kp)`; none where it grows without bound. These three hold
    /// for a loop that is stable.
    pub step_error: Option<f64>,
    /// Error that a ramp of 1 a second leaves, `1/Kv`.
    pub ramp_error: Option<f64>,
    /// Error that a parabola ½·t² leaves, `1/Ka`.
    pub parabola_error: Option<f64>,
    /// Error that a step of 1 at the plant's input leaves.
    pub disturbance_error: Option<f64>,
    /// The bands below the crossover in which L falls as that of a loop of some type, in rising frequency.
    pub bands: Vec<TypeBand>,
}

/// What is left of an error along a ramp or a parabola.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tracking {
    /// In the output's unit, for 1 of it a second, or a second squared.
    pub error: f64,
    /// The band of the commands for which that holds, Hz; none where it holds to rest.
    pub band: Option<(f64, f64)>,
}

/// `factor·s^(−kind)` as s → 0.
#[derive(Clone, Copy)]
struct Low {
    kind: i32,
    factor: f64,
}

impl ErrorConstants {
    /// Reads them off the lowest coefficients, which is exact.
    ///
    /// # Errors
    /// A sentence where the plant is a sweep, which ends above DC, or a part is not made of numbers.
    pub fn of(open: &OpenLoop) -> Result<ErrorConstants, String> {
        let model = checked(open)?;
        Ok(ErrorConstants::read(open, model, &trace_whole(open)))
    }

    /// The same with the loop's whole curve at hand.
    ///
    /// # Errors
    /// As [`ErrorConstants::of`].
    pub fn of_traced(open: &OpenLoop, traced: &[Traced]) -> Result<ErrorConstants, String> {
        Ok(ErrorConstants::read(open, checked(open)?, traced))
    }

    fn read(open: &OpenLoop, model: &Model, traced: &[Traced]) -> ErrorConstants {
        let (path, plant) = (path(open), plant(model));
        let whole = path.times(plant);
        let [kp, kv, ka] = [0, 1, 2].map(|n| whole.limit(n));
        let left = |constant: Option<f64>| match constant {
            None => Some(0.0),
            Some(constant) => finite(1.0 / constant),
        };
        ErrorConstants {
            kind: whole.kind,
            kp,
            kv,
            ka,
            step_error: left(kp.map(|kp| 1.0 + kp)),
            ramp_error: left(kv),
            parabola_error: left(ka),
            disturbance_error: disturbed(path, plant, whole),
            bands: bands(open, model, traced, whole.kind),
        }
    }

    /// The same at rest alone, without the bands, which need no curve.
    ///
    /// # Errors
    /// As [`ErrorConstants::of`].
    pub fn at_rest(open: &OpenLoop) -> Result<ErrorConstants, String> {
        Ok(ErrorConstants::read(open, checked(open)?, &[]))
    }

    /// What a ramp of 1 a second (`power` 1) or a parabola ½·t² (`power` 2) leaves: as built where the loop has the
    /// type for it, and otherwise in the band in which it acts as of that type. None where there is no such band.
    pub fn tracking(&self, power: i32) -> Option<Tracking> {
        let at_rest = match power {
            1 => self.ramp_error,
            _ => self.parabola_error,
        };
        if let Some(error) = at_rest {
            return Some(Tracking { error, band: None });
        }
        let length = |band: &TypeBand| band.high / band.low.unwrap_or(f64::MIN_POSITIVE);
        let bands = self.bands.iter().filter(|band| band.kind == power);
        let band = bands.max_by(|a, b| length(a).total_cmp(&length(b)))?;
        Some(Tracking {
            error: 1.0 / band.constant,
            band: Some((band.low?, band.high)),
        })
    }

    /// The position that a unit step ends at, in a loop that is stable.
    pub fn step_end(&self) -> Option<f64> {
        end(self.kp)
    }

    /// The error that a stimulus of 1 leaves in a loop that is stable.
    pub fn left(&self, stimulus: &Stimulus) -> Option<f64> {
        match stimulus {
            Stimulus::Step => self.step_error,
            Stimulus::Ramp => self.ramp_error,
            Stimulus::Parabola => self.parabola_error,
            Stimulus::Disturbance => self.disturbance_error,
            // What is left of a step of its whole way.
            Stimulus::Trajectory { trajectory } => {
                let way = trajectory.last() - trajectory.first();
                self.step_error.map(|left| left * way)
            }
        }
    }

    /// What the constants mean, in sentences.
    pub fn sentences(&self, units: &PlantUnits) -> Vec<String> {
        let dc = match self.kp {
            Some(kp) if kp != 0.0 => {
                // A rounded −0 is a 0.
                let decibels = (20.0 * kp.abs().log10()).round() + 0.0;
                format!(" with a gain of {decibels:.0} dB at DC").replace('-', "−")
            }
            _ => String::new(),
        };
        let mut said = vec![format!("As built the loop is of type {}{dc}.", self.kind)];
        said.extend(self.band_sentences(units));
        said.push(
            match self.kind {
                ..=0 => "A step leaves an error; the errors of ramps and parabolas grow without bound.",
                1 => "A step leaves no error, a ramp a constant one; the error of a parabola grows without bound.",
                2 => "Steps and ramps leave no error, and a parabola a constant one.",
                _ => "Steps, ramps and parabolas leave no error.",
            }
            .to_owned(),
        );
        said.push(NEEDED.to_owned());
        said
    }

    /// The same without a claim of the type, where the sweep leaves it open: the bands in which the plant was measured,
    /// which begin above `from`, Hz, and what each type would be good for.
    pub fn sentences_of_no_type(&self, units: &PlantUnits, from: f64) -> Vec<String> {
        let seen = |band: &TypeBand| band.low.is_some_and(|low| low >= from);
        let bands = self.bands.iter().filter(|band| seen(band)).copied();
        let measured = ErrorConstants {
            bands: bands.collect(),
            ..self.clone()
        };
        let mut said = measured.band_sentences(units);
        said.push(NEEDED.to_owned());
        said
    }

    fn band_sentences(&self, units: &PlantUnits) -> Vec<String> {
        let hertz = |f: f64| rounded(f, Unit::Hertz, 2);
        let above = self.bands.iter().filter(|band| band.kind > self.kind);
        above
            .map(|band| {
                let follows = format!(
                    " L falls with {} dB a decade: commands in this band are followed as by a type {} loop{}.",
                    20 * band.kind,
                    band.kind,
                    band.leaves(units)
                );
                match band.low {
                    Some(low) => {
                        format!("Between {} and {}{follows}", hertz(low), hertz(band.high))
                    }
                    None => format!("Below {}{follows}", hertz(band.high)),
                }
            })
            .collect()
    }
}

impl TypeBand {
    /// The error that a ramp or a parabola leaves in this band, as the end of a sentence; "" where the output has no unit
    /// or the band is of another type.
    fn leaves(&self, units: &PlantUnits) -> String {
        let what = match self.kind {
            1 => "a ramp",
            2 => "a parabola",
            _ => return String::new(),
        };
        if units.output.is_empty() {
            return String::new();
        }
        format!(
            ", and {what} of {} leaves {}",
            units.one_per_second(self.kind as u32),
            with_unit(rounded(1.0 / self.constant, Unit::One, 3), &units.output)
        )
    }
}

impl Low {
    fn times(self, other: Low) -> Low {
        Low {
            kind: self.kind + other.kind,
            factor: self.factor * other.factor,
        }
    }

    /// Limit of s^power times this.
    fn limit(self, power: i32) -> Option<f64> {
        match self.kind.cmp(&power) {
            std::cmp::Ordering::Less => Some(0.0),
            std::cmp::Ordering::Equal => finite(self.factor),
            std::cmp::Ordering::Greater => None,
        }
    }
}

/// Error after a step at the plant's input: limit of −P/(1 + L).
fn disturbed(path: Low, plant: Low, whole: Low) -> Option<f64> {
    let end = match whole.kind {
        ..0 => plant.limit(0)?,
        0 if plant.kind == 0 => plant.factor / (1.0 + whole.factor),
        0 => plant.limit(0)?,
        // Towards rest P/L is one over the path.
        _ => Low {
            kind: -path.kind,
            factor: 1.0 / path.factor,
        }
        .limit(0)?,
    };
    finite(0.0 - end)
}

/// The loop's model, if the loop can be worked with.
fn checked<'a>(open: &OpenLoop<'a>) -> Result<&'a Model, String> {
    let Plant::Model(model) = open.plant else {
        return Err(
            "A sweep says nothing about DC; the loop's type needs a model of the plant.".to_owned(),
        );
    };
    super::check(open, model)?;
    Ok(model)
}

/// As [`ErrorConstants::step_end`].
pub(super) fn step_end(open: &OpenLoop, model: &Model) -> Option<f64> {
    end(path(open).times(plant(model)).limit(0))
}

fn end(kp: Option<f64>) -> Option<f64> {
    match kp {
        None => Some(1.0),
        Some(kp) => finite(kp / (1.0 + kp)),
    }
}

fn path(open: &OpenLoop) -> Low {
    let start = Low {
        kind: 0,
        factor: open.sign,
    };
    let stages = open.stages.iter().map(|stage| low(stage));
    stages.fold(start, Low::times)
}

fn low(transfer: &Transfer) -> Low {
    let lowest = |coefficients: &[f64]| {
        let found = coefficients.iter().enumerate().find(|(_, c)| **c != 0.0);
        found.map_or((0, 0.0), |(k, c)| (k as i32, *c))
    };
    let ((zeros, num), (poles, den)) = (lowest(&transfer.num), lowest(&transfer.den));
    Low {
        kind: poles - zeros,
        factor: num / den * transfer.omega.powi(poles - zeros),
    }
}

fn plant(model: &Model) -> Low {
    match model.rigid {
        Some(rigid) if rigid.at_rest() > 0 && rigid.gain != 0.0 => Low {
            kind: rigid.at_rest() as i32,
            factor: rigid.factor_at_rest(),
        },
        Some(rigid) if rigid.at_rest() > 0 => Low {
            kind: 0,
            factor: Model {
                rigid: None,
                ..model.clone()
            }
            .rational(Complex64::ZERO)
            .re,
        },
        _ => Low {
            kind: 0,
            factor: model.rational(Complex64::ZERO).re,
        },
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Rigid;

    #[test]
    fn a_double_integrator_behind_a_gain() {
        let model = Model {
            rigid: Some(Rigid::new(2, 8.0)),
            ..Model::default()
        };
        let gain = Transfer {
            num: vec![3.0],
            den: vec![2.0],
            omega: 5.0,
        };
        let open = OpenLoop {
            stages: vec![&gain],
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let found = ErrorConstants::of(&open).expect("a model");
        assert_eq!(
            (found.kind, found.kp, found.kv, found.ka),
            (2, None, None, Some(12.0))
        );
        assert_eq!(found.disturbance_error, Some(-2.0 / 3.0));
        assert_eq!(
            found.sentences(&PlantUnits::default())[0],
            "As built the loop is of type 2."
        );
    }

    #[test]
    fn a_band_is_told_by_its_slope() {
        let found = ErrorConstants {
            kind: 0,
            kp: Some(1e4),
            kv: Some(0.0),
            ka: Some(0.0),
            step_error: None,
            ramp_error: None,
            parabola_error: None,
            disturbance_error: None,
            bands: vec![TypeBand {
                low: Some(0.05),
                high: 12.0,
                kind: 2,
                constant: 4.0,
            }],
        };
        assert_eq!(
            found.sentences(&PlantUnits::default())[1],
            "Between 50 mHz and 12 Hz L falls with 40 dB a decade: commands in this band are followed as by a type 2 \
             loop."
        );
        let nearly_one = ErrorConstants {
            kp: Some(0.999),
            ..found.clone()
        };
        assert_eq!(
            nearly_one.sentences(&PlantUnits::default())[0],
            "As built the loop is of type 0 with a gain of 0 dB at DC."
        );
        let units = PlantUnits {
            output: "mrad".to_owned(),
            ..PlantUnits::default()
        };
        // ½·t² leaves 1/Ka.
        assert!(
            found.sentences(&units)[1]
                .ends_with("type 2 loop, and a parabola of 1 mrad/s² leaves 0.25 mrad.")
        );
    }
}
