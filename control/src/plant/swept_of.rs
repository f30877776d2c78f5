//! The plant from a sweep that was taken with the loop closed round it, as it must be where the plant drifts away by
//! itself (the indirect method; Ljung, "System Identification", 13.5, from memory; the tests give the formulas by hand).

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::{Point, Sweep};
use crate::quantity::{Unit, rounded};
use crate::wording::hertz;

/// What a sweep is a response of, where it is not the plant's own; L is path times plant.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SweptOf {
    /// L.
    OpenLoop,
    /// L/(1 + L).
    ClosedLoop,
    /// 1/(1 + L).
    Sensitivity,
}

/// A plant that was worked out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WorkedOut {
    pub sweep: Sweep,
    /// Sentences on what it hangs on.
    pub notes: Vec<String>,
}

/// Errors that grow by more than this are told.
const TOLD: f64 = 10.0;

impl SweptOf {
    /// The plant; `path` is the response of the path that was in the loop, with the sign of the summing point, at a
    /// frequency in Hz.
    ///
    /// A relative error of the measured response X comes back as one of 1/(1 − X) times as much in L, of the closed loop as
    /// of the sensitivity, and weights fall by the square of that. Points at which there is no such plant are left out.
    pub fn plant(self, measured: &Sweep, path: impl Fn(f64) -> Complex64) -> WorkedOut {
        let mut found = WorkedOut::default();
        let (mut lost, mut worst) = (0, (0.0, 0.0));
        for point in &measured.points {
            let (open, error) = self.open(point.response);
            let plant = open / path(point.frequency);
            let weight = point.weight / (error * error);
            let is_there = plant.is_finite() && plant.norm() > 0.0;
            if !(is_there && weight.is_normal()) {
                lost += 1;
                continue;
            }
            if error > worst.0 {
                worst = (error, point.frequency);
            }
            found.sweep.points.push(Point {
                frequency: point.frequency,
                response: plant,
                weight,
            });
        }
        found.notes.push(format!(
            "The plant is worked out from {} with the path as it stands now; later changes of the path leave it.",
            self.name()
        ));
        if worst.0 > TOLD {
            found.notes.push(format!(
                "At {} an error of 1 % in {} is one of {} in the plant, and the point counts less by the square; {} tells \
                 more there.",
                hertz(worst.1),
                self.name(),
                rounded(0.01 * worst.0, Unit::Percent, 2),
                match self {
                    SweptOf::ClosedLoop => "the sensitivity",
                    _ => "the closed loop",
                }
            ));
        }
        if lost > 0 {
            found.notes.push(format!(
                "{lost} {} left out: no plant gives such a response.",
                if lost == 1 { "point is" } else { "points are" }
            ));
        }
        found
    }

    /// L, and how many times larger its relative error is than the measured one.
    fn open(self, measured: Complex64) -> (Complex64, f64) {
        let rest = 1.0 - measured;
        match self {
            SweptOf::OpenLoop => (measured, 1.0),
            SweptOf::ClosedLoop => (measured / rest, 1.0 / rest.norm()),
            SweptOf::Sensitivity => (rest / measured, 1.0 / rest.norm()),
        }
    }

    /// As a sentence goes on with it.
    pub fn name(self) -> &'static str {
        match self {
            SweptOf::OpenLoop => "the open loop",
            SweptOf::ClosedLoop => "the closed loop",
            SweptOf::Sensitivity => "the sensitivity",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KINDS: [SweptOf; 3] = [SweptOf::OpenLoop, SweptOf::ClosedLoop, SweptOf::Sensitivity];

    fn closed(of: SweptOf, open: Complex64) -> Complex64 {
        match of {
            SweptOf::OpenLoop => open,
            SweptOf::ClosedLoop => open / (1.0 + open),
            SweptOf::Sensitivity => 1.0 / (1.0 + open),
        }
    }

    /// A double integrator and a lead: it runs away without its loop.
    fn plant(frequency: f64) -> Complex64 {
        let s = Complex64::new(0.0, frequency);
        2500.0 / (s * s)
    }

    fn lead(frequency: f64) -> Complex64 {
        let s = Complex64::new(0.0, frequency);
        (1.0 + s / 20.0) / (1.0 + s / 200.0)
    }

    fn frequency(k: u32) -> f64 {
        10f64.powf(f64::from(k) / 50.0)
    }

    #[test]
    fn the_plant_comes_back() {
        for of in KINDS {
            let points = (0..150).map(frequency).map(|f| {
                let open = lead(f) * plant(f);
                Point::new(f, closed(of, open))
            });
            let measured = Sweep {
                points: points.collect(),
            };
            let found = of.plant(&measured, lead);
            assert_eq!(found.sweep.points.len(), 150);
            for point in &found.sweep.points {
                let known = plant(point.frequency);
                let off = (point.response / known - 1.0).norm();
                assert!(off < 1e-9, "{of:?} at {}: {off}", point.frequency);
            }
        }
    }

    /// Weights are in inverse proportion to the relative variance: boards of noise say so.
    #[test]
    fn weights_are_as_errors_scatter() {
        for of in KINDS {
            for f in [2.0, 30.0, 60.0, 300.0] {
                let exact = closed(of, lead(f) * plant(f));
                let (mut square, count, noise) = (0.0, 2000, 1e-6);
                let mut weight = 0.0;
                for k in 0..count {
                    // Errors all round the circle.
                    let error =
                        Complex64::cis(std::f64::consts::TAU * f64::from(k) / f64::from(count));
                    let measured = Sweep {
                        points: vec![Point::new(f, exact * (1.0 + noise * error))],
                    };
                    let point = of.plant(&measured, lead).sweep.points[0];
                    square += (point.response / plant(f) - 1.0).norm_sqr() / f64::from(count);
                    weight += point.weight / f64::from(count);
                }
                let known = noise * noise / square;
                assert!(
                    (weight / known - 1.0).abs() < 0.01,
                    "{of:?} at {f}: {weight} {known}"
                );
            }
        }
    }

    #[test]
    fn what_has_no_plant_is_left_out_and_what_is_faint_is_told() {
        let points = vec![
            Point::new(1.0, Complex64::new(0.999, 0.0)),
            Point::new(2.0, Complex64::ONE),
            Point::new(3.0, Complex64::ZERO),
            Point::new(4.0, Complex64::new(0.5, -0.5)),
        ];
        let found = SweptOf::ClosedLoop.plant(&Sweep { points }, |_| Complex64::ONE);
        assert_eq!(found.sweep.points.len(), 2);
        let notes = found.notes.join(" ");
        assert!(notes.contains("2 points are left out"), "{notes}");
        assert!(
            notes.contains("At 1 Hz an error of 1 % in the closed loop is one of 1000 %"),
            "{notes}"
        );
    }
}
