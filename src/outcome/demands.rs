//! What the path demands of its op amps.

use serde::{Deserialize, Serialize};

use crate::demands::{Demand, Peak, Quantity};
use crate::design::Enters;

/// Demands on all op amps of the path, levels at its nodes, offset and supply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DemandsOutcome {
    /// Where the signal enters that levels belong to; none where there is none, and the levels are none then.
    pub signal: Option<Enters>,
    /// How many stages the path has.
    pub stages: usize,
    /// In the path's order, and the netlist's within a stage.
    pub op_amps: Vec<OpAmpDemands>,
    /// Every node of every stage but ground.
    pub nodes: Vec<NodeLevel>,
    pub offset: PathOffset,
    /// Of all op amps without load, A.
    pub supply_current: f64,
    /// The same times the voltage between the rails, W.
    pub supply_power: f64,
    /// Sentences on what is left out or cannot be.
    pub notes: Vec<String>,
}

/// One op amp, and what is demanded of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OpAmpDemands {
    /// The stage's place in the path.
    pub stage: usize,
    /// Its designator.
    pub name: String,
    /// The op amp's name in the design's list; "" for the usual one.
    pub sheet: String,
    pub demands: Vec<Demand>,
}

/// The largest voltage of a node.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NodeLevel {
    pub stage: usize,
    pub node: String,
    /// V about the middle of the rails.
    pub peak: Peak,
}

/// Largest offsets, all contributions of one sign.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PathOffset {
    pub stages: Vec<StageOffset>,
    /// At the path's output, V; none where a stage has no gain at DC to carry it.
    pub output: Option<f64>,
    /// The same over the path's gain at DC, V; none of a path that blocks DC.
    pub input: Option<f64>,
    /// Whether it is more than half of what lies between the rails: an output that integrates goes to one by itself.
    pub at_rail: bool,
}

/// What one stage adds at the path's output.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct StageOffset {
    /// Of its op amps' offset voltages with their drift, V.
    pub voltage: f64,
    /// Of their bias currents, V.
    pub bias: f64,
    /// The gain at DC of the stages behind it.
    pub behind: f64,
}

/// The least that would do for all op amps of one name.
#[derive(Clone, Debug, PartialEq)]
pub struct Least {
    /// The op amp's name in the design's list; "" for the usual one.
    pub sheet: String,
    /// Those that have it: stage's place and designator.
    pub places: Vec<(usize, String)>,
    /// The largest demand of each quantity.
    pub demands: Vec<Demand>,
}

impl DemandsOutcome {
    /// For each op amp that the design names, what the most demanding of its places needs; in the order in which they
    /// are met.
    pub fn least(&self) -> Vec<Least> {
        let mut all: Vec<Least> = Vec::new();
        for own in &self.op_amps {
            let place = (own.stage, own.name.clone());
            let Some(known) = all.iter_mut().find(|least| least.sheet == own.sheet) else {
                all.push(Least {
                    sheet: own.sheet.clone(),
                    places: vec![place],
                    demands: own.demands.clone(),
                });
                continue;
            };
            known.places.push(place);
            for demand in &own.demands {
                let same = |known: &&mut Demand| known.quantity == demand.quantity;
                match known.demands.iter_mut().find(same) {
                    Some(known) if known.needed < demand.needed => *known = demand.clone(),
                    Some(_) => {}
                    None => known.demands.push(demand.clone()),
                }
            }
        }
        all
    }

    /// So many times the signal every op amp takes, for all but the gain-bandwidth follows the signal; none without a
    /// signal.
    pub fn signal_allowed(&self) -> Option<f64> {
        let all = self.op_amps.iter().flat_map(|own| &own.demands);
        let follow = all.filter(|demand| demand.quantity != Quantity::GainBandwidth);
        let shares = follow.map(Demand::ratio).filter(|share| *share > 0.0);
        let most = shares.max_by(f64::total_cmp)?;
        most.is_finite().then(|| 1.0 / most)
    }

    /// The op amp and its demand that is nearest to its limit, or farthest beyond it.
    pub fn tightest(&self) -> Option<(&OpAmpDemands, &Demand)> {
        let all = self.op_amps.iter();
        let all = all.filter_map(|own| Some((own, own.tightest()?)));
        all.max_by(|a, b| a.1.ratio().total_cmp(&b.1.ratio()))
    }
}

impl OpAmpDemands {
    /// The demand that is nearest to its limit, or farthest beyond it.
    pub fn tightest(&self) -> Option<&Demand> {
        let demands = self.demands.iter();
        demands.max_by(|a, b| a.ratio().total_cmp(&b.ratio()))
    }
}
