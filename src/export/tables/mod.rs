//! Tables of all that an outcome holds, as comma-separated values.

mod bench;
mod curves;
mod demands;
mod fit;
mod looped;
mod motion;
mod noise;
mod spread;
mod supply;
mod table;
mod worst_case;

pub(super) use table::{Cell, Table, unit_name};

use super::What;
use crate::outcome::Outcome;

/// One table; none where the outcome has nothing for it, and for what is no table.
pub(super) fn table(what: What, outcome: &Outcome) -> Option<Table> {
    let shown = outcome.stages.get(outcome.shown);
    let servo = outcome.servo.as_ref();
    let loops = outcome.loops_over_boards();
    match what {
        What::BuildSheet | What::Parts | What::Netlist | What::Transfer | What::Picture(_) => None,
        What::Curves => Some(curves::curves(shown?.curves.as_ref()?)),
        What::PathCurves => Some(curves::curves(outcome.path.as_ref()?.curves.as_ref()?)),
        What::Band => {
            let told = outcome.spread.as_ref()?;
            let bands = spread::Bands {
                magnitude_db: &told.magnitude_db,
                phase_deg: &told.phase_deg,
                slow: told.slow.as_ref(),
            };
            let time = shown.and_then(|stage| stage.curves.as_ref());
            Some(bands.table(&told.frequency, time))
        }
        What::PathBand => {
            let told = outcome.spread.as_ref()?;
            let path = told.path.as_ref()?;
            let bands = spread::Bands {
                magnitude_db: &path.magnitude_db,
                phase_deg: &path.phase_deg,
                slow: path.slow.as_ref(),
            };
            let time = outcome.path.as_ref().and_then(|path| path.curves.as_ref());
            Some(bands.table(&told.frequency, time))
        }
        What::Figures => (!outcome.stages.is_empty()).then(|| spread::figures(outcome)),
        What::Histograms => Some(spread::histograms(&outcome.spread.as_ref()?.figures)),
        What::Widths => Some(spread::widths(&outcome.spread.as_ref()?.figures)),
        What::Boards => Some(spread::boards(outcome.spread.as_ref()?)),
        What::WorstCase => Some(worst_case::corners(outcome.corners.as_ref()?)),
        What::Contributions => Some(worst_case::contributions(outcome.contributions.as_ref()?)),
        What::Plant => Some(looped::plant(&servo?.plant)),
        What::Fit => Some(fit::fit(servo?.plant.fitted.as_ref()?, &servo?.plant.units)),
        What::Loop => looped::curves(servo?),
        What::Margins => looped::margins(servo?),
        What::LoopFigures => Some(spread::over_boards(&loops?.figures)),
        What::LoopHistograms => Some(spread::histograms(&loops?.figures)),
        What::LoopContributions => Some(looped::contributions(loops?)),
        What::WorstLoop => Some(looped::worst(loops?.worst.as_ref()?)),
        What::Motion => motion::motion(outcome.motion.as_ref()?),
        What::MotionFigures => motion::figures(outcome.motion.as_ref()?),
        What::Noise => Some(noise::stage(
            outcome.noise.as_ref()?.stages.get(outcome.shown)?,
        )),
        What::NoiseContributors => Some(noise::contributors(outcome.noise.as_ref()?)),
        What::PathNoise => Some(noise::path(&outcome.noise.as_ref()?.path)),
        What::LoopNoise => noise::looped(outcome.noise.as_ref()?.looped.as_ref()?),
        What::SupplyLines => Some(supply::hits(outcome.supply.as_ref()?)),
        What::Demands => Some(demands::demands(outcome.demands.as_ref()?)),
        What::BenchValues => Some(bench::values(outcome.bench.as_ref()?.report.as_ref()?)),
    }
}
