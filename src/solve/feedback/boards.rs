//! The loop over boards and plants: what goes into the run, and what is told of it.

use std::sync::Arc;

use super::looped::curve_of;
use super::{ModelledLoop, TracedLoop};
use crate::design::{Design, Drift, InputError, LoopAsk, ServoDesign};
use crate::feedback::{Built, LoopRun, OpenLoop, PlantVariations};
use crate::outcome::{FigureSpread, LoopContribution, LoopSpread, Outcome, WorstBoard};
use crate::plant::Plant;
use crate::quantity::{Unit, rounded};
use crate::solve::Piece;
use crate::solve::plan::{LoopPlan, Plan, StageOf};
use crate::solve::population::{drawn, factor_label, population};
use crate::solve::spread::{boards_design, share};
use crate::solve::stages::Line;
use crate::solve::summing::BINS;
use crate::solve::task::{Asked, Before, Blocked, Task, Turn};
use crate::spread::{Distribution, Errand, Hand, Histogram, quantiles};
use crate::stages;

/// Variance contributions that are told.
const TOLD: usize = 8;

/// What the run over boards and plants reads, and what loops are held against.
#[derive(PartialEq)]
pub(in crate::solve) struct LoopBoardsReads {
    run: RunReads,
    asked: LoopAsk,
}

/// What the run itself reads.
#[derive(PartialEq)]
struct RunReads {
    traced: TracedLoop,
    /// How parts and plants stray; all else is blank.
    design: Design,
    /// A fraction of a step's end.
    settle_band: f64,
}

/// The loop over boards and plants.
pub(in crate::solve) struct LoopBoards {
    /// Kept when it is done: other limits need no other boards.
    run: Box<LoopRun>,
    /// What others were told of it.
    plan: Option<Arc<Plan>>,
}

impl Task for LoopBoards {
    const FIELD: &'static str = "loops";
    type Reads = LoopBoardsReads;
    type Finds = LoopSpread;

    fn reads(asked: &Asked) -> Result<Option<LoopBoardsReads>, Blocked> {
        let traced = TracedLoop::reads(asked)?;
        let servo = &asked.design.servo;
        Ok(traced.map(|traced| LoopBoardsReads {
            run: RunReads {
                traced,
                design: Design {
                    servo: ServoDesign {
                        drift: servo.drift,
                        ..ServoDesign::default()
                    },
                    ..boards_design(asked.design)
                },
                settle_band: servo.motion.settle_band,
            },
            asked: servo.asked,
        }))
    }

    fn begin(
        reads: &LoopBoardsReads,
        before: Option<Before<LoopBoards>>,
    ) -> Result<LoopBoards, Vec<InputError>> {
        let same = before.filter(|before| before.reads.run == reads.run);
        if let Some(work) = same.and_then(|before| before.work) {
            return Ok(work);
        }
        Ok(LoopBoards {
            run: Box::new(reads.run.plan().run(&models(&reads.run.traced.of.lines))),
            plan: None,
        })
    }

    fn advance(
        &mut self,
        reads: &LoopBoardsReads,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<LoopSpread> {
        let lines = &reads.run.traced.of.lines;
        if self.run.advance(&models(lines), go_on).is_pending() {
            let boards = f64::from(reads.run.design.spread.boards);
            let share = f64::from(self.run.drawn()) / boards;
            return match self.run.is_waiting() {
                true => Turn::Waiting(share),
                false => Turn::More(share),
            };
        }
        Turn::Found(reads.summarise(&mut self.run))
    }

    fn is_same(first: &LoopSpread, second: &LoopSpread) -> bool {
        first == second
    }

    fn tell(_: &LoopBoardsReads, found: &LoopSpread, outcome: &mut Outcome) {
        outcome.loops = Some(found.clone());
    }

    fn plan(&mut self, reads: &LoopBoardsReads) -> Option<Arc<Plan>> {
        let plan = || Arc::new(Plan::Loop(reads.run.plan()));
        let is_long = self.run.is_long();
        is_long.then(|| Arc::clone(self.plan.get_or_insert_with(plan)))
    }

    fn lend(&mut self, to: Hand, workers: u32) -> Option<Errand> {
        self.run.lend(to, workers)
    }

    fn give_back(&mut self, from: Hand, piece: Piece) {
        if let Piece::Loop(boards, batch) = piece {
            self.run.give_back(from, boards, batch);
        }
    }

    fn keep(&mut self, there: &[Hand]) {
        self.run.keep(there);
    }
}

/// The path's stages ready to run.
fn models(lines: &[Line]) -> Vec<&stages::Model> {
    lines.iter().map(|line| &line.real).collect()
}

impl RunReads {
    /// All that the run hangs on.
    fn plan(&self) -> LoopPlan {
        let TracedLoop { of, curve } = &self.traced;
        let lines = &of.lines;
        let Drift {
            frequency,
            damping,
            gain,
            law,
        } = self.design.servo.drift;
        LoopPlan {
            stages: lines.iter().map(|line| StageOf::new(&line.real)).collect(),
            nominal: of.without(&[], of.sign()),
            traced: curve.to_vec(),
            population: population(&self.design, &drawn(lines)),
            variations: PlantVariations {
                frequency,
                damping,
                gain,
            },
            distribution: Distribution {
                law,
                ..Distribution::UNIFORM
            },
            settle_band: self.settle_band,
            seed: self.design.spread.seed,
            boards: self.design.spread.boards,
        }
    }
}

/// A requirement of the loop, and whether a board keeps it: an unstable one keeps none.
type Keeps = fn(&Built, &LoopAsk) -> bool;

/// All of them.
fn keeps(built: &Built, asked: &LoopAsk) -> bool {
    let all: [Keeps; 4] = [keeps_phase, keeps_gain, keeps_sensitivity, keeps_settling];
    all.iter().all(|keeps| keeps(built, asked))
}

/// A loop whose gain never reaches 1 has all the phase in the world.
fn keeps_phase(built: &Built, asked: &LoopAsk) -> bool {
    built.is_stable && (built.phase_margin.is_nan() || built.phase_margin >= asked.phase_margin)
}

fn keeps_gain(built: &Built, asked: &LoopAsk) -> bool {
    built.is_stable && built.gain_margin_db >= asked.gain_margin_db
}

fn keeps_sensitivity(built: &Built, asked: &LoopAsk) -> bool {
    built.is_stable && built.sensitivity <= asked.sensitivity
}

fn keeps_settling(built: &Built, asked: &LoopAsk) -> bool {
    built.is_stable && asked.settling.is_none_or(|most| built.settling <= most)
}

impl LoopBoardsReads {
    /// What is told of a finished run.
    fn summarise(&self, run: &mut LoopRun) -> LoopSpread {
        let asked = &self.asked;
        let lines = &self.run.traced.of.lines;
        let boards = run.drawn();
        let count = |test: &dyn Fn(&Built) -> bool| {
            run.built().iter().filter(|built| test(built)).count() as u32
        };
        let stable = share(count(&|b| b.is_stable), boards);
        let kept = share(count(&|b| keeps(b, asked)), boards);
        let phase_kept = share(count(&|b| keeps_phase(b, asked)), boards);
        let figures = figures(run.built(), asked, self.run.settle_band);
        let ranked = run.contributions();
        let told = ranked
            .iter()
            .take(TOLD)
            .filter(|factor| factor.share > 1e-3);
        let contributions = told
            .map(|factor| LoopContribution {
                label: label(lines, run, factor.number),
                share: factor.share,
            })
            .collect();
        let key = |built: &Built| (built.is_stable, built.phase_margin);
        let worst = run.built().iter().enumerate().min_by(|(_, a), (_, b)| {
            let (a, b) = (key(a), key(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        let worst = worst.map(|(number, built)| (number as u32, *built));
        LoopSpread {
            stable,
            kept,
            phase_kept,
            figures,
            contributions,
            worst: worst
                .map(|(number, built)| worst_board(&self.run.traced.of, run, number, built)),
        }
    }
}

fn worst_board(of: &ModelledLoop, run: &mut LoopRun, number: u32, built: Built) -> WorstBoard {
    let (transfers, plant) = run.board(&models(&of.lines), number);
    let open = OpenLoop {
        stages: transfers.iter().collect(),
        plant: Plant::Model(&plant),
        sign: of.sign(),
    };
    let (open, real, imaginary) = curve_of(&open);
    WorstBoard {
        number,
        is_stable: built.is_stable,
        phase_margin: built.phase_margin,
        open,
        real,
        imaginary,
    }
}

/// Each figure over all loops; `band` is that of the settling time, a fraction.
fn figures(built: &[Built], asked: &LoopAsk, band: f64) -> Vec<FigureSpread> {
    let figure = |name: &str, label: &str, unit, read: fn(&Built) -> f64, keeps: Option<Keeps>| {
        let held = keeps.map(|keeps| {
            let held = built.iter().filter(|built| keeps(built, asked)).count();
            held as f64 / built.len().max(1) as f64
        });
        let values = built.iter().map(read).filter(|v| v.is_finite()).collect();
        figure((name, label, unit), values, built.len(), held)
    };
    let settling = format!("Settling within {}", rounded(band, Unit::Percent, 2));
    vec![
        FigureSpread {
            lowest: Some(asked.phase_margin),
            ..figure(
                "loop-phase-margin",
                "Phase margin",
                Unit::Degree,
                |b| b.phase_margin,
                Some(keeps_phase),
            )
        },
        FigureSpread {
            lowest: Some(asked.gain_margin_db),
            ..figure(
                "loop-gain-margin",
                "Gain margin",
                Unit::Decibel,
                |b| b.gain_margin_db,
                Some(keeps_gain),
            )
        },
        FigureSpread {
            highest: Some(asked.sensitivity),
            ..figure(
                "loop-sensitivity-peak",
                "Sensitivity peak M_s",
                Unit::One,
                |b| b.sensitivity,
                Some(keeps_sensitivity),
            )
        },
        figure(
            "loop-crossover",
            "Crossover",
            Unit::Hertz,
            |b| b.crossover,
            None,
        ),
        FigureSpread {
            highest: asked.settling,
            ..figure(
                "loop-settling",
                &settling,
                Unit::Second,
                |b| b.settling,
                asked.settling.map(|_| keeps_settling as Keeps),
            )
        },
    ]
}

/// One figure without limits over so many loops, of which those that have it have these `values`.
fn figure(
    (name, label, unit): (&str, &str, Unit),
    values: Vec<f64>,
    boards: usize,
    held: Option<f64>,
) -> FigureSpread {
    let [least, low, q05, median, q95, high, most] =
        quantiles(&values, [0.0, 0.001, 0.05, 0.5, 0.95, 0.999, 1.0]);
    FigureSpread {
        name: name.to_owned(),
        label: label.to_owned(),
        unit,
        quantiles: [q05, median, q95],
        least,
        most,
        histogram: Histogram::new(&values, low, high, BINS),
        lowest: None,
        highest: None,
        held,
        unreadable: (boards - values.len()) as u32,
        widths: None,
    }
}

/// What a factor is called.
fn label(lines: &[Line], run: &LoopRun, number: usize) -> String {
    let (parts, _) = run.factors();
    if let Some(factor) = parts.get(number) {
        return factor_label(&models(lines), *factor);
    }
    // The plants' temperature comes first, and nothing there hangs on it.
    match number - parts.len() {
        0 | 1 => "plant gain".to_owned(),
        left => {
            let what = if left % 2 == 0 {
                "frequency"
            } else {
                "damping"
            };
            let company = run.companies().get(left / 2 - 1);
            let numbers: Vec<String> = company
                .into_iter()
                .flatten()
                .map(|k| (k + 1).to_string())
                .collect();
            let modes = if numbers.len() > 1 { "modes" } else { "mode" };
            format!("{modes} {} {what}", numbers.join(" and "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settling_counts_where_it_is_asked() {
        let built = Built {
            is_stable: true,
            phase_margin: 60.0,
            gain_margin_db: 12.0,
            sensitivity: 1.5,
            crossover: 400.0,
            settling: 3e-3,
        };
        let asked = |settling| LoopAsk {
            settling,
            ..LoopAsk::default()
        };
        assert!(keeps(&built, &asked(None)) && keeps(&built, &asked(Some(4e-3))));
        assert!(!keeps(&built, &asked(Some(2e-3))));
        let unread = Built {
            settling: f64::NAN,
            ..built
        };
        assert!(keeps(&unread, &asked(None)) && !keeps(&unread, &asked(Some(4e-3))));
        let figures = figures(&[built, unread], &asked(Some(4e-3)), 0.02);
        let settling = figures.last().expect("figures");
        assert_eq!(settling.label, "Settling within 2 %");
        assert_eq!((settling.held, settling.unreadable), (Some(0.5), 1));
    }
}
