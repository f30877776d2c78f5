//! What signals and offsets demand of the path's op amps.

use super::feedback::{Loop, LoopOf, MovedLoop};
use super::stages::{Line, Stages};
use super::task::{Asked, Before, Blocked, Seen, Task, Turn};
use crate::demands::{
    Demand, DrivenStage, Moved, Quantity, Rails, Reached, Sines, When, demands, frequencies,
    offsets,
};
use crate::design::{Conditions, Enters, InputError, Signal};
use crate::outcome::{
    DemandsOutcome, MotionOutcome, NodeLevel, OpAmpDemands, Outcome, PathOffset, StageOffset,
};
use crate::parts::DataSheet;
use crate::pick::least_gain_bandwidth;

/// Sines that are taken through a stage between two looks at the clock, and steps of a signal in time.
const SINES: usize = 24;
const STEPS: usize = 200;

/// All that the demands read.
#[derive(PartialEq)]
pub(super) struct DemandsReads {
    lines: Seen<Vec<Line>>,
    /// The op amps' data sheets, stage by stage in the netlist's order.
    sheets: Vec<Vec<DataSheet>>,
    conditions: Conditions,
    signal: Signal,
    /// By how much the temperature moves, K.
    span: f64,
    of: Option<LoopOf>,
    /// Whether the closed loop is stable; none where that is not known.
    is_stable: Option<bool>,
    motion: Option<Seen<MotionOutcome>>,
}

/// The work.
pub(super) struct Demands {
    at: At,
    reached: Vec<Reached>,
    /// The least gain-bandwidth of each stage's slowest op amp, Hz.
    least: Vec<Option<f64>>,
    notes: Vec<String>,
    enters: Option<Enters>,
}

/// Where it is.
enum At {
    /// Sines through a stage, from one of them on.
    Sines(Sines, usize, usize),
    /// A signal in time through a stage.
    Moved(Box<Moved>, usize),
    /// The gain-bandwidth of a stage.
    Bandwidth(usize),
}

impl Task for Demands {
    const FIELD: &'static str = "demands";
    type Reads = DemandsReads;
    type Finds = DemandsOutcome;

    fn reads(asked: &Asked) -> Result<Option<DemandsReads>, Blocked> {
        let design = asked.design;
        let lines = asked.found::<Stages>()?.filter(|lines| !lines.is_empty());
        // A plant that fails leaves the path as it is without one.
        let of = LoopOf::reads(asked).ok().flatten();
        let told = asked.found::<Loop>().ok().flatten();
        let told = told.as_ref().and_then(|told| told.closed());
        let moves = design.signal.enters == Enters::Motion;
        let motion = asked.found::<MovedLoop>().ok().flatten();
        let stages = design.stages.iter();
        let sheets = stages.map(|stage| design.data_sheets(stage).into_iter().cloned().collect());
        Ok(lines.map(|lines| DemandsReads {
            sheets: sheets.collect(),
            conditions: design.conditions,
            signal: design.signal.clone(),
            span: design.spread.temperature_span,
            of: of.filter(|_| design.signal.enters != Enters::Path),
            is_stable: told
                .and_then(|told| told.unstable_poles)
                .map(|count| count == 0),
            motion: motion.filter(|_| moves),
            lines,
        }))
    }

    fn begin(reads: &DemandsReads, _: Option<Before<Demands>>) -> Result<Demands, Vec<InputError>> {
        let stages = reads.stages();
        let mut notes = Vec::new();
        let (enters, at) = match reads.driven(&mut notes) {
            Some((enters, Driven::Sines(sines))) => (Some(enters), At::Sines(sines, 0, 0)),
            Some((enters, Driven::Moved(moved))) => (Some(enters), At::Moved(moved, 0)),
            None => (None, At::Bandwidth(0)),
        };
        Ok(Demands {
            at,
            reached: stages.iter().map(DrivenStage::nothing).collect(),
            least: Vec::new(),
            notes,
            enters,
        })
    }

    fn advance(
        &mut self,
        reads: &DemandsReads,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<DemandsOutcome> {
        let stages = reads.stages();
        loop {
            match &mut self.at {
                At::Sines(sines, place, from) => {
                    let Some(stage) = stages.get(*place) else {
                        self.at = At::Bandwidth(0);
                        continue;
                    };
                    let load = stages.get(*place + 1).ok_or(reads.conditions.load);
                    let to = sines.count().min(*from + SINES);
                    sines.pass(*from..to, stage, load, &mut self.reached[*place]);
                    *from = to;
                    if to == sines.count() {
                        (*place, *from) = (*place + 1, 0);
                    }
                }
                At::Moved(moved, place) => {
                    let Some(stage) = stages.get(*place) else {
                        self.reached = moved.reached(&stages, reads.conditions.load);
                        self.at = At::Bandwidth(0);
                        continue;
                    };
                    match moved.follow(stage, STEPS) {
                        Some(true) => *place += 1,
                        Some(false) => {}
                        None => self.at = At::Bandwidth(0),
                    }
                }
                At::Bandwidth(place) => {
                    let Some(line) = reads.lines.get(*place) else {
                        return Turn::Found(self.found(reads, &stages));
                    };
                    let least = least_gain_bandwidth(&line.real, &line.found.values);
                    self.least.push(least);
                    *place += 1;
                }
            }
            if !go_on() {
                return Turn::More(self.progress(stages.len()));
            }
        }
    }

    fn is_same(first: &DemandsOutcome, second: &DemandsOutcome) -> bool {
        first == second
    }

    fn tell(_: &DemandsReads, found: &DemandsOutcome, outcome: &mut Outcome) {
        outcome.demands = Some(found.clone());
    }
}

/// What goes through the path.
enum Driven {
    Sines(Sines),
    Moved(Box<Moved>),
}

impl DemandsReads {
    fn stages(&self) -> Vec<DrivenStage<'_>> {
        let stages = self.lines.iter().zip(&self.sheets);
        stages
            .map(|(line, sheets)| {
                DrivenStage::new(&line.real, &line.found.values, sheets.iter().collect())
            })
            .collect()
    }

    /// The signal at the path's input; why there is none goes to `notes`.
    fn driven(&self, notes: &mut Vec<String>) -> Option<(Enters, Driven)> {
        let loop_of = self.of.as_ref();
        let enters = match (self.signal.enters, loop_of) {
            (_, None) => Enters::Path,
            (enters, Some(_)) => enters,
        };
        if enters != Enters::Path && self.is_stable == Some(false) {
            notes.push(
                "The closed loop is not stable, so that signals grow without bound; there are no levels to hold the op amps against."
                    .to_owned(),
            );
            return None;
        }
        if enters == Enters::Motion {
            let answer = self
                .motion
                .as_ref()
                .and_then(|motion| motion.answer.as_ref());
            let sign = loop_of.map_or(1.0, LoopOf::sign);
            let moved = answer.and_then(|answer| {
                let error: Vec<f64> = answer.error.iter().map(|e| sign * e).collect();
                Moved::new(&answer.time, &error)
            });
            if moved.is_none() {
                notes.push(
                    "There is no time response to take the signal from; see the loop's motion."
                        .to_owned(),
                );
            }
            return moved.map(|moved| (enters, Driven::Moved(Box::new(moved))));
        }
        let span = self.signal.span()?;
        let responses = self.lines.iter().map(|line| &line.found.transfers[2]);
        let frequencies = frequencies(span, responses);
        let modelled = loop_of.and_then(LoopOf::modelled);
        let open = match (enters, loop_of) {
            (Enters::Reference, Some(of)) => match &modelled {
                Some(of) => Some(of.open()),
                None => of.measured(),
            },
            _ => None,
        };
        let amplitude = |frequency: &f64| {
            let share = open
                .as_ref()
                .map_or(1.0, |open| 1.0 / (1.0 + open.at(*frequency)).norm());
            self.signal.amplitude(*frequency) * share
        };
        let amplitudes = frequencies.iter().map(amplitude).collect();
        let sines = Sines::new(frequencies, amplitudes);
        Some((enters, Driven::Sines(sines)))
    }

    fn rails(&self) -> Rails {
        Rails {
            positive: self.conditions.positive_rail,
            negative: self.conditions.negative_rail,
        }
    }
}

impl Demands {
    fn progress(&self, stages: usize) -> f64 {
        let done = match &self.at {
            At::Sines(_, place, _) | At::Moved(_, place) => *place,
            At::Bandwidth(place) => stages + place,
        };
        done as f64 / (2 * stages) as f64
    }

    fn found(&mut self, reads: &DemandsReads, stages: &[DrivenStage]) -> DemandsOutcome {
        let mut op_amps = Vec::new();
        let mut nodes = Vec::new();
        for (place, stage) in stages.iter().enumerate() {
            op_amps.extend(self.op_amps(reads, place, stage));
            let names = stage.model.netlist.nodes().iter();
            let levels = names.zip(&self.reached[place].nodes).skip(1);
            nodes.extend(levels.map(|(name, peak)| NodeLevel {
                stage: place,
                node: name.clone(),
                peak: *peak,
            }));
        }
        let rails = reads.rails();
        let sheets = reads.sheets.iter().flatten();
        let supply_current: f64 = sheets.map(|sheet| sheet.supply_current).sum();
        DemandsOutcome {
            signal: self.enters,
            stages: stages.len(),
            op_amps,
            nodes: if self.enters.is_some() {
                nodes
            } else {
                Vec::new()
            },
            offset: path_offset(stages, reads.span, rails),
            supply_current,
            supply_power: supply_current * 2.0 * rails.half(),
            notes: std::mem::take(&mut self.notes),
        }
    }

    fn op_amps(
        &self,
        reads: &DemandsReads,
        place: usize,
        stage: &DrivenStage,
    ) -> Vec<OpAmpDemands> {
        let names = reads.names(place);
        let slowest = 1.0 / stage.model.slowest();
        let each = names.into_iter().zip(&stage.sheets).enumerate();
        each.map(|(at, (name, sheet))| {
            let mut all = Vec::new();
            if let Some(least) = self.least[place] {
                all.push(Demand {
                    quantity: Quantity::GainBandwidth,
                    needed: sheet.gain_bandwidth * least / slowest,
                    has: sheet.gain_bandwidth,
                    when: When::Always,
                });
            }
            if self.enters.is_some() {
                let peaks = &self.reached[place].op_amps[at];
                all.extend(demands(peaks, sheet, reads.rails()));
            }
            OpAmpDemands {
                stage: place,
                name,
                sheet: sheet.name.clone(),
                demands: all,
            }
        })
        .collect()
    }
}

impl DemandsReads {
    /// The designators of a stage's op amps.
    fn names(&self, place: usize) -> Vec<String> {
        let netlist = &self.lines[place].real.netlist;
        let op_amps = netlist.op_amps();
        op_amps.map(|part| part.name.clone()).collect()
    }
}

fn path_offset(stages: &[DrivenStage], span: f64, rails: Rails) -> PathOffset {
    let Some(all) = offsets(stages, span)
        .into_iter()
        .collect::<Option<Vec<_>>>()
    else {
        return PathOffset::default();
    };
    let mut behind = 1.0;
    let mut told: Vec<StageOffset> = Vec::with_capacity(all.len());
    for own in all.iter().rev() {
        told.push(StageOffset {
            voltage: own.voltage,
            bias: own.bias,
            behind,
        });
        behind *= own.gain;
    }
    told.reverse();
    let at_output = |own: &StageOffset| (own.voltage + own.bias) * own.behind.abs();
    let output: f64 = told.iter().map(at_output).sum();
    PathOffset {
        output: Some(output),
        at_rail: output > rails.half(),
        input: (behind != 0.0).then(|| output / behind.abs()),
        stages: told,
    }
}
