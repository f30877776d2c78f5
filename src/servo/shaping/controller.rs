//! The controllers, as numbers and as transfer functions.

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use super::ControllerForm;
use crate::response::Transfer;
use crate::servo::for_ask;
use crate::stages::{Ask, PiAsk, PidAsk, PidValues, PoleZeroAsk};

/// A controller whose gain is positive; what inverts in the loop is taken back at the summing point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Controller {
    /// Two real zeros, the gain at the crossover, and the roll-off in Hz.
    Pid { values: PidValues, roll_off: f64 },
    /// `gain·(1 + s/ωz)/(1 + s/ωp)`, corners in Hz; times (1 + ωi/s) where there is an integrator.
    Lead {
        /// At DC, without the integrator's.
        gain: f64,
        zero: f64,
        pole: f64,
        integrator: Option<f64>,
    },
}

impl Controller {
    /// The controller of this form which makes `phase` (degrees, within the form's reach) and `gain` (a ratio)
    /// at the crossover (Hz).
    pub(super) fn of(form: ControllerForm, crossover: f64, phase: f64, gain: f64) -> Controller {
        let phase = phase.to_radians();
        match form {
            ControllerForm::Pid {
                integrator,
                roll_off,
            } => {
                let lead = phase + integrator.atan() + (1.0 / roll_off).atan();
                let zeros = [crossover * integrator, crossover / lead.tan()];
                Controller::Pid {
                    values: PidValues::Zeros {
                        low: zeros[0].min(zeros[1]),
                        high: zeros[0].max(zeros[1]),
                        gain,
                        at: crossover,
                    },
                    roll_off: crossover * roll_off,
                }
            }
            ControllerForm::Lead { integrator } => {
                // Ogata, "Modern Control Engineering", 7.11: sin φ = (α − 1)/(α + 1), the crossover in the
                // geometric middle of zero and pole, where the gain is √α times that at DC.
                let sine = (phase + integrator.map_or(0.0, f64::atan)).sin();
                let root = ((1.0 + sine) / (1.0 - sine)).sqrt();
                let beside = integrator.map_or(1.0, |i| i.hypot(1.0));
                Controller::Lead {
                    gain: gain / (root * beside),
                    zero: crossover / root,
                    pole: crossover * root,
                    integrator: integrator.map(|i| i * crossover),
                }
            }
        }
    }

    /// The same in numbers for an ask.
    pub(super) fn for_ask(self) -> Controller {
        match self {
            Controller::Pid {
                values:
                    PidValues::Zeros {
                        low,
                        high,
                        gain,
                        at,
                    },
                roll_off,
            } => Controller::Pid {
                values: PidValues::Zeros {
                    low: for_ask(low),
                    high: for_ask(high),
                    gain: for_ask(gain),
                    at,
                },
                roll_off: for_ask(roll_off),
            },
            Controller::Pid { .. } => self,
            Controller::Lead {
                gain,
                zero,
                pole,
                integrator,
            } => Controller::Lead {
                gain: for_ask(gain),
                zero: for_ask(zero),
                pole: for_ask(pole),
                integrator: integrator.map(for_ask),
            },
        }
    }

    /// The controller as a transfer function.
    pub fn transfer(&self) -> Transfer {
        match *self {
            Controller::Pid { values, roll_off } => {
                let scale = TAU * roll_off;
                let (kp, ki, kd) = match values {
                    PidValues::Gains { kp, ki, kd } => (kp, ki, kd),
                    PidValues::Times { kp, ti, td } => (kp, kp / ti, kp * td),
                    PidValues::Zeros {
                        low,
                        high,
                        gain,
                        at,
                    } => {
                        let left =
                            (1.0 + (at / low).powi(2)).sqrt() * (1.0 + (at / high).powi(2)).sqrt();
                        // At `at` the gain is ki/ω·left over the roll-off's.
                        let ki = gain * TAU * at * (1.0 + (at / roll_off).powi(2)).sqrt() / left;
                        let (a, b) = (TAU * low, TAU * high);
                        return Transfer {
                            num: vec![ki / scale, ki * (1.0 / a + 1.0 / b), ki * scale / (a * b)],
                            den: vec![0.0, 1.0, 1.0],
                            omega: scale,
                        };
                    }
                };
                Transfer {
                    num: vec![ki / scale, kp + ki / scale, kp + kd * scale],
                    den: vec![0.0, 1.0, 1.0],
                    omega: scale,
                }
            }
            Controller::Lead {
                gain,
                zero,
                pole,
                integrator,
            } => {
                let omega = TAU * (zero * pole).sqrt();
                let (z, p) = (omega / (TAU * zero), omega / (TAU * pole));
                match integrator {
                    None => Transfer {
                        num: vec![gain, gain * z],
                        den: vec![1.0, p],
                        omega,
                    },
                    Some(corner) => {
                        let i = TAU * corner / omega;
                        Transfer {
                            num: vec![gain * i, gain * (1.0 + i * z), gain * z],
                            den: vec![0.0, 1.0, p],
                            omega,
                        }
                    }
                }
            }
        }
    }

    /// The controller as one stage's ask, with the usual limits; none for a lead with its integrator, which takes
    /// two.
    pub fn ask(&self) -> Option<Ask> {
        match self.lead_asks() {
            None => self.pid_ask().map(Ask::Pid),
            Some((lead, None)) => Some(Ask::Lead(lead)),
            Some((_, Some(_))) => None,
        }
    }

    /// Where it stops rising, Hz.
    pub(super) fn top(&self) -> f64 {
        match *self {
            Controller::Pid { roll_off, .. } => roll_off,
            Controller::Lead { pole, .. } => pole,
        }
    }

    /// The PID as an ask, with the usual limits; none for a lead.
    pub fn pid_ask(&self) -> Option<PidAsk> {
        match *self {
            Controller::Pid { values, roll_off } => Some(PidAsk {
                values,
                roll_off,
                ..PidAsk::default()
            }),
            Controller::Lead { .. } => None,
        }
    }

    /// The lead as an ask, with the usual limits, and the PI beside it, of gain 1; none for a PID.
    pub fn lead_asks(&self) -> Option<(PoleZeroAsk, Option<PiAsk>)> {
        match *self {
            Controller::Pid { .. } => None,
            Controller::Lead {
                gain,
                zero,
                pole,
                integrator,
            } => Some((
                PoleZeroAsk {
                    gain,
                    zero,
                    pole,
                    ..PoleZeroAsk::default()
                },
                integrator.map(|zero| PiAsk {
                    gain: 1.0,
                    zero,
                    ..PiAsk::default()
                }),
            )),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ask_and_the_transfer_function_are_one() {
        let controller = Controller::of(ControllerForm::PID, 420.0, 50.0, 0.3);
        let ask = controller.pid_ask().expect("a PID");
        let gains = ask.in_notation("gains").expect("gains");
        let by_gains = Controller::Pid {
            values: gains.values,
            roll_off: gains.roll_off,
        };
        for f in [1.0, 42.0, 420.0, 1e4] {
            let (a, b) = (controller.transfer().at(f), by_gains.transfer().at(f));
            assert!((a / b - 1.0).norm() < 1e-12, "{f}");
        }
        let there = controller.transfer().at(420.0);
        assert!(
            (there.norm() - 0.3).abs() < 1e-12 && (there.arg().to_degrees() - 50.0).abs() < 1e-9
        );
    }
}
