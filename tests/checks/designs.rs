//! Designs as checks of the loop solve them, and what they look at of the outcome.

use std::collections::BTreeMap;

use polewright::design::Design;
use polewright::outcome::{LoopOutcome, Outcome};
use polewright::parts::{OpAmp, Shelf};
use polewright::pick::{Preference, Search};
use polewright::response::Transfer;
use polewright::solve::{Step, Work, solve};
use polewright::stages::{Ask, Model, Stage};

/// Without what takes time and has nothing to do with the loop, and with so many boards.
pub fn quiet(mut design: Design, boards: u32) -> Design {
    design.view.compare = false;
    design.view.contributions = false;
    design.view.propose = false;
    design.spread.boards = boards;
    design
}

pub fn solved(design: &Design) -> Outcome {
    match solve(design) {
        Ok(outcome) => outcome,
        Err(errors) => panic!("{errors:?}"),
    }
}

/// The loop with the plant's model.
pub fn modelled(outcome: &Outcome) -> &LoopOutcome {
    let servo = outcome.servo.as_ref().expect("a loop");
    servo.modelled.as_ref().expect("a model")
}

/// All parts of all stages keep their limits.
pub fn parts_hold(outcome: &Outcome, what: &str) {
    for stage in &outcome.stages {
        let miss = stage.picks[stage.choice].miss;
        assert!(miss <= 1.0, "{what}: {}", stage.title);
    }
}

/// A stage as it is bought, with its worst miss; none where no set is found.
pub fn bought(
    circuit: &'static dyn Stage,
    ask: &Ask,
    op_amp: &OpAmp,
    (shelf, prefer): (&Shelf, Preference),
) -> Option<(Transfer, f64)> {
    let model = Model::new(circuit, ask, op_amp).expect("a circuit");
    let mut search = Search::new(&model, shelf, &BTreeMap::new(), prefer);
    assert!(search.advance(&model, &mut || true).is_ready());
    let best = search.take().picks.into_iter().next()?;
    Some((model.transfer(&best.values), best.rank.miss))
}

/// Works until there is help; in how many slices since the loop's motion was there.
pub fn slices_of_help(work: &mut Work) -> usize {
    let mut count = 0;
    loop {
        let outcome = work.outcome();
        let is_stale = |field: &str| outcome.stale.iter().any(|one| one == field);
        if outcome.help.is_some() && !is_stale("help") {
            break;
        }
        let is_moved = outcome.motion.is_some() && !is_stale("motion");
        let mut left = 4;
        let mut go_on = || {
            left -= 1;
            left > 0
        };
        assert_ne!(work.advance(&mut go_on), Step::Done);
        count += usize::from(is_moved);
    }
    count
}

/// In slices the help is the same as in one go, and with another seed it is not worked out again; gives the work that
/// kept it.
pub fn help_is_kept(design: &mut Design) -> Work {
    let whole = solved(design).help;
    let mut first = Work::begin(design).expect("a design");
    let all = slices_of_help(&mut first);
    assert!(all > 50, "{all}");
    assert_eq!(first.outcome().help, whole);
    design.spread.seed += 1;
    first.change(design).expect("a design");
    // One look at each kind of help.
    let kept = slices_of_help(&mut first);
    assert!(kept <= 3, "{kept}");
    assert_eq!(first.outcome().help, whole);
    first
}
