//! Which low end a model has, how sure that is, and what else it might be.

use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

use super::data::{Data, Scale};
use super::descent::Descent;
use super::judge::{Criterion, EXCLUDED};
use super::low_end::LowEnd;
use super::unseen::{Unseen, unseen};
use crate::numerics::put_in_order;
use crate::plant::Model;
use crate::quantity::{Unit, rounded};

/// A spring that holds only so far below the sweep's begin is told and leaves the low end decided.
const FAR_BELOW: f64 = 0.05;

/// The low end of a fitted model, beside its rivals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Decision {
    /// The model's own.
    pub low_end: LowEnd,
    /// Whether the user set it.
    pub is_set: bool,
    /// Whether the sweep tells how many integrators the plant has at rest.
    pub is_decided: bool,
    /// Whether the model follows the sweep at all. Where it does not, what it leaves is no noise, and low ends that were held
    /// against each other by it say nothing.
    pub is_followed: bool,
    /// Where the fitted part of the sweep begins, Hz.
    pub from: f64,
    /// The others, the nearest first.
    pub rivals: Vec<Rival>,
    /// What may hold the plant below the sweep.
    pub unseen: Vec<Unseen>,
}

/// Another low end, fitted to the same points.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rival {
    pub low_end: LowEnd,
    /// In SI.
    pub model: Model,
    /// Root mean square of what it leaves, as [`super::Fitted::rms`].
    pub rms: f64,
    /// By how much its Bayesian information criterion is above the model's; below 0 where the user set another
    /// one than the sweep speaks for.
    pub behind: f64,
    /// Whether that is so much that the sweep excludes it.
    pub is_excluded: bool,
}

/// What is said of the low end of `best`, one of the entrants, held against the others.
pub(super) fn decide(
    best: &Descent,
    entrants: &[Descent],
    is_set: bool,
    data: &Data,
    scale: Scale,
) -> Decision {
    let low_end = LowEnd::of(&best.model);
    let hertz = |omega: f64| omega * scale.omega / TAU;
    let count = data.count().max(1) as f64;
    let others = entrants.iter().filter(|d| LowEnd::of(&d.model) != low_end);
    let criterion = Criterion::of(entrants, data);
    let rival = |descent: &Descent| {
        let behind = criterion.score(descent) - criterion.score(best);
        Rival {
            low_end: LowEnd::of(&descent.model),
            model: scale.outward(&descent.model),
            rms: (descent.cost / count).sqrt(),
            behind,
            is_excluded: behind > EXCLUDED,
        }
    };
    let mut rivals: Vec<Rival> = others.map(rival).collect();
    put_in_order(&mut rivals, |a, b| a.behind.total_cmp(&b.behind));
    let (low, _) = data.range();
    let unseen = unseen(best, data);
    let far_below = |unseen: &Unseen| unseen.corner(&best.model) < FAR_BELOW * low / TAU;
    let at_rest = low_end.integrators_at_rest();
    let open = |rival: &Rival| {
        let bounded = unseen
            .iter()
            .any(|unseen| unseen.low_end == rival.low_end && far_below(unseen));
        !rival.is_excluded && rival.low_end.integrators_at_rest() != at_rest && !bounded
    };
    // Bearings and guides always have some friction: that there is none at all is beyond any sweep.
    let is_free = matches!(low_end, LowEnd::Inertia | LowEnd::Integrator);
    let is_decided = !is_free && unseen.iter().all(far_below) && !rivals.iter().any(open);
    let outward = |unseen: &Unseen| Unseen {
        up_to: unseen.up_to * scale.omega,
        ..*unseen
    };
    Decision {
        low_end,
        is_set,
        is_decided,
        is_followed: true,
        from: hertz(low),
        unseen: unseen.iter().map(outward).collect(),
        rivals,
    }
}

impl Decision {
    /// The same where the finished model follows the sweep or not.
    pub(super) fn if_followed(self, is_followed: bool) -> Decision {
        Decision {
            is_decided: self.is_decided && is_followed,
            is_followed,
            ..self
        }
    }

    /// Plants that the sweep leaves possible beside `model`, with another number of integrators at rest: what is not
    /// seen, as strong as it may be, and rivals that are not excluded.
    pub fn open(&self, model: &Model) -> Vec<(LowEnd, Model)> {
        // They follow the sweep as little.
        if !self.is_followed {
            return Vec::new();
        }
        let unseen = self.unseen.iter();
        let mut open: Vec<(LowEnd, Model)> = unseen
            .map(|unseen| (unseen.low_end, unseen.in_model(model)))
            .collect();
        for rival in self.rivals.iter().filter(|rival| !rival.is_excluded) {
            if open.iter().all(|(end, _)| *end != rival.low_end) {
                open.push((rival.low_end, rival.model.clone()));
            }
        }
        let at_rest = self.low_end.integrators_at_rest();
        open.retain(|(end, _)| end.integrators_at_rest() != at_rest);
        open
    }

    /// The low end in sentences.
    pub fn sentences(&self) -> Vec<String> {
        if !self.is_followed {
            return vec![
                "The sweep decides nothing of it, because the model does not follow the sweep."
                    .to_owned(),
            ];
        }
        let hertz = |f: f64| rounded(f, Unit::Hertz, 2);
        let mut said = Vec::new();
        for unseen in &self.unseen {
            let what = match unseen.low_end {
                LowEnd::Spring => "A spring with its resonance",
                _ => "Friction with its corner",
            };
            said.push(format!(
                "{what} below {} would not show in this sweep, which begins at {}.",
                hertz(unseen.up_to),
                hertz(self.from)
            ));
        }
        let bounded = |end: LowEnd| self.unseen.iter().any(|unseen| unseen.low_end == end);
        let open: Vec<&str> = self
            .rivals
            .iter()
            .filter(|rival| !rival.is_excluded && rival.behind >= 0.0 && !bounded(rival.low_end))
            .map(|rival| rival.low_end.name())
            .collect();
        if !open.is_empty() {
            let open = open.join(", ");
            said.push(match self.is_decided {
                // All of these have as many integrators.
                true => {
                    format!("The sweep fits about as well: {open}, with as many integrators at DC.")
                }
                false => format!(
                    "The sweep does not exclude: {open}. Measure lower frequencies to decide."
                ),
            });
        }
        if let Some(better) = self.rivals.first().filter(|rival| rival.behind < -EXCLUDED) {
            said.push(format!(
                "The sweep fits another low-frequency model better: {} leaves {} instead.",
                better.low_end.name(),
                rounded(better.rms, Unit::Percent, 2)
            ));
        }
        said
    }
}
