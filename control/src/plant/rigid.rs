//! What a plant does without its modes.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use crate::response::Transfer;

/// `gain/sⁿ`, or `gain/(sⁿ⁻¹·(s + ω_f))` where friction holds one of the n integrators at low frequencies.
///
/// A body of inertia J with viscous friction b answers a torque by 1/(J·s·(s + b/J)): `integrators` 2, `gain`
/// 1/J, `friction` b/(2π·J). Its speed has one integrator less (Ogata, "Modern Control Engineering", 3.3; from
/// memory).
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rigid {
    /// Above the friction's corner: 0 (a constant), 1 or 2.
    pub integrators: u32,
    /// In output per input times (rad/s)^integrators.
    pub gain: f64,
    /// Corner of viscous friction, Hz, above 0; below it there is one integrator less. None where there is no
    /// friction, and always where there is no integrator.
    #[serde(default)]
    pub friction: Option<f64>,
}

impl Rigid {
    /// Without friction.
    pub const fn new(integrators: u32, gain: f64) -> Rigid {
        Rigid {
            integrators,
            gain,
            friction: None,
        }
    }

    /// Corner of friction, rad/s; none where there is nothing that it could hold.
    fn corner(&self) -> Option<f64> {
        let corner = self.friction.filter(|_| self.integrators > 0);
        corner.map(|hertz| TAU * hertz)
    }

    /// How many integrators are left towards s → 0.
    pub fn at_rest(&self) -> u32 {
        self.integrators - u32::from(self.corner().is_some())
    }

    /// The factor c of `c/sᵏ`, which the rigid part is towards s → 0; k is [`Rigid::at_rest`].
    pub fn factor_at_rest(&self) -> f64 {
        self.gain / self.corner().unwrap_or(1.0)
    }

    /// Its answer for a gain of 1, s in rad/s and no pole.
    pub fn shape(&self, s: Complex64) -> Complex64 {
        let open = s.powu(self.at_rest());
        match self.corner() {
            Some(corner) => 1.0 / (open * (s + corner)),
            None => 1.0 / open,
        }
    }

    /// Its answer, s in rad/s and no pole.
    pub fn of(&self, s: Complex64) -> Complex64 {
        self.gain * self.shape(s)
    }

    /// The slope of its answer over s.
    pub fn slope(&self, s: Complex64) -> Complex64 {
        let open = match self.at_rest() {
            0 => Complex64::ZERO,
            count => f64::from(count) / s,
        };
        let held = self
            .corner()
            .map_or(Complex64::ZERO, |corner| 1.0 / (s + corner));
        -self.of(s) * (open + held)
    }

    /// Poles, rad/s; those of integrators are exactly zero.
    pub fn poles(&self) -> impl Iterator<Item = Complex64> + use<> {
        let held = self.corner().map(|corner| Complex64::from(-corner));
        let open = std::iter::repeat_n(Complex64::ZERO, self.at_rest() as usize);
        held.into_iter().chain(open)
    }

    /// As a rational function, scaled so that its numbers are of a size.
    pub fn transfer(&self) -> Transfer {
        let own = self
            .gain
            .abs()
            .powf(1.0 / f64::from(self.integrators.max(1)));
        let omega = if self.integrators == 0 || !own.is_normal() {
            1.0
        } else {
            own
        };
        let mut den = vec![0.0; self.at_rest() as usize];
        if let Some(corner) = self.corner() {
            den.push(corner / omega);
        }
        den.push(1.0);
        Transfer {
            num: vec![self.gain / omega.powi(self.integrators as i32)],
            den,
            omega,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn friction_holds_one_integrator_below_its_corner() {
        let body = Rigid {
            friction: Some(15.0),
            ..Rigid::new(2, 8.0)
        };
        let omega = TAU * 15.0;
        let at = |w: f64| body.of(Complex64::new(0.0, w));
        // At the corner: 1/√2 of the free body, and 45° less lag.
        let free = Rigid::new(2, 8.0).of(Complex64::new(0.0, omega));
        assert!(((at(omega) / free) - Complex64::new(0.5, 0.5)).norm() < 1e-12);
        assert_eq!((body.at_rest(), body.factor_at_rest()), (1, 8.0 / omega));
        assert!((body.transfer().at(3.0) / at(TAU * 3.0) - 1.0).norm() < 1e-12);
        let (s, step) = (Complex64::new(-3.0, 40.0), 1e-4);
        let slope = (body.of(s + step) - body.of(s - step)) / (2.0 * step);
        assert!((body.slope(s) / slope - 1.0).norm() < 1e-8);
    }

    #[test]
    fn a_constant_has_no_friction() {
        let stiff = Rigid {
            friction: Some(15.0),
            ..Rigid::new(0, 8.0)
        };
        assert_eq!(stiff.of(Complex64::new(0.0, 1.0)), Complex64::from(8.0));
        assert_eq!(stiff.poles().count(), 0);
    }
}
