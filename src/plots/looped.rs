//! The curves of plant and loop: measured points as small open circles, what the model makes of it as a
//! line.

use super::plot::{Axis, Pen, Plot};
use super::ticks::{linear_ticks, log_ticks, minus};
use crate::outcome::{LoopOutcome, ServoOutcome, Shape};
use crate::quantity::{Unit, rounded};

/// How much of a magnitude axis is shown below its top, dB.
const DEEP: f64 = 200.0;

/// A phase on the Nichols chart, from −360° to 0°.
pub fn turned(degrees: f64) -> f64 {
    if degrees > 0.0 {
        degrees - 360.0
    } else {
        degrees
    }
}

fn lg(frequency: &[f64]) -> impl Iterator<Item = f64> {
    frequency.iter().map(|f| f.log10())
}

fn pairs(x: impl Iterator<Item = f64>, y: &[f64]) -> Vec<(f64, f64)> {
    x.zip(y.iter().copied()).collect()
}

pub(super) fn frequency_axis<'a>(shapes: impl IntoIterator<Item = &'a Shape>) -> Option<Axis> {
    let (mut low, mut high) = (f64::INFINITY, 0.0f64);
    for shape in shapes {
        low = low.min(*shape.frequency.first()?);
        high = high.max(*shape.frequency.last()?);
    }
    let (low, high) = (low.log10(), high.log10());
    (low < high).then(|| Axis {
        low,
        high,
        ticks: log_ticks(low, high, Unit::Hertz),
    })
}

pub(super) fn decibel_axis<'a>(values: impl IntoIterator<Item = &'a [f64]>) -> Axis {
    let (low, high) = values
        .into_iter()
        .flatten()
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(*v), high.max(*v))
        });
    let high = (high / 10.0).ceil() * 10.0 + 5.0;
    let low = (low.max(high - DEEP) / 10.0).floor() * 10.0 - 5.0;
    Axis {
        low,
        high,
        ticks: linear_ticks(low, high, 6, &[1.0, 2.0, 5.0], |v| {
            minus(format!("{v:.0} dB"))
        }),
    }
}

pub(super) fn degree_axis() -> Axis {
    let (low, high) = (-190.0, 190.0);
    Axis {
        low,
        high,
        ticks: linear_ticks(low, high, 6, &[4.5, 9.0], |v| minus(format!("{v:.0}°"))),
    }
}

/// Values over frequencies (Hz), as points of a chart.
pub(super) fn over(frequency: &[f64], values: &[f64]) -> Vec<(f64, f64)> {
    pairs(lg(frequency), values)
}

/// A chart over frequency of what was measured and what the model makes of it.
fn over_frequency(
    measured: Option<&Shape>,
    modelled: Option<&Shape>,
    values: fn(&Shape) -> &[f64],
    y: impl FnOnce(&[&[f64]]) -> Axis,
    guides: &[f64],
) -> Option<Plot> {
    let shapes: Vec<&Shape> = measured.into_iter().chain(modelled).collect();
    let x = frequency_axis(shapes.iter().copied())?;
    let all: Vec<&[f64]> = shapes.iter().map(|shape| values(shape)).collect();
    let along = |shape: &Shape| pairs(lg(&shape.frequency), values(shape));
    let across = |at: &f64| (vec![(x.low, *at), (x.high, *at)], Pen::Guide);
    let mut lines: Vec<_> = guides.iter().map(across).collect();
    lines.extend(modelled.map(|shape| (along(shape), Pen::Real)));
    Some(Plot {
        y: y(&all),
        x,
        lines,
        points: measured.map(along).unwrap_or_default(),
        ..Plot::default()
    })
}

fn magnitude(shape: &Shape) -> &[f64] {
    &shape.magnitude_db
}

fn phase(shape: &Shape) -> &[f64] {
    &shape.phase_deg
}

/// The plant's magnitude, with the shaft's modes dashed.
pub fn plant_magnitude(servo: &ServoOutcome) -> Option<Plot> {
    let plant = &servo.plant;
    let axis = |values: &[&[f64]]| decibel_axis(values.iter().copied());
    let mut plot = over_frequency(
        plant.measured.as_ref(),
        plant.modelled.as_ref(),
        magnitude,
        axis,
        &[],
    )?;
    let (low, high) = (plot.y.low, plot.y.high);
    let upright = |f: &f64| (vec![(f.log10(), low), (f.log10(), high)], Pen::Ideal);
    plot.lines.extend(plant.shaft_modes.iter().map(upright));
    Some(plot)
}

/// The plant's phase.
pub fn plant_phase(servo: &ServoOutcome) -> Option<Plot> {
    let plant = &servo.plant;
    let axis = |_: &[&[f64]]| degree_axis();
    over_frequency(
        plant.measured.as_ref(),
        plant.modelled.as_ref(),
        phase,
        axis,
        &[],
    )
}

/// The open loops, measured and modelled.
fn open(servo: &ServoOutcome) -> (Option<&Shape>, Option<&Shape>) {
    (
        servo.measured.as_ref().map(|l| &l.open),
        servo.modelled.as_ref().map(|l| &l.open),
    )
}

/// The open loop's magnitude against the gain of 1.
pub fn open_magnitude(servo: &ServoOutcome) -> Option<Plot> {
    let (measured, modelled) = open(servo);
    open_magnitudes(measured, modelled)
}

/// Magnitudes of open loops against the gain of 1.
pub fn open_magnitudes(measured: Option<&Shape>, modelled: Option<&Shape>) -> Option<Plot> {
    let axis = |values: &[&[f64]]| decibel_axis(values.iter().copied());
    over_frequency(measured, modelled, magnitude, axis, &[0.0])
}

/// The open loop's phase against the phase margin that is asked.
pub fn open_phase(servo: &ServoOutcome) -> Option<Plot> {
    let (measured, modelled) = open(servo);
    let at = -180.0 + servo.asked.phase_margin;
    over_frequency(measured, modelled, phase, |_| degree_axis(), &[at])
}

/// Of a loop's closed curves.
fn of_closed(servo: &ServoOutcome, values: fn(&LoopOutcome) -> &Vec<f64>) -> Option<Plot> {
    let shape = |l: &LoopOutcome| Shape {
        frequency: l.open.frequency.clone(),
        magnitude_db: values(l).clone(),
        phase_deg: Vec::new(),
    };
    let measured = servo.measured.as_ref().map(shape);
    let modelled = servo.modelled.as_ref().map(shape);
    let axis = |values: &[&[f64]]| decibel_axis(values.iter().copied());
    over_frequency(
        measured.as_ref(),
        modelled.as_ref(),
        magnitude,
        axis,
        &[20.0 * servo.asked.sensitivity.log10()],
    )
}

/// |1/(1 + L)| against the largest that is allowed.
pub fn sensitivity(servo: &ServoOutcome) -> Option<Plot> {
    of_closed(servo, |l| &l.sensitivity_db)
}

/// |L/(1 + L)|, likewise.
pub fn closed(servo: &ServoOutcome) -> Option<Plot> {
    of_closed(servo, |l| &l.complementary_db)
}

/// The open loop in the plane round −1.
pub fn nyquist(servo: &ServoOutcome) -> Option<Plot> {
    let curve = |l: &LoopOutcome| pairs(l.real.iter().copied(), &l.imaginary);
    let modelled = servo.modelled.as_ref().map(|l| (curve(l), Pen::Real));
    Some(plane(
        servo,
        modelled.into_iter().collect(),
        servo.measured.as_ref().map(curve).unwrap_or_default(),
    ))
}

/// The plane round −1, with the circles of gain 1 and of the sensitivity asked for.
pub fn plane(
    servo: &ServoOutcome,
    curves: Vec<(Vec<(f64, f64)>, Pen)>,
    points: Vec<(f64, f64)>,
) -> Plot {
    let axis = |low: f64, high: f64| Axis {
        low,
        high,
        ticks: linear_ticks(low, high, 6, &[1.0, 2.0, 5.0], |v| {
            minus(rounded(v, Unit::One, 2))
        }),
    };
    let circle = |x: f64, radius: f64| {
        let turn = |k: i32| f64::from(k) * std::f64::consts::TAU / 120.0;
        let points = (0..=120).map(|k| (x + radius * turn(k).cos(), radius * turn(k).sin()));
        (points.collect::<Vec<_>>(), Pen::Guide)
    };
    let mut lines = vec![
        circle(-1.0, 1.0 / servo.asked.sensitivity),
        (vec![(-1.03, 0.0), (-0.97, 0.0)], Pen::Real),
        (vec![(-1.0, -0.03), (-1.0, 0.03)], Pen::Real),
        circle(0.0, 1.0),
    ];
    lines.extend(curves);
    Plot {
        x: axis(-3.0, 1.5),
        y: axis(-3.0, 3.0),
        lines,
        points,
        square: true,
        ..Plot::default()
    }
}

/// Magnitude over phase, the phase from −360° to 0°.
pub fn nichols(servo: &ServoOutcome) -> Option<Plot> {
    let curve = |l: &LoopOutcome| -> Vec<(f64, f64)> {
        let all = l.open.phase_deg.iter().copied().map(turned);
        let mut curve: Vec<(f64, f64)> = Vec::new();
        for (x, y) in all.zip(l.open.magnitude_db.iter().copied()) {
            // Across the chart's edge the curve goes on at the other side.
            if curve
                .last()
                .is_some_and(|(last, _)| (last - x).abs() > 180.0)
            {
                curve.push((f64::NAN, f64::NAN));
            }
            curve.push((x, y));
        }
        curve
    };
    let (phase, gain) = (servo.asked.phase_margin, servo.asked.gain_margin_db);
    let lines = vec![
        (vec![(-180.0, -gain), (-180.0, gain)], Pen::Guide),
        (
            vec![(-180.0 - phase, 0.0), (-180.0 + phase, 0.0)],
            Pen::Guide,
        ),
    ];
    let curves = servo.modelled.as_ref().map(|l| (curve(l), Pen::Real));
    let x = Axis {
        low: -360.0,
        high: 0.0,
        ticks: linear_ticks(-360.0, 0.0, 8, &[4.5, 9.0], |v| minus(format!("{v:.0}°"))),
    };
    let y = Axis {
        low: -45.0,
        high: 45.0,
        ticks: linear_ticks(-45.0, 45.0, 6, &[1.0, 2.0, 5.0], |v| {
            minus(format!("{v:.0} dB"))
        }),
    };
    Some(Plot {
        x,
        y,
        lines: lines.into_iter().chain(curves).collect(),
        points: servo.measured.as_ref().map(curve).unwrap_or_default(),
        ..Plot::default()
    })
}
