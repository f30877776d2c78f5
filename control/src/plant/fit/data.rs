//! A sweep made ready: in units of its own, weighted.

use std::f64::consts::TAU;

use num_complex::Complex64;

use crate::plant::{Mode, Model, Point, Rigid};

/// Share of its neighbours' magnitude below which a point weighs no more than at that share: a lone
/// drop-out would otherwise weigh more than all the rest.
const FLOOR: f64 = 0.2;
/// The units in which a sweep is near 1, whatever it measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    /// rad/s
    pub omega: f64,
    /// Output over input.
    pub size: f64,
}

/// Points to be fitted.
#[derive(Clone, Debug)]
pub(super) struct Data {
    /// Angular frequency in units of the scale.
    pub omega: Vec<f64>,
    /// In units of the scale.
    pub response: Vec<Complex64>,
    /// One over the size that counts at this point, times the root of the point's own weight; 0 for a point set
    /// aside.
    pub weight: Vec<f64>,
    /// The points' own weights.
    pub trust: Vec<f64>,
}

impl Scale {
    /// A model in these units; its frequencies are then in rad/s over 2π times the scale's.
    pub fn inward(self, model: &Model) -> Model {
        self.times(model, 1.0 / self.omega, 1.0 / self.size)
    }

    /// The same back in SI.
    pub fn outward(self, model: &Model) -> Model {
        self.times(model, self.omega, self.size)
    }

    fn times(self, model: &Model, omega: f64, size: f64) -> Model {
        let power = |n: u32| omega.powi(n.min(99) as i32);
        Model {
            rigid: model.rigid.map(|r| Rigid {
                gain: r.gain * power(r.integrators) * size,
                friction: r.friction.map(|corner| corner * omega),
                ..r
            }),
            modes: model
                .modes
                .iter()
                .map(|m| Mode {
                    frequency: m.frequency * omega,
                    damping: m.damping,
                    residue: m.residue * power(2) * size,
                    slope: m.slope * omega * size,
                })
                .collect(),
            lag: model.lag.map(|lag| lag * omega),
            delay: model.delay / omega,
        }
    }
}

/// The sizes that residuals are counted in: the magnitude itself, and not less than a share of its
/// neighbours' median. 0 only where the whole neighbourhood is 0.
pub(super) fn sizes(magnitudes: &[f64]) -> Vec<f64> {
    let size = |i: usize| {
        let mut near = magnitudes[i.saturating_sub(2)..magnitudes.len().min(i + 3)].to_vec();
        near.sort_by(f64::total_cmp);
        magnitudes[i].max(FLOOR * near[near.len() / 2])
    };
    (0..magnitudes.len()).map(size).collect()
}

impl Data {
    /// Points in units of a scale, weighted by their magnitudes' [`sizes`].
    pub fn of(points: &[Point], scale: Scale) -> Data {
        let count = points.len();
        let mut data = Data {
            omega: points
                .iter()
                .map(|p| TAU * p.frequency / scale.omega)
                .collect(),
            response: points.iter().map(|p| p.response / scale.size).collect(),
            weight: vec![0.0; count],
            trust: points.iter().map(|p| p.weight).collect(),
        };
        data.weigh(&data.sizes());
        data
    }

    /// What relative residuals are counted in.
    pub fn sizes(&self) -> Vec<f64> {
        let magnitudes: Vec<f64> = self.response.iter().map(|p| p.norm()).collect();
        sizes(&magnitudes)
    }

    /// Weighs the points by sizes.
    pub fn weigh(&mut self, sizes: &[f64]) {
        let weight = |(trust, size): (&f64, &f64)| {
            if *size > 1e-9 {
                trust.sqrt() / size
            } else {
                0.0
            }
        };
        self.weight = self.trust.iter().zip(sizes).map(weight).collect();
    }

    /// Points that count.
    pub fn count(&self) -> usize {
        self.weight.iter().filter(|w| **w > 0.0).count()
    }

    /// Rows of a real column: two for each point.
    pub fn rows(&self) -> usize {
        2 * self.omega.len()
    }

    /// Lowest and highest angular frequency.
    pub fn range(&self) -> (f64, f64) {
        let first = self.omega.first().copied().unwrap_or(1.0);
        (first, self.omega.last().copied().unwrap_or(first))
    }

    /// At most `most` of the points, closer together where the response changes fast: what a search
    /// for starting values needs.
    pub fn thinned(&self, most: usize) -> Data {
        let count = self.omega.len();
        if count <= most {
            return self.clone();
        }
        let change = |i: usize| {
            let ratio = (self.response[i] - self.response[i - 1]).norm() * self.weight[i];
            (ratio.min(1.0) - CALM).max(0.0)
        };
        let changes: Vec<f64> = (1..count).map(change).collect();
        let sum = changes.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        let (mut way, mut next) = (0.0, 0.0);
        let mut kept = vec![0];
        for (i, change) in changes.into_iter().enumerate() {
            way += 0.5 / (count - 1) as f64 + 0.5 * change / sum;
            if way >= next {
                kept.push(i + 1);
                next = way + 1.0 / most as f64;
            }
        }
        Data {
            omega: kept.iter().map(|&i| self.omega[i]).collect(),
            response: kept.iter().map(|&i| self.response[i]).collect(),
            weight: kept.iter().map(|&i| self.weight[i]).collect(),
            trust: kept.iter().map(|&i| self.trust[i]).collect(),
        }
    }
}

/// A relative change from point to point that needs no denser points.
const CALM: f64 = 0.03;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_lead_there_and_back() {
        let model = Model {
            modes: vec![Mode {
                frequency: 200.0,
                damping: 0.01,
                residue: 3.0,
                slope: 0.2,
            }],
            rigid: Some(Rigid::new(2, 7.0)),
            lag: Some(500.0),
            delay: 1e-3,
        };
        let scale = Scale {
            omega: 400.0,
            size: 1e-6,
        };
        let inside = scale.inward(&model);
        let there = inside.at(100.0 / scale.omega) * scale.size;
        assert!((there / model.at(100.0) - 1.0).norm() < 1e-12);
        let back = scale.outward(&inside);
        assert!((back.modes[0].slope - 0.2).abs() < 1e-12 && (back.delay - 1e-3).abs() < 1e-15);
    }

    #[test]
    fn a_drop_out_weighs_little() {
        assert_eq!(sizes(&[1.0, 1.0, 0.0, 1.0, 1.0]), [1.0, 1.0, 0.2, 1.0, 1.0]);
    }
}
