//! The data of a fit while it runs: the points' weights, the outliers that are left out, and data reduction.

use std::f64::consts::TAU;

use super::crowd::Crowd;
use super::data::{Data, Scale};
use super::descent::Descent;
use super::noise::{self, Noise};
use super::outliers;
use crate::plant::Sweep;

/// Most updates of the weights from the residual.
const MOST_WEIGHINGS: usize = 3;

#[derive(Clone, Debug)]
pub(super) struct Points {
    pub sweep: Sweep,
    pub scale: Scale,
    pub data: Data,
    /// Which points of the sweep each point of `data` stands for.
    crowd: Crowd,
    /// Indices into `data`.
    set_aside: Vec<usize>,
    /// The weight of each point before outliers were left out.
    weights: Vec<f64>,
    /// The noise model, once estimated from a residual; and the number of updates of the weights.
    noise: Option<Noise>,
    weighings: usize,
}

impl Points {
    /// `data` are the sweep's from `from` (Hz) on, in this scale.
    pub fn new(sweep: &Sweep, from: f64, scale: Scale, data: Data) -> Points {
        let points = sweep.points.iter();
        let first = points.take_while(|p| p.frequency < from).count();
        Points {
            sweep: sweep.clone(),
            scale,
            crowd: Crowd::each(first),
            set_aside: Vec::new(),
            weights: data.weight.clone(),
            noise: None,
            weighings: 0,
            data,
        }
    }

    /// Where they begin and end, Hz.
    pub fn range(&self) -> (f64, f64) {
        let (low, high) = self.data.range();
        let hertz = |omega: f64| omega * self.scale.omega / TAU;
        (hertz(low), hertz(high))
    }

    /// Indices into the sweep of those that are set aside.
    pub fn aside(&self) -> Vec<usize> {
        self.crowd.members(&self.set_aside)
    }

    /// Leaves out outliers, where they are at most one in twenty of all points; returns whether it did.
    pub fn put_aside(&mut self, points: &[usize]) -> bool {
        let most = self.data.omega.len() / 20;
        let room = most.saturating_sub(self.set_aside.len());
        if points.is_empty() || points.len() > room {
            return false;
        }
        for &point in points {
            self.data.weight[point] = 0.0;
            self.set_aside.push(point);
        }
        true
    }

    /// Takes points back that were outliers of an intermediate model only.
    pub fn take_back(&mut self, best: &Descent) {
        let back = outliers::fit_after_all(&self.set_aside, &self.weights, best, &self.data);
        self.set_aside.retain(|point| !back.contains(point));
        for point in back {
            self.data.weight[point] = self.weights[point];
        }
    }

    /// Updates the weights from the residual's noise; returns whether they changed much.
    pub fn weigh_anew(&mut self, best: &Descent) -> bool {
        if self.weighings == MOST_WEIGHINGS {
            return false;
        }
        self.weighings += 1;
        let sizes = self.data.sizes();
        let now: Vec<f64> = self
            .weights
            .iter()
            .zip(&self.data.trust)
            .map(|(w, t)| t.sqrt() / w)
            .collect();
        self.noise = Noise::of_residual(&self.data, &sizes, &best.residual);
        let new = self
            .noise
            .map_or_else(|| sizes.clone(), |noise| noise.sizes(&self.data, &sizes));
        if noise::alike(&new, &now) {
            return false;
        }
        self.weigh(&new);
        true
    }

    fn weigh(&mut self, sizes: &[f64]) {
        self.data.weigh(sizes);
        self.weights = self.data.weight.clone();
        for &point in &self.set_aside {
            self.data.weight[point] = 0.0;
        }
    }

    /// Weights new points by the known noise.
    fn weigh_as_known(&mut self) {
        let sizes = self.data.sizes();
        let noise = self.noise.or_else(|| Noise::of_points(&self.data, &sizes));
        let sizes = noise.map_or_else(|| sizes.clone(), |noise| noise.sizes(&self.data, &sizes));
        self.weigh(&sizes);
    }

    /// Brings many points to few that say the same round a model: what comes next then costs the same for any number
    /// of rows.
    pub fn condense(&mut self, best: &Descent) {
        let model = self.scale.outward(&best.model);
        let few = self
            .crowd
            .condensed(&self.sweep, &model, self.scale, &self.data);
        if let Some((crowd, data)) = few {
            (self.crowd, self.data) = (crowd, data);
            self.weigh_as_known();
        }
    }

    /// All points again, but those set aside; where these are very many, few that say the same round the model that
    /// came out.
    pub fn spread_out(&mut self, best: &Descent) {
        if self.crowd.is_each() {
            return;
        }
        let aside = self.aside();
        let model = self.scale.outward(&best.model);
        let (crowd, data) = self.crowd.spread_out(&self.sweep, &model, self.scale);
        self.set_aside = crowd.places(&aside);
        (self.crowd, self.data) = (crowd, data);
        self.weigh_as_known();
    }
}
