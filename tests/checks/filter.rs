//! A filter as a whole: its stages together do what SciPy's prototypes say (tests/checks/prototypes.rs
//! holds those), and picked off the shelf they still do.

use polewright::approx::{Family, prototype, transformed};
use polewright::design::{Design, FilterBand, FilterDesign};
use polewright::outcome::FilterOutcome;
use polewright::parts::{OpAmp, Shelf};
use polewright::solve::{Step, Work, solve};

fn filters() -> Vec<FilterDesign> {
    let mut all = Vec::new();
    for family in Family::ALL {
        for band in [
            FilterBand::LowPass,
            FilterBand::HighPass,
            FilterBand::BandPass,
            FilterBand::BandStop,
        ] {
            for (order, headroom) in [(2, false), (3, true), (5, false)] {
                let (pass, pass_high, stop, stop_high) = match band {
                    FilterBand::LowPass => (2e3, 0.0, 5e3, 0.0),
                    FilterBand::HighPass => (5e3, 0.0, 2e3, 0.0),
                    FilterBand::BandPass => (2e3, 4e3, 1e3, 8e3),
                    FilterBand::BandStop => (1e3, 8e3, 2e3, 4e3),
                };
                all.push(FilterDesign {
                    family,
                    band,
                    pass,
                    pass_high,
                    stop,
                    stop_high,
                    stop_db: 40.0,
                    order: Some(order),
                    headroom,
                    gain: 1.5,
                    ..FilterDesign::default()
                });
            }
        }
    }
    all
}

#[test]
fn stages_together_are_the_filter() {
    let (shelf, op_amp) = (Shelf::default(), OpAmp::default());
    let mut checked = 0;
    for filter in filters() {
        let plan = filter.plan().unwrap_or_else(|e| panic!("{filter:?}: {e}"));
        let made = prototype(plan.designed.approximation, plan.designed.order);
        let roots = transformed(&made.expect("a prototype"), plan.designed.band).expect("a band");
        let stages = plan.stages(&shelf, &op_amp).expect("stages");
        assert_eq!(stages.len(), plan.sections.len());
        // A notch's ask says no gain of its own, so filters with one are looked at section by section.
        let goals: Vec<_> = stages
            .iter()
            .map(|stage| stage.ask.yardstick().goal(1.0))
            .collect();
        for k in 0..60 {
            let f = 200.0 * 10f64.powf(f64::from(k) / 20.0);
            let wanted = roots.at(f).norm() * filter.gain;
            let by_sections: f64 = plan.sections.iter().map(|s| s.at(f).norm()).product();
            assert!((by_sections - wanted).abs() < 1e-8, "{filter:?} {f}");
            if goals.iter().all(Option::is_some) {
                let found: f64 = goals
                    .iter()
                    .flatten()
                    .map(|goal| goal.at(f).norm())
                    .product();
                // Asks are written with six digits.
                assert!(
                    (found - wanted).abs() < 2e-3 * wanted.max(0.02),
                    "{filter:?} {f}: {found} for {wanted}"
                );
                checked += 1;
            }
        }
        for stage in &stages {
            assert!(stage.ask.asked().conflicts().is_empty(), "{stage:?}");
        }
    }
    assert!(checked > 2000, "{checked}");
}

#[test]
fn an_eighth_order_path_comes_off_the_shelf() {
    let filter = FilterDesign {
        order: Some(8),
        ripple_db: 3.0103,
        ..FilterDesign::default()
    };
    let mut design = Design::default();
    let plan = filter.plan().expect("a plan");
    design.stages = plan
        .stages(&design.shelf, &design.op_amp.op_amp())
        .expect("stages");
    design.view.compare = false;
    design.view.contributions = false;
    design.view.propose = false;
    design.spread.boards = 300;
    let outcome = solve(&design).expect("an outcome");
    assert_eq!(outcome.stages.len(), 4);
    let path = outcome.path.expect("a path");
    assert_eq!((path.sign, path.loadings.len()), (1, 3));
    let curves = path.curves.expect("curves");
    // |H|² = 1/(1 + (f/fc)^16), Butterworth's own definition.
    for (f, db) in curves.frequency.iter().zip(&curves.real.magnitude_db) {
        let wanted = -10.0 * (1.0 + (f / filter.pass).powi(16)).log10();
        if wanted > -60.0 {
            assert!((db - wanted).abs() < 1.0, "{f} Hz: {db} for {wanted} dB");
        }
    }
    let spread = outcome.spread.expect("a spread");
    let whole = spread.path.expect("a path's spread");
    // Stages share no part, and no lot here: each holds its limits on its own, so that shares multiply, within what
    // 300 boards scatter (four standard deviations of a binomial share).
    let product: f64 = whole.stages.iter().product();
    let scatter = 4.0 * (product * (1.0 - product) / 300.0).sqrt();
    let share = whole.share.fraction;
    assert!((share - product).abs() <= scatter, "{share} and {product}");
    let least = whole.stages.iter().copied().fold(1.0, f64::min);
    assert!(share <= least, "{share} and {least}");
}

#[test]
fn what_cannot_be_had_is_said() {
    let too_steep = FilterDesign {
        stop: 5.1e3,
        stop_db: 80.0,
        ..FilterDesign::default()
    };
    let sentence = too_steep.plan().expect_err("too steep");
    assert!(
        sentence.ends_with('.') && sentence.contains("order"),
        "{sentence}"
    );
    let backwards = FilterDesign {
        stop: 1e3,
        ..FilterDesign::default()
    };
    assert!(backwards.plan().expect_err("backwards").ends_with('.'));
}

/// What the outcome tells of the filter, in a path without stages.
fn told(filter: FilterDesign) -> FilterOutcome {
    let design = Design {
        filter,
        stages: Vec::new(),
        ..Design::default()
    };
    let mut work = Work::begin(&design).expect("a design");
    while work.advance(&mut || true) != Step::Done {}
    work.outcome().filter.expect("a filter")
}

/// The outcome's stages, put in a path, are the filter, and each is named and said in words.
#[test]
fn the_outcome_tells_the_filter() {
    for filter in filters() {
        let plan = filter.plan().expect("a plan");
        let stages = plan.stages(&Shelf::default(), &OpAmp::default());
        let found = told(filter.clone());
        assert_eq!((&found.of, &found.told), (&filter, &plan.told()));
        assert_eq!(found.order, filter.order);
        assert_eq!(Ok(found.path()), stages);
        for stage in &found.stages {
            assert!(!stage.title.is_empty() && !stage.wanted.is_empty());
        }
    }
}

/// A filter that cannot be had is no error of the design: the outcome says why.
#[test]
fn a_filter_that_cannot_be_had_is_told() {
    let found = told(FilterDesign {
        stop: 4e3,
        ..FilterDesign::default()
    });
    assert_eq!((found.order, found.path()), (None, Vec::new()));
    assert!(found.told.contains("stop"), "{}", found.told);
}
