//! A signal in time through the path.

use super::When;
use super::stage::{DrivenStage, Pins, Reached};
use crate::circuit::{Left, Transient};
use crate::numerics::Spline;

/// Steps between two samples of the signal. Along straight lines each sample would be a corner, which a stage that passes
/// high frequencies makes a jump: slew rates would be those of the sampling.
const STEPS: usize = 4;
/// The time in which a jump at the beginning happens, as a share of the first step's.
const JUMP: f64 = 1e-6;

/// A signal that goes from stage to stage.
pub struct Moved {
    /// s, rising.
    time: Vec<f64>,
    /// What drives the stage that is at the turn, V.
    driving: Vec<f64>,
    /// What each stage before it made of that.
    followed: Vec<Followed>,
    /// Of the stage that is at the turn, and where it was left.
    own: Followed,
    left: Option<Left>,
}

/// One stage at each time.
#[derive(Default)]
struct Followed {
    pins: Vec<Pins>,
    /// Of each node, ground's first, V.
    voltages: Vec<Vec<f64>>,
    /// Out of each op amp, and from what drives it, A.
    currents: Vec<Vec<f64>>,
    drawn: Vec<f64>,
}

impl Moved {
    /// A signal at a path's input, V at times (s), along a smooth curve between; before the first time there is none. None of
    /// fewer than two samples, or times that do not rise.
    pub fn new(time: &[f64], voltage: &[f64]) -> Option<Moved> {
        let curve = Spline::new(time, voltage)?;
        let stretches = 0..time.len() - 1;
        let places =
            stretches.flat_map(|at| (1..=STEPS).map(move |k| (at, k as f64 / STEPS as f64)));
        let (mut all, mut driving) = (vec![time[0]], vec![voltage[0]]);
        for (at, share) in places {
            all.push(time[at] + (time[at + 1] - time[at]) * share);
            driving.push(curve.within(at, share));
        }
        Some(Moved {
            time: all,
            driving,
            followed: Vec::new(),
            own: Followed::default(),
            left: None,
        })
    }

    /// Follows the signal for so many more steps through the stage that is at the turn: true when it is through and the
    /// next one is. None where the stage has no single answer.
    pub fn follow(&mut self, stage: &DrivenStage, steps: usize) -> Option<bool> {
        let equations = stage.equations()?;
        let mut transient = match self.left.take() {
            Some(left) => Transient::resume(&equations, left),
            None => Transient::new(&equations),
        };
        let nodes = stage.model.netlist.nodes().len();
        let op_amps = equations.op_amps().len();
        let done = self.own.drawn.len();
        let end = self.time.len().min(done + steps);
        for at in done..end {
            let voltage = self.driving[at];
            match at {
                0 => transient.jump(voltage, JUMP * (self.time[1] - self.time[0]))?,
                _ => transient.step(voltage, self.time[at] - self.time[at - 1])?,
            }
            let voltages = (0..nodes).map(|node| transient.voltage(node));
            self.own.voltages.push(voltages.collect());
            let currents = (0..op_amps).map(|op_amp| transient.current(op_amp));
            self.own.currents.push(currents.collect());
            self.own.drawn.push(transient.drawn());
        }
        if end < self.time.len() {
            self.left = Some(transient.leave());
            return Some(false);
        }
        let mut own = std::mem::take(&mut self.own);
        own.pins = stage.pins();
        let output = stage.model.netlist.output();
        self.driving = own.voltages.iter().map(|row| row[output]).collect();
        self.followed.push(own);
        Some(true)
    }

    /// At the last time, for each op amp of a stage that is through: its output (V), the current out of it into the stage
    /// (A), and the mean of its inputs (V).
    pub fn ends(&self, stage: usize) -> Option<Vec<[f64; 3]>> {
        let followed = self.followed.get(stage)?;
        let (voltages, currents) = (followed.voltages.last()?, followed.currents.last()?);
        let rows = followed.pins.iter().zip(currents);
        Some(
            rows.map(|(pins, current)| {
                let mean = 0.5 * (voltages[pins.plus] + voltages[pins.minus]);
                [voltages[pins.out], *current, mean]
            })
            .collect(),
        )
    }

    /// What is reached in each stage, once it is through all of them; `load` (Ω) is behind the last one.
    pub fn reached(&self, stages: &[DrivenStage], load: f64) -> Vec<Reached> {
        let last: Vec<f64> = self.driving.iter().map(|v| v / load).collect();
        let each = stages.iter().zip(&self.followed).enumerate();
        each.map(|(place, (stage, followed))| {
            let behind = self.followed.get(place + 1).map(|next| &next.drawn);
            self.in_stage(stage, followed, behind.unwrap_or(&last))
        })
        .collect()
    }

    fn in_stage(&self, stage: &DrivenStage, followed: &Followed, behind: &[f64]) -> Reached {
        let mut reached = stage.nothing();
        let output = stage.model.netlist.output();
        let rows = followed.voltages.iter().zip(&followed.currents);
        for (at, ((voltages, currents), behind)) in rows.zip(behind).enumerate() {
            let when = When::Moved(self.time[at]);
            for (node, voltage) in reached.nodes.iter_mut().zip(voltages) {
                node.meet(voltage.abs(), when);
            }
            for ((own, pins), current) in
                reached.op_amps.iter_mut().zip(&followed.pins).zip(currents)
            {
                own.swing.meet(voltages[pins.out].abs(), when);
                let beyond = if pins.out == output { *behind } else { 0.0 };
                own.current.meet((current + beyond).abs(), when);
                let common = 0.5 * (voltages[pins.plus] + voltages[pins.minus]);
                own.input_high.meet(common, when);
                own.input_low.meet(-common, when);
                if at > 0 {
                    let step = self.time[at] - self.time[at - 1];
                    let before = followed.voltages[at - 1][pins.out];
                    own.slew
                        .meet((voltages[pins.out] - before).abs() / step, when);
                }
            }
        }
        reached
    }
}
