//! The model's parameters, and the Jacobian of its response.

use num_complex::Complex64;

use super::columns::Columns;
use super::data::Data;
use super::settings::Free;
use crate::plant::{Model, Rigid};
use std::f64::consts::TAU;

/// Damping ratios that a fit stays within.
pub(super) const DAMPING: (f64, f64) = (1e-5, 10.0);

/// An unknown that enters linearly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Linear {
    Gain,
    Residue(usize),
    Slope(usize),
}

/// An unknown that does not; all but the delay move by their logarithms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Curved {
    Frequency(usize),
    Damping(usize),
    Friction,
    Lag,
    Delay,
}

/// How far unknowns may go, in the data's units.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    /// Angular frequency of a mode.
    pub omega: (f64, f64),
    pub damping: (f64, f64),
    /// Of the suspension, where there is no rigid part.
    pub suspension: (f64, f64),
    /// Angular frequency of a friction's corner.
    pub friction: (f64, f64),
    /// Of a lag's corner.
    pub lag: (f64, f64),
    pub delay: (f64, f64),
}

impl Limits {
    /// A mode or a lag far outside the sweep cannot be told from none.
    pub fn of(data: &Data) -> Limits {
        let (low, high) = data.range();
        Limits {
            omega: (low / 10.0, high * 3.0),
            damping: (DAMPING.0, 1.5),
            suspension: DAMPING,
            friction: (low / 300.0, high / 2.0),
            lag: (low / 10.0, high * 30.0),
            delay: (0.0, 1000.0 * TAU / high),
        }
    }

    /// Where modes are looked for: what is damped more is no mode, and would take the place of friction or of a lag.
    /// Only a suspension may be damped as it likes.
    pub fn narrow(data: &Data) -> Limits {
        Limits {
            damping: (DAMPING.0, 0.7),
            ..Limits::of(data)
        }
    }
}

pub(super) fn linear(model: &Model, free: &Free) -> Vec<Linear> {
    let gain = (free.gain && model.rigid.is_some()).then_some(Linear::Gain);
    let modes = free.modes.iter().enumerate().flat_map(|(k, mode)| {
        [
            mode.residue.then_some(Linear::Residue(k)),
            mode.slope.then_some(Linear::Slope(k)),
        ]
    });
    gain.into_iter().chain(modes.flatten()).collect()
}

pub(super) fn curved(model: &Model, free: &Free) -> Vec<Curved> {
    let modes = free.modes.iter().enumerate().flat_map(|(k, mode)| {
        [
            mode.frequency.then_some(Curved::Frequency(k)),
            mode.damping.then_some(Curved::Damping(k)),
        ]
    });
    let is_held = model.rigid.is_some_and(|r| r.friction.is_some());
    let friction = (free.friction && is_held).then_some(Curved::Friction);
    let lag = (free.lag && model.lag.is_some()).then_some(Curved::Lag);
    let delay = free.delay.then_some(Curved::Delay);
    modes
        .flatten()
        .chain(friction)
        .chain(lag)
        .chain(delay)
        .collect()
}

impl Linear {
    pub fn of(self, model: &mut Model) -> Option<&mut f64> {
        match self {
            Linear::Gain => model.rigid.as_mut().map(|r| &mut r.gain),
            Linear::Residue(k) => model.modes.get_mut(k).map(|m| &mut m.residue),
            Linear::Slope(k) => model.modes.get_mut(k).map(|m| &mut m.slope),
        }
    }
}

impl Curved {
    pub fn of(self, model: &mut Model) -> Option<&mut f64> {
        match self {
            Curved::Frequency(k) => model.modes.get_mut(k).map(|m| &mut m.frequency),
            Curved::Damping(k) => model.modes.get_mut(k).map(|m| &mut m.damping),
            Curved::Friction => model.rigid.as_mut().and_then(|r| r.friction.as_mut()),
            Curved::Lag => model.lag.as_mut(),
            Curved::Delay => Some(&mut model.delay),
        }
    }

    fn within(self, model: &Model, limits: &Limits) -> (f64, f64) {
        match self {
            Curved::Frequency(_) => (limits.omega.0 / TAU, limits.omega.1 / TAU),
            Curved::Damping(k) if model.suspension() == Some(k) => limits.suspension,
            Curved::Damping(_) => limits.damping,
            Curved::Friction => (limits.friction.0 / TAU, limits.friction.1 / TAU),
            Curved::Lag => (limits.lag.0 / TAU, limits.lag.1 / TAU),
            Curved::Delay => limits.delay,
        }
    }

    /// Moves by `step`: of the logarithm, or of the delay itself. Stays within the limits.
    pub fn go(self, model: &mut Model, step: f64, limits: &Limits) {
        let (low, high) = self.within(model, limits);
        if let Some(value) = self.of(model) {
            let moved = match self {
                Curved::Delay => *value + step,
                _ => *value * step.exp(),
            };
            if moved.is_finite() {
                // What was given outside the limits may come back and not go on.
                *value = moved.clamp(low.min(*value), high.max(*value));
            }
        }
    }

    /// Whether it stands at a limit and `direction` leads out.
    pub fn leads_out(self, model: &mut Model, direction: f64, limits: &Limits) -> bool {
        let (low, high) = self.within(model, limits);
        let value = self.of(model).copied().unwrap_or(0.0);
        (value <= low && direction < 0.0) || (value >= high && direction > 0.0)
    }

    /// Largest step that is trusted at once.
    pub fn stride(self, limits: &Limits) -> f64 {
        match self {
            Curved::Frequency(_) => 0.3,
            Curved::Damping(_) => 1.5,
            Curved::Friction | Curved::Lag => 1.0,
            Curved::Delay => limits.delay.1 / 4000.0,
        }
    }
}

/// What all shares of the answer are multiplied by at each point: weight, delay, lag.
pub(super) fn common(model: &Model, data: &Data) -> Vec<Complex64> {
    let at = |(&omega, &weight): (&f64, &f64)| {
        let turned = Complex64::cis(-omega * model.delay) * weight;
        match model.lag {
            Some(corner) => turned / Complex64::new(1.0, omega / (TAU * corner)),
            None => turned,
        }
    };
    data.omega.iter().zip(&data.weight).map(at).collect()
}

/// The rigid part's answer for a gain of 1; nothing without a rigid part.
pub(super) fn rigid(omega: f64, rigid: Option<Rigid>) -> Complex64 {
    rigid.map_or(Complex64::ZERO, |r| r.shape(Complex64::new(0.0, omega)))
}

/// `1/(s² + 2ζω₀s + ω₀²)` at s = jω.
pub(super) fn resonance(omega: f64, natural: f64, damping: f64) -> Complex64 {
    let q = Complex64::new(
        natural * natural - omega * omega,
        2.0 * damping * natural * omega,
    );
    // Exactly on an undamped pole: damping is above 0, so that only underflow could lead here.
    if q == Complex64::ZERO { q } else { q.inv() }
}

/// The weighted columns of the unknowns that enter linearly.
pub(super) fn linear_columns(
    model: &Model,
    terms: &[Linear],
    common: &[Complex64],
    data: &Data,
    columns: &mut Columns,
) {
    let points = || data.omega.iter().copied().zip(common.iter().copied());
    for term in terms {
        match *term {
            Linear::Gain => {
                columns.push_complex(points().map(|(omega, d)| d * rigid(omega, model.rigid)));
            }
            Linear::Residue(k) => {
                let (natural, damping) = place(model, k);
                columns.push_complex(
                    points().map(|(omega, d)| d * resonance(omega, natural, damping)),
                );
            }
            Linear::Slope(k) => {
                let (natural, damping) = place(model, k);
                columns.push_complex(points().map(|(omega, d)| {
                    d * resonance(omega, natural, damping) * Complex64::new(0.0, omega)
                }));
            }
        }
    }
}

fn place(model: &Model, k: usize) -> (f64, f64) {
    (TAU * model.modes[k].frequency, model.modes[k].damping)
}

/// The weighted answer's derivatives by the unknowns that do not enter linearly; `answer` is the weighted
/// answer itself.
pub(super) fn curved_columns(
    model: &Model,
    terms: &[Curved],
    common: &[Complex64],
    answer: &[Complex64],
    data: &Data,
    columns: &mut Columns,
) {
    let share = |k: usize, omega: f64, d: Complex64| {
        let (natural, damping) = place(model, k);
        let q = resonance(omega, natural, damping);
        d * Complex64::new(model.modes[k].residue, model.modes[k].slope * omega) * q * q
    };
    let points = || data.omega.iter().copied().zip(common.iter().copied());
    let answers = || data.omega.iter().copied().zip(answer.iter().copied());
    for term in terms {
        match *term {
            Curved::Frequency(k) => {
                let (natural, damping) = place(model, k);
                columns.push_complex(points().map(|(omega, d)| {
                    -share(k, omega, d)
                        * Complex64::new(2.0 * natural * natural, 2.0 * damping * natural * omega)
                }));
            }
            Curved::Damping(k) => {
                let (natural, damping) = place(model, k);
                columns.push_complex(points().map(|(omega, d)| {
                    -share(k, omega, d) * Complex64::new(0.0, 2.0 * damping * natural * omega)
                }));
            }
            Curved::Friction => {
                let held = model.rigid.and_then(|r| Some((r, TAU * r.friction?)));
                let Some((own, corner)) = held else { continue };
                columns.push_complex(points().map(|(omega, d)| {
                    let s = Complex64::new(0.0, omega);
                    -d * own.of(s) * corner / (s + corner)
                }));
            }
            Curved::Lag => {
                let corner = TAU * model.lag.unwrap_or(1.0);
                columns.push_complex(answers().map(|(omega, a)| {
                    let s = Complex64::new(0.0, omega / corner);
                    a * s / (1.0 + s)
                }));
            }
            Curved::Delay => {
                columns.push_complex(answers().map(|(omega, a)| a * Complex64::new(0.0, -omega)));
            }
        }
    }
}

/// The weighted answer of a whole model.
pub(super) fn answer(model: &Model, common: &[Complex64], data: &Data) -> Vec<Complex64> {
    let at = |(&omega, &d): (&f64, &Complex64)| {
        let rigid = model
            .rigid
            .map_or(Complex64::ZERO, |r| r.of(Complex64::new(0.0, omega)));
        let modes = model.modes.iter().map(|m| {
            Complex64::new(m.residue, m.slope * omega)
                * resonance(omega, TAU * m.frequency, m.damping)
        });
        d * modes.fold(rigid, |sum, share| sum + share)
    };
    data.omega.iter().zip(common).map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Mode;

    #[test]
    fn derivatives_are_those_of_the_answer() {
        let model = Model {
            rigid: Some(Rigid {
                friction: Some(0.15),
                ..Rigid::new(2, 0.7)
            }),
            modes: vec![Mode {
                frequency: 0.2,
                damping: 0.05,
                residue: 0.9,
                slope: 0.3,
            }],
            lag: Some(0.6),
            delay: 0.4,
        };
        let data = Data {
            omega: vec![0.5, 1.2, 3.0],
            response: vec![Complex64::ONE; 3],
            weight: vec![1.0, 2.0, 0.5],
            trust: vec![1.0; 3],
        };
        let free = Free::usual(&model);
        let limits = Limits::of(&data);
        let whole = |model: &Model| answer(model, &common(model, &data), &data);
        let terms = curved(&model, &free);
        assert_eq!(terms.len(), 5);
        let mut columns = Columns::new(data.rows());
        let middle = whole(&model);
        curved_columns(
            &model,
            &terms,
            &common(&model, &data),
            &middle,
            &data,
            &mut columns,
        );
        for (j, term) in terms.iter().enumerate() {
            let (mut up, mut down) = (model.clone(), model.clone());
            term.go(&mut up, 1e-6, &limits);
            term.go(&mut down, -1e-6, &limits);
            for (i, (a, b)) in whole(&up).iter().zip(whole(&down)).enumerate() {
                let slope = (a - b) / 2e-6;
                let told = Complex64::new(columns.column(j)[2 * i], columns.column(j)[2 * i + 1]);
                assert!((slope - told).norm() < 1e-7, "{term:?}");
            }
        }
        assert!((middle[0] - model.at(0.5 / TAU)).norm() < 1e-12);
    }
}
