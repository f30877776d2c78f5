//! One loop: curves, figures, the phase budget, and what is wrong with it.

use num_complex::Complex64;

use super::traces::{Curves, Traces};
use super::{LoopOf, ModelledLoop};
use crate::design::LoopAsk;
use crate::feedback::{GainCrossing, Margins, OpenLoop, PhaseCrossing, Traced, trace_whole};
use crate::outcome::{Budget, LoopOutcome, Outcome, ServoOutcome, Shape, Share};
use crate::plant::{Plant, PlantUnits};
use crate::quantity::{Unit, exact, rounded};
use crate::solve::at_once::AtOnce;
use crate::solve::plant::{self, decibels, shape};
use crate::solve::shaft::ShaftModes;
use crate::solve::task::{Asked, Blocked, Seen};
use crate::wording::apart;

/// The curve is drawn where |L| lies between these, and at least a decade round the crossover.
const DRAWN: std::ops::RangeInclusive<f64> = 1e-4..=1e5;

/// All that is told of the loop reads.
#[derive(PartialEq)]
pub(in crate::solve) struct LoopReads {
    of: LoopOf,
    traced: Seen<Curves>,
    asked: LoopAsk,
    units: PlantUnits,
    /// Hz
    shaft_modes: Vec<f64>,
}

/// Plant and loop, as they are told.
#[derive(Default)]
pub(in crate::solve) struct Loop;

impl AtOnce for Loop {
    const FIELD: &'static str = "servo";
    type Reads = LoopReads;
    type Finds = ServoOutcome;

    fn reads(asked: &Asked) -> Result<Option<LoopReads>, Blocked> {
        let of = LoopOf::reads(asked)?;
        let traced = asked.found::<Traces>()?;
        let shaft = asked.found::<ShaftModes>()?;
        let modes = shaft.map(|shaft| shaft.modes.iter().map(|mode| mode.frequency).collect());
        Ok(of.zip(traced).map(|(of, traced)| LoopReads {
            of,
            traced,
            asked: asked.design.servo.asked,
            units: asked.design.servo.units.clone(),
            shaft_modes: modes.unwrap_or_default(),
        }))
    }

    fn find(&mut self, reads: &LoopReads) -> ServoOutcome {
        reads.told()
    }

    fn tell(_: &LoopReads, found: &ServoOutcome, outcome: &mut Outcome) {
        outcome.servo = Some(found.clone());
    }
}

impl LoopReads {
    fn told(&self) -> ServoOutcome {
        let own = self.of.modelled();
        let (measured, modelled) = (self.of.measured(), own.as_ref().map(ModelledLoop::open));
        let outcome = |open: &Option<OpenLoop>, traced: Option<&[Traced]>| {
            let both = open.as_ref().zip(traced);
            both.map(|(open, traced)| describe(open, traced, &self.asked))
        };
        let measured_outcome = outcome(&measured, self.traced.measured.as_deref());
        let traced = self.traced.modelled.as_ref();
        let modelled_outcome = outcome(&modelled, traced.map(|traced| &traced[..]));
        let told = modelled_outcome.as_ref().or(measured_outcome.as_ref());
        let best = modelled.as_ref().or(measured.as_ref());
        let lines = self.of.lines.iter();
        let titles: Vec<&str> = lines
            .map(|line| line.found.outcome.title.as_str())
            .collect();
        ServoOutcome {
            plant: plant::describe(&self.of.plant, &self.units, self.shaft_modes.clone()),
            asked: self.asked,
            budget: best
                .zip(told)
                .and_then(|(open, told)| budget(open, told, &titles, &self.units)),
            warnings: best
                .zip(told)
                .map_or_else(Vec::new, |(open, told)| warnings(open, told, &self.asked)),
            spread: None,
            measured: measured_outcome,
            modelled: modelled_outcome,
        }
    }
}

/// `traced` is the loop's whole curve.
fn describe(open: &OpenLoop, traced: &[Traced], asked: &LoopAsk) -> LoopOutcome {
    let margins = Margins::read(open, traced);
    let mut drawn = drawn(traced, &margins).to_vec();
    if let Plant::Sweep(sweep) = open.plant {
        // What is drawn as measured was measured.
        let is_measured = |t: &Traced| {
            let points = &sweep.points;
            points
                .binary_search_by(|p| p.frequency.total_cmp(&t.frequency))
                .is_ok()
        };
        drawn.retain(is_measured);
    }
    let l = |t: &Traced| t.open;
    LoopOutcome {
        unstable_poles: open.unstable_poles(traced),
        rejection_db: decibels((1.0 / (1.0 + open.at(asked.reject_at))).norm()),
        open: shape(
            drawn.iter().map(|t| t.frequency).collect(),
            drawn.iter().map(l),
        ),
        real: drawn.iter().map(|t| t.open.re).collect(),
        imaginary: drawn.iter().map(|t| t.open.im).collect(),
        sensitivity_db: drawn
            .iter()
            .map(|t| decibels((1.0 / (1.0 + t.open)).norm()))
            .collect(),
        complementary_db: drawn
            .iter()
            .map(|t| decibels((t.open / (1.0 + t.open)).norm()))
            .collect(),
        margins,
    }
}

/// A loop's curve alone: over frequency, and in the plane.
pub(super) fn curve_of(open: &OpenLoop) -> (Shape, Vec<f64>, Vec<f64>) {
    let traced = trace_whole(open);
    let drawn = drawn(&traced, &Margins::read(open, &traced));
    let frequencies = drawn.iter().map(|t| t.frequency).collect();
    (
        shape(frequencies, drawn.iter().map(|t| t.open)),
        drawn.iter().map(|t| t.open.re).collect(),
        drawn.iter().map(|t| t.open.im).collect(),
    )
}

/// The part of a traced curve that is worth drawing.
fn drawn<'a>(traced: &'a [Traced], margins: &Margins) -> &'a [Traced] {
    let crossover = margins.crossover().map(|c| c.frequency);
    let worth = |t: &Traced| {
        DRAWN.contains(&t.open.norm())
            || crossover.is_some_and(|f| (0.1..=10.0).contains(&(t.frequency / f)))
    };
    let first = traced.iter().position(worth).unwrap_or(0);
    let last = traced
        .iter()
        .rposition(worth)
        .map_or(traced.len(), |k| k + 1);
    &traced[first..last]
}

/// Who spends the phase at the crossover; none where |L| never falls through 1.
fn budget(
    open: &OpenLoop,
    told: &LoopOutcome,
    titles: &[&str],
    units: &PlantUnits,
) -> Option<Budget> {
    let crossover = told.margins.crossover()?.frequency;
    let share = |stage: Option<usize>, label: &str, h: Complex64| Share {
        stage,
        label: label.to_owned(),
        phase_deg: h.arg().to_degrees(),
        gain_db: decibels(h.norm()),
        gain_unit: stage.map_or_else(|| units.decibels(), |_| "dB".to_owned()),
    };
    let stages = open.stages.iter().zip(titles).enumerate();
    let mut shares: Vec<Share> = stages
        .map(|(place, (stage, title))| {
            // An inversion belongs to the loop's sign.
            let sign = stage.low_sign();
            share(Some(place), title, sign * stage.at(crossover))
        })
        .collect();
    match open.plant {
        Plant::Model(model) => {
            let turned = Complex64::cis(-std::f64::consts::TAU * crossover * model.delay);
            let rational = model.at(crossover) / turned;
            shares.push(share(None, "plant", model.low_sign() * rational));
            // The delay may turn by more than half a turn, which an angle of a number does not tell.
            shares.push(Share {
                stage: None,
                label: "delay".to_owned(),
                phase_deg: -360.0 * crossover * model.delay,
                gain_db: 0.0,
                gain_unit: "dB".to_owned(),
            });
        }
        Plant::Sweep(sweep) => shares.push(share(None, "plant as measured", sweep.at(crossover))),
    }
    Some(Budget { crossover, shares })
}

/// What is wrong, loudest first.
fn warnings(open: &OpenLoop, told: &LoopOutcome, asked: &LoopAsk) -> Vec<String> {
    let mut warnings = Vec::new();
    let margins = &told.margins;
    if open.net_sign() < 0.0 {
        warnings.push(
            "Positive feedback: path, plant and summing point together have the wrong sign, and the loop diverges as soon as it is \
             closed. Let the summing point add, or put one more inverting stage in the path."
                .to_owned(),
        );
    }
    warnings.extend(of_stability(open, told.unstable_poles));
    if margins.gain_crossings.is_empty() {
        warnings.push(
            "The loop's gain nowhere falls through 1, so there is no crossover: the path's gain does not fit the plant."
                .to_owned(),
        );
    }
    warnings.extend(of_margins(margins, asked));
    warnings
}

fn of_stability(open: &OpenLoop, unstable_poles: Option<usize>) -> Option<String> {
    match unstable_poles {
        Some(0) => None,
        Some(1) => Some(
            "The closed loop is unstable: one of its poles lies in the right half plane."
                .to_owned(),
        ),
        Some(count) => Some(format!(
            "The closed loop is unstable: {count} of its poles lie in the right half plane."
        )),
        None if matches!(open.plant, Plant::Model(_)) => Some(
            "The loop passes so close to −1 that it cannot be said whether it is stable."
                .to_owned(),
        ),
        None => None,
    }
}

/// A margin that is less than is asked.
struct Shortfall {
    /// Where its crossing is, Hz.
    frequency: f64,
    /// The margin, with its sign where it lies on the wrong side.
    margin: f64,
}

/// Margins of one kind that are less than is asked. A long delay has hundreds of them, all much alike: then the worst
/// are told one by one, and of the others how many there are. `skipped` lie between those that are given.
fn of_shortfalls(
    (kind, least, unit): (&str, f64, Unit),
    mut missing: Vec<Shortfall>,
    skipped: usize,
) -> Vec<String> {
    /// So many of the worst.
    const TOLD: usize = 3;
    let edge = |frequency| rounded(frequency, Unit::Hertz, 3);
    let one = |short: &Shortfall| {
        let (margin, least) = apart(short.margin, least, unit, 3);
        let at = edge(short.frequency);
        format!("The {kind} at {at} is {margin}, and at least {least} is required.")
    };
    // One more sentence says as much as one more margin.
    if missing.len() <= TOLD + 1 && skipped == 0 {
        return missing.iter().map(one).collect();
    }
    missing.sort_by(|a, b| a.margin.abs().total_cmp(&b.margin.abs()));
    let (worst, others) = missing.split_at(TOLD.min(missing.len()));
    let mut warnings: Vec<String> = worst.iter().map(one).collect();
    // Those that are skipped lie between the worst, too.
    let among = if skipped > 0 { &missing[..] } else { others };
    let frequencies = among.iter().map(|short| short.frequency);
    let (low, high) = frequencies.fold((f64::INFINITY, 0.0f64), |(low, high), f| {
        (low.min(f), high.max(f))
    });
    warnings.push(format!(
        "{}{} further {kind}s from {} to {} are less than {}, too.",
        if skipped > 0 { "About " } else { "" },
        others.len() + skipped,
        edge(low),
        edge(high),
        exact(least, unit),
    ));
    warnings
}

fn of_gain_margins(crossings: &[PhaseCrossing], asked: &LoopAsk) -> Vec<String> {
    let short = |crossing: &PhaseCrossing| {
        let margin = 20.0 * crossing.gain_margin.log10();
        (margin.abs() < asked.gain_margin_db).then_some(Shortfall {
            frequency: crossing.frequency,
            margin,
        })
    };
    let is_short = |crossing: &PhaseCrossing| short(crossing).is_some();
    let between = |pair: &&[PhaseCrossing]| is_short(&pair[0]) && is_short(&pair[1]);
    let skipped = crossings.windows(2).filter(between);
    let skipped = skipped.map(|pair| pair[0].skipped).sum();
    let asked = ("gain margin", asked.gain_margin_db, Unit::Decibel);
    of_shortfalls(asked, crossings.iter().filter_map(short).collect(), skipped)
}

fn of_phase_margins(crossings: &[GainCrossing], asked: &LoopAsk) -> Vec<String> {
    let short = |crossing: &GainCrossing| {
        let margin = crossing.phase_margin;
        (margin.abs() < asked.phase_margin).then_some(Shortfall {
            frequency: crossing.frequency,
            margin,
        })
    };
    let asked = ("phase margin", asked.phase_margin, Unit::Degree);
    of_shortfalls(asked, crossings.iter().filter_map(short).collect(), 0)
}

/// Margins that are less than is asked.
fn of_margins(margins: &Margins, asked: &LoopAsk) -> Vec<String> {
    let mut warnings = of_phase_margins(&margins.gain_crossings, asked);
    warnings.extend(of_gain_margins(&margins.phase_crossings, asked));
    if let Some((peak, frequency)) = margins.sensitivity_peak
        && peak > asked.sensitivity
    {
        let (peak, most) = apart(peak, asked.sensitivity, Unit::One, 3);
        let at = rounded(frequency, Unit::Hertz, 3);
        warnings.push(format!(
            "The sensitivity peaks at {peak} at {at}, and {most} at most is required."
        ));
    }
    warnings
}
