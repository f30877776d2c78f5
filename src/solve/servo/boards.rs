//! The loop over boards and plants: what goes into the run, and what is told of it.

use super::looped::curve_of;
use super::{as_built, sign};
use crate::design::{Design, LoopAsk};
use crate::outcome::{BlameShare, FigureSpread, LoopSpread, WorstBoard};
use crate::quantity::{Unit, rounded};
use crate::servo::{Built, LoopRun, LoopSetting, Model, OpenLoop, Plant, PlantStrays, Traced};
use crate::solve::line::Line;
use crate::solve::population::{drawn, factor_label, population};
use crate::solve::spread::{BINS, share};
use crate::spread::{Distribution, Histogram, quantiles};
use crate::stages;

/// Entries of the blame that are told.
const TOLD: usize = 8;

/// The path's stages ready to run.
pub fn models(lines: &[Line]) -> Vec<&stages::Model> {
    lines.iter().map(|line| &line.real).collect()
}

/// `traced` is the whole curve of the loop with the board as marked.
pub(super) fn prepare(
    design: &Design,
    lines: &[Line],
    plant: &Model,
    traced: &[Traced],
) -> Option<LoopRun> {
    let sign = sign(design);
    let nominal = OpenLoop {
        stages: as_built(lines)?,
        plant: Plant::Model(plant),
        sign,
    };
    let drift = design.servo.drift;
    let setting = LoopSetting {
        stages: models(lines),
        population: population(design, &drawn(lines)),
        plant,
        strays: PlantStrays {
            frequency: drift.frequency,
            damping: drift.damping,
            gain: drift.gain,
        },
        distribution: Distribution {
            law: drift.law,
            ..Distribution::UNIFORM
        },
        sign,
        settle_band: design.servo.motion.settle_band,
        seed: design.spread.seed,
        boards: design.spread.boards,
    };
    Some(LoopRun::new(setting, &nominal, traced))
}

/// Whether a loop keeps what is asked.
fn keeps(built: &Built, asked: &LoopAsk) -> bool {
    keeps_phase(built, asked)
        && built.gain_margin_db >= asked.gain_margin_db
        && built.sensitivity <= asked.sensitivity
        && asked.settling.is_none_or(|most| built.settling <= most)
}

fn keeps_phase(built: &Built, asked: &LoopAsk) -> bool {
    // A loop whose gain never reaches 1 has all the phase in the world.
    built.is_stable && (built.phase_margin.is_nan() || built.phase_margin >= asked.phase_margin)
}

/// What is told of a finished run.
pub fn summarise(design: &Design, lines: &[Line], run: &mut LoopRun) -> LoopSpread {
    let asked = &design.servo.asked;
    let boards = run.drawn();
    let count = |test: &dyn Fn(&Built) -> bool| {
        run.built().iter().filter(|built| test(built)).count() as u32
    };
    let stable = share(count(&|b| b.is_stable), boards);
    let kept = share(count(&|b| keeps(b, asked)), boards);
    let phase_kept = share(count(&|b| keeps_phase(b, asked)), boards);
    let figures = figures(run.built(), asked, design.servo.motion.settle_band);
    let blame = run.blame();
    let told = blame.iter().take(TOLD).filter(|blame| blame.share > 1e-3);
    let blame = told
        .map(|blame| BlameShare {
            label: label(lines, run, blame.number),
            share: blame.share,
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
        blame,
        worst: worst.map(|(number, built)| worst_board(design, lines, run, number, built)),
    }
}

fn worst_board(
    design: &Design,
    lines: &[Line],
    run: &mut LoopRun,
    number: u32,
    built: Built,
) -> WorstBoard {
    let (transfers, plant) = run.board(&models(lines), number);
    let open = OpenLoop {
        stages: transfers.iter().collect(),
        plant: Plant::Model(&plant),
        sign: sign(design),
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

fn figures(built: &[Built], asked: &LoopAsk, band: f64) -> Vec<FigureSpread> {
    type Read = fn(&Built) -> f64;
    let figure =
        |name: &str, label: &str, unit, read: Read, lowest: Option<f64>, highest: Option<f64>| {
            let values: Vec<f64> = built.iter().map(read).filter(|v| v.is_finite()).collect();
            let [least, low, q05, median, q95, high, most] =
                quantiles(&values, [0.0, 0.001, 0.05, 0.5, 0.95, 0.999, 1.0]);
            let holds = |v: f64| lowest.is_none_or(|l| v >= l) && highest.is_none_or(|h| v <= h);
            let is_limited = lowest.is_some() || highest.is_some();
            let held = built.iter().filter(|b| holds(read(b))).count() as f64;
            FigureSpread {
                name: name.to_owned(),
                label: label.to_owned(),
                unit,
                quantiles: [q05, median, q95],
                least,
                most,
                histogram: Histogram::new(&values, low, high, BINS),
                lowest,
                highest,
                held: is_limited.then_some(held / built.len().max(1) as f64),
                unreadable: (built.len() - values.len()) as u32,
                widths: None,
            }
        };
    vec![
        figure(
            "loop-phase-margin",
            "Phase margin",
            Unit::Degree,
            |b| b.phase_margin,
            Some(asked.phase_margin),
            None,
        ),
        figure(
            "loop-gain-margin",
            "Gain margin",
            Unit::Decibel,
            |b| b.gain_margin_db,
            Some(asked.gain_margin_db),
            None,
        ),
        figure(
            "loop-sensitivity-peak",
            "Sensitivity peak M_s",
            Unit::One,
            |b| b.sensitivity,
            None,
            Some(asked.sensitivity),
        ),
        figure(
            "loop-crossover",
            "Crossover",
            Unit::Hertz,
            |b| b.crossover,
            None,
            None,
        ),
        figure(
            "loop-settling",
            &format!("Settling within {}", rounded(band, Unit::Percent, 2)),
            Unit::Second,
            |b| b.settling,
            None,
            asked.settling,
        ),
    ]
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
