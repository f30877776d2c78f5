//! What an outcome has to export, told without making any of it.

use super::What;
use crate::outcome::Outcome;
use crate::sheet;

/// All that is there, in the order of [`What::ALL`].
///
/// ```
/// use polewright::outcome::Outcome;
/// use polewright::export::available;
/// assert!(available(&Outcome::default()).is_empty());
/// ```
pub fn available(outcome: &Outcome) -> Vec<What> {
    let is_there = |what: &What| is_there(*what, outcome).is_some();
    What::ALL.into_iter().filter(is_there).collect()
}

/// Something where it is there.
fn is_there(what: What, outcome: &Outcome) -> Option<()> {
    let some = |there: bool| there.then_some(());
    let servo = outcome.servo.as_ref();
    let spread = outcome.spread.as_ref();
    let loops = outcome.loops_over_boards();
    match what {
        What::BuildSheet => some(sheet::is_there(outcome)),
        What::Parts | What::Figures => some(!outcome.stages.is_empty()),
        What::Netlist => some(outcome.netlist.is_some()),
        What::Transfer => some(outcome.transfer.is_some()),
        What::Curves => some(outcome.stages.get(outcome.shown)?.curves.is_some()),
        What::PathCurves => some(outcome.path.as_ref()?.curves.is_some()),
        What::Band | What::Histograms | What::Widths | What::Boards => some(spread.is_some()),
        What::PathBand => some(spread?.path.is_some()),
        What::WorstCase => some(outcome.corners.is_some()),
        What::Contributions => some(outcome.contributions.is_some()),
        What::Plant => some(servo.is_some()),
        What::Fit => some(servo?.plant.fitted.is_some()),
        What::Loop | What::Margins => some(servo?.measured.is_some() || servo?.modelled.is_some()),
        What::LoopFigures | What::LoopHistograms | What::LoopContributions => some(loops.is_some()),
        What::WorstLoop => some(loops?.worst.is_some()),
        What::Motion | What::MotionFigures => some(outcome.motion.as_ref()?.answer.is_some()),
        What::Noise | What::NoiseContributors | What::PathNoise => some(outcome.noise.is_some()),
        What::LoopNoise => {
            let looped = outcome.noise.as_ref()?.looped.as_ref()?;
            some(!looped.frequency.is_empty())
        }
        What::SupplyLines => some(outcome.supply.is_some()),
        What::Demands => some(outcome.demands.is_some()),
        What::BenchValues => some(outcome.bench.as_ref()?.report.is_some()),
        What::Picture(picture) => some(picture.is_there(outcome)),
    }
}
