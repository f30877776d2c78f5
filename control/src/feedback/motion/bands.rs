//! The bands in which a loop follows as one of which type.
//!
//! As a real op amp's integrator stops integrating somewhere, a loop's type at DC and what it does with commands of
//! higher frequencies are two things. Where |L| falls by 20·n dB a decade, commands are followed as by a loop of
//! type n (the low-frequency asymptotes of Ogata, "Modern Control Engineering", 7.2, taken band by band).

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::laplace;
use crate::feedback::{OpenLoop, Traced};
use crate::plant::Model;

/// How far the slope may be from a whole number of 20 dB a decade; a single corner is a factor of 2 away then.
const NEAR: f64 = 0.2;
/// A band is at least so wide, as a ratio: its corners lie more than a decade apart.
const LENGTH: f64 = 3.0;

/// A band of frequencies below the crossover in which |L| falls evenly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TypeBand {
    /// Hz; none where it goes down to DC.
    pub low: Option<f64>,
    /// Hz.
    pub high: f64,
    /// The type there: the slope in −20 dB a decade.
    pub kind: i32,
    /// `|L|·ω^kind` in the middle of the band: the error constant that holds for commands there, in 1/s^kind.
    pub constant: f64,
}

/// The bands of the whole traced curve up to the crossover, in rising frequency; `kind` is the type at DC.
pub(super) fn bands(open: &OpenLoop, model: &Model, traced: &[Traced], kind: i32) -> Vec<TypeBand> {
    let Some(last) = traced.iter().rposition(|t| t.open.norm() > 1.0) else {
        return Vec::new();
    };
    let near = |frequency: f64| {
        let s = Complex64::new(0.0, TAU * frequency);
        let slope = -(s * laplace::at(open, model, s).1).re;
        let whole = slope.round();
        ((slope - whole).abs() <= NEAR).then_some(whole as i32)
    };
    let low = traced[0].frequency;
    let frequencies = traced[..=last].iter().map(|t| t.frequency);
    let kinds: Vec<_> = frequencies.map(|f| (f, near(f))).collect();
    let stretches = kinds.chunk_by(|a, b| a.1 == b.1);
    stretches
        .filter_map(|stretch| {
            let (first, last) = (stretch.first()?, stretch.last()?);
            let own = first.1?;
            let down = first.0 == low && own == kind;
            if !down && last.0 < LENGTH * first.0 {
                return None;
            }
            let middle = (first.0 * last.0).sqrt();
            Some(TypeBand {
                low: (!down).then_some(first.0),
                high: last.0,
                kind: own,
                constant: open.at(middle).norm() * (TAU * middle).powi(own),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feedback::trace_whole;
    use crate::plant::Plant;
    use crate::response::Transfer;

    #[test]
    fn a_leaking_integrator_follows_as_type_1() {
        let model = Model::default();
        let leaking = Transfer {
            num: vec![1e6],
            den: vec![1.0, 1e4],
            omega: TAU,
        };
        let open = OpenLoop {
            stages: vec![&leaking],
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let found = bands(&open, &model, &trace_whole(&open), 0);
        let [dc, above] = found[..] else {
            panic!("{found:?}")
        };
        assert_eq!((dc.kind, dc.low, above.kind), (0, None, 1));
        let low = above.low.expect("above DC");
        assert!(low > 1e-4 && low < 3e-4 && above.high > 80.0, "{above:?}");
        assert!((above.constant / (TAU * 100.0) - 1.0).abs() < 1e-3);
    }
}
