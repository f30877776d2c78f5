//! What is kept from one design to the next: nothing that does not hold, and all that does.

use polewright::design::{Design, InputError, fields};
use polewright::solve::{Step, Work, solve};
use serde_json::Value;

use super::asks::Random;
use super::designs::quiet;

/// Works to the end; the fields that were found anew, each once.
fn found(work: &mut Work) -> Vec<&'static str> {
    let mut found = Vec::new();
    loop {
        match work.advance(&mut || true) {
            Step::Found(field) if !found.contains(&field) => found.push(field),
            Step::Done => return found,
            _ => {}
        }
    }
}

fn with_plant() -> Design {
    let mut design = quiet(Design::default(), 100);
    design.servo.sweep = polewright::plant::sweep::DEMO.to_owned();
    design.stages.push(design.stages[0].clone());
    design
}

#[test]
fn what_is_not_read_is_not_worked_out_again() {
    let design = with_plant();
    let mut work = Work::begin(&design).expect("a design");
    assert!(found(&mut work).len() > 8);
    let mut after = |edit: &dyn Fn(&mut Design)| {
        let mut changed = design.clone();
        edit(&mut changed);
        work.change(&changed).expect("a design");
        let new = found(&mut work);
        work.change(&design).expect("a design");
        found(&mut work);
        new
    };
    assert_eq!(after(&|_| {}), [""; 0]);
    assert_eq!(after(&|d| d.spread.wanted = 0.5), [""; 0]);
    assert_eq!(
        after(&|d| d.spread.seed += 1),
        ["boards", "spread", "loops"]
    );
    assert_eq!(
        after(&|d| d.servo.asked.phase_margin = 33.0),
        ["servo", "loops"]
    );
    assert_eq!(
        after(&|d| d.servo.motion.settle_band = 0.03),
        ["motion", "loops"]
    );
    // A pin to what the part is anyway: other picks, the same loop.
    let part = &work_parts(&design)[0];
    let pinned = |d: &mut Design| {
        d.stages[0].pins.insert(part.0.clone(), part.1);
    };
    let new = after(&pinned);
    assert!(new.contains(&"picks") && !new.contains(&"plant"), "{new:?}");
}

fn work_parts(design: &Design) -> Vec<(String, f64)> {
    let outcome = solve(design).expect("an outcome");
    let parts = outcome.stages[0].parts.iter();
    parts.map(|part| (part.name.clone(), part.value)).collect()
}

/// An error belongs to its task: others go on, and nothing is lost by it.
#[test]
fn an_error_loses_nobody_elses_work() {
    let design = with_plant();
    let mut work = Work::begin(&design).expect("a design");
    found(&mut work);
    let before = work.outcome();
    let mut broken = design.clone();
    broken.stages[1].pins.insert("R99".to_owned(), 1e3);
    broken.servo.fit.most_modes = 2;
    work.change(&broken).expect("only the search can tell");
    // The plant is fitted anew all the same.
    assert_eq!(found(&mut work), ["plant"]);
    let errors: Vec<InputError> = work.errors();
    assert_eq!(errors.len(), 1);
    assert_eq!(errors[0].path, "/stages/1/pins/R99");
    let outcome = work.outcome();
    assert_eq!(outcome.stages, before.stages);
    let is_stale = |field: &str| outcome.stale.iter().any(|stale| stale == field);
    assert!(is_stale("stages") && is_stale("servo") && is_stale("spread") && !is_stale("shaft"));
    assert!(solve(&broken).is_err());
    work.change(&design).expect("a design");
    // Only what was begun for the broken design is worked out once more.
    let again = found(&mut work);
    assert!(
        !again.contains(&"stages") && !again.contains(&"spread"),
        "{again:?}"
    );
    assert!(work.errors().is_empty() && work.outcome().stale.is_empty());
}

/// A design that is refused leaves everything as it was.
#[test]
fn a_refused_design_changes_nothing() {
    let design = quiet(Design::default(), 100);
    let mut work = Work::begin(&design).expect("a design");
    found(&mut work);
    let mut bad = design.clone();
    bad.op_amp.gain_bandwidth = -1.0;
    assert!(work.change(&bad).is_err());
    assert_eq!(work.design(), &design);
    assert_eq!(work.outcome().whole(), solve(&design).expect("an outcome"));
}

/// However a design was come by, and wherever the work before it was broken off, what comes out is what comes out of the
/// design alone.
#[test]
fn what_is_kept_is_what_would_be_found() {
    let mut draws = Random(17);
    let mut random = || draws.next();
    let mut design = with_plant();
    let mut work = Work::begin(&design).expect("a design");
    let text =
        |outcome: polewright::outcome::Outcome| serde_json::to_string(&outcome).expect("JSON");
    let mut compared = 0;
    for round in 0..84 {
        let mut left = random() as usize % 400;
        while left > 0 && work.advance(&mut || false) != Step::Done {
            left -= 1;
        }
        let Some(next) = edited(&design, &mut random) else {
            continue;
        };
        design = next;
        if work.change(&design).is_err() || round % 4 != 0 {
            continue;
        }
        found(&mut work);
        match solve(&design) {
            Ok(outcome) => assert!(text(work.outcome().whole()) == text(outcome), "{round}"),
            Err(errors) => assert_eq!(work.errors(), errors),
        }
        compared += 1;
    }
    assert!(compared > 8, "{compared}");
}

/// One field a little different, a stage more or less, or another one shown.
fn edited(design: &Design, random: &mut impl FnMut() -> u64) -> Option<Design> {
    let mut next = design.clone();
    let count = next.stages.len();
    match random() % 8 {
        0 if count < 3 => next.stages.push(next.stages[0].clone()),
        1 if count > 1 => {
            next.stages.remove(random() as usize % count);
            next.view.stage = 0;
        }
        2 => next.view.stage = random() as usize % count,
        _ => {
            let all = fields(design);
            let (_, field) = &all[random() as usize % all.len()];
            let tree = serde_json::to_value(design).ok()?;
            let value = tree.pointer(&field.path).cloned().unwrap_or(Value::Null);
            let steps = 1 + (random() % 3) as i32;
            let stepped = field.stepped(&value, steps)?;
            next = design.with(&field.path, stepped).ok()?;
        }
    }
    // So that each comparison takes no longer than needed.
    next.spread.boards = next.spread.boards.min(120);
    Some(next)
}
