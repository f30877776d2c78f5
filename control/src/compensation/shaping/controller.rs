//! The controllers, as numbers and as transfer functions.

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use super::{ControllerForm, INTEGRATOR_REST};
use crate::compensation::for_ask;
use crate::response::Transfer;
use crate::stages::{Ask, IntegratorAsk, PdAsk, PiAsk, PidAsk, PidValues, PoleZeroAsk, TypeTwoAsk};

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
    /// An integrator of this gain at a frequency in Hz, and `INTEGRATOR_REST` times as much at rest.
    Integral { gain: f64, at: f64 },
    /// `K·(1 + ωi/s)/(1 + s/ωr)` of this gain at a frequency in Hz; corners in Hz, without the last factor
    /// where there is no roll-off.
    Pi {
        gain: f64,
        at: f64,
        zero: f64,
        roll_off: Option<f64>,
    },
    /// `gain·(1 + s/ωz)/(1 + s/ωp)`, corners in Hz.
    Pd { gain: f64, zero: f64, pole: f64 },
}

impl Controller {
    /// The controller of this form which makes `phase` (degrees, within the form's reach) and `gain` (a ratio)
    /// at the crossover (Hz).
    pub(in crate::compensation) fn of(
        form: ControllerForm,
        crossover: f64,
        phase: f64,
        gain: f64,
    ) -> Controller {
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
            ControllerForm::Integral => Controller::Integral {
                gain,
                at: crossover,
            },
            ControllerForm::Pi => Controller::Pi {
                gain,
                at: crossover,
                zero: crossover * (-phase).tan(),
                roll_off: None,
            },
            ControllerForm::PiRollOff { roll_off } => Controller::Pi {
                gain,
                at: crossover,
                zero: crossover * (-phase - (1.0 / roll_off).atan()).tan(),
                roll_off: Some(crossover * roll_off),
            },
            ControllerForm::Pd { roll_off } => {
                let ratio = (phase + (1.0 / roll_off).atan()).tan();
                Controller::Pd {
                    gain: gain * roll_off.recip().hypot(1.0) / ratio.hypot(1.0),
                    zero: crossover / ratio,
                    pole: crossover * roll_off,
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
            Controller::Integral { gain, at } => Controller::Integral {
                gain: for_ask(gain),
                at,
            },
            Controller::Pi {
                gain,
                at,
                zero,
                roll_off,
            } => Controller::Pi {
                gain: for_ask(gain),
                at,
                zero: for_ask(zero),
                roll_off: roll_off.map(for_ask),
            },
            Controller::Pd { gain, zero, pole } => Controller::Pd {
                gain: for_ask(gain),
                zero: for_ask(zero),
                pole: for_ask(pole),
            },
        }
    }

    /// The controller as a transfer function.
    pub fn transfer(&self) -> Transfer {
        match *self {
            Controller::Pid { values, roll_off } => pid(values, roll_off),
            Controller::Lead {
                gain,
                zero,
                pole,
                integrator,
            } => {
                let lead = lead(gain, zero, pole);
                match integrator {
                    None => lead,
                    Some(corner) => behind_integrator(lead, corner),
                }
            }
            Controller::Integral { gain, at } => Transfer {
                num: vec![gain * INTEGRATOR_REST],
                den: vec![1.0, (INTEGRATOR_REST.powi(2) - 1.0).sqrt()],
                omega: TAU * at,
            },
            Controller::Pi {
                gain,
                at,
                zero,
                roll_off,
            } => {
                let (corner, roll) = (zero / at, roll_off.map_or(0.0, |r| at / r));
                let level = gain * roll.hypot(1.0) / corner.hypot(1.0);
                let mut den = vec![0.0, 1.0];
                den.extend((roll > 0.0).then_some(roll));
                Transfer {
                    num: vec![level * corner, level],
                    den,
                    omega: TAU * at,
                }
            }
            Controller::Pd { gain, zero, pole } => lead(gain, zero, pole),
        }
    }

    /// The controller as one stage's ask, with the usual limits; none for a lead with its integrator, which takes
    /// two, and for an integrator that would have no gain at rest.
    pub fn ask(&self) -> Option<Ask> {
        match *self {
            Controller::Pid { .. } => self.pid_ask().map(Ask::Pid),
            Controller::Lead {
                integrator: Some(_),
                ..
            } => None,
            Controller::Lead {
                gain,
                zero,
                pole,
                integrator: None,
            } => Some(Ask::Lead(PoleZeroAsk {
                gain,
                zero,
                pole,
                ..PoleZeroAsk::default()
            })),
            Controller::Integral { gain, at } => integrator(gain, at).map(Ask::Integrator),
            Controller::Pi {
                gain,
                at,
                zero,
                roll_off: None,
            } => Some(Ask::Pi(PiAsk {
                gain: for_ask(gain / (zero / at).hypot(1.0)),
                zero,
                ..PiAsk::default()
            })),
            Controller::Pi {
                gain,
                at,
                zero,
                roll_off: Some(pole),
            } => Some(Ask::TypeTwo(TypeTwoAsk {
                gain,
                at,
                zero,
                pole,
                ..TypeTwoAsk::default()
            })),
            Controller::Pd { gain, zero, pole } => Some(Ask::Pd(PdAsk {
                gain,
                td: for_ask((1.0 / zero - 1.0 / pole) / TAU),
                roll_off: pole,
                ..PdAsk::default()
            })),
        }
    }

    /// Where it stops rising, Hz.
    pub(super) fn top(&self) -> f64 {
        match *self {
            Controller::Pid { roll_off, .. } => roll_off,
            Controller::Lead { pole, .. } | Controller::Pd { pole, .. } => pole,
            Controller::Integral { at, .. } => at,
            Controller::Pi { at, roll_off, .. } => roll_off.unwrap_or(at),
        }
    }

    /// The PID as an ask, with the usual limits; none for any other.
    pub fn pid_ask(&self) -> Option<PidAsk> {
        match *self {
            Controller::Pid { values, roll_off } => Some(PidAsk {
                values,
                roll_off,
                ..PidAsk::default()
            }),
            _ => None,
        }
    }
}

/// An integrator of this gain at a frequency (Hz); none where it would have hardly any gain at rest.
fn integrator(gain: f64, at: f64) -> Option<IntegratorAsk> {
    let rest = gain * INTEGRATOR_REST;
    let pole = at / (INTEGRATOR_REST.powi(2) - 1.0).sqrt();
    (rest > 2.0).then(|| IntegratorAsk {
        unity: for_ask(pole * (rest * rest - 1.0).sqrt()),
        gain_db: for_ask(20.0 * rest.log10()),
        ..IntegratorAsk::default()
    })
}

/// gain·(1 + s/zero)/(1 + s/pole), corners in Hz.
fn lead(gain: f64, zero: f64, pole: f64) -> Transfer {
    let omega = TAU * (zero * pole).sqrt();
    let (z, p) = (omega / (TAU * zero), omega / (TAU * pole));
    Transfer {
        num: vec![gain, gain * z],
        den: vec![1.0, p],
        omega,
    }
}

/// A lead times (s + corner)/s, the corner in Hz.
fn behind_integrator(lead: Transfer, corner: f64) -> Transfer {
    let Transfer { num, den, omega } = lead;
    let i = TAU * corner / omega;
    Transfer {
        num: vec![num[0] * i, num[0] + num[1] * i, num[1]],
        den: vec![0.0, den[0], den[1]],
        omega,
    }
}

fn pid(values: PidValues, roll_off: f64) -> Transfer {
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
            let left = (1.0 + (at / low).powi(2)).sqrt() * (1.0 + (at / high).powi(2)).sqrt();
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_makes_its_phase_and_gain() {
        let roll_off = 8.0;
        let forms = [
            (ControllerForm::PID, 40.0),
            (ControllerForm::LEAD, 40.0),
            (ControllerForm::Integral, -(0.01f64.acos().to_degrees())),
            (ControllerForm::Pi, -40.0),
            (ControllerForm::PiRollOff { roll_off }, -40.0),
            (ControllerForm::Pd { roll_off }, 40.0),
        ];
        for (form, phase) in forms {
            let reach = form.reach();
            assert!((reach.0..=reach.1).contains(&phase), "{form:?}");
            let there = Controller::of(form, 420.0, phase, 0.3).transfer().at(420.0);
            assert!((there.norm() - 0.3).abs() < 1e-12, "{form:?}");
            assert!((there.arg().to_degrees() - phase).abs() < 1e-9, "{form:?}");
        }
    }

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
