//! Magnitude, phase, group delay and step of a stage or of the path: the ask, the bought parts with an ideal op amp and
//! with the real one, and the bands over all boards.

use super::between::between;
use super::plot::{Axis, Pen, Plot, Stripe};
use super::ticks::{linear_ticks, log_ticks, minus};
use crate::outcome::{Curve, Curves, SlowBand, SpreadOutcome};
use crate::quantity::{Unit, rounded};
use crate::spread::Band;

/// The charts of a response, in their order on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Response {
    Magnitude,
    Phase,
    Delay,
    Step,
}

impl Response {
    pub const ALL: [Response; 4] = [
        Response::Magnitude,
        Response::Phase,
        Response::Delay,
        Response::Step,
    ];

    pub fn title(self) -> &'static str {
        match self {
            Response::Magnitude => "Magnitude",
            Response::Phase => "Phase",
            Response::Delay => "Group delay",
            Response::Step => "Step",
        }
    }

    /// The values that it draws.
    pub fn values(self, curve: &Curve) -> &[f64] {
        match self {
            Response::Magnitude => &curve.magnitude_db,
            Response::Phase => &curve.phase_deg,
            Response::Delay => &curve.delay,
            Response::Step => &curve.step,
        }
    }

    fn band<'a>(self, bands: &Bands<'a>) -> Option<&'a Band> {
        match self {
            Response::Magnitude => Some(bands.magnitude),
            Response::Phase => Some(bands.phase),
            Response::Delay => Some(&bands.slow?.delay),
            Response::Step => Some(&bands.slow?.step),
        }
    }

    /// A value of the vertical axis as the cursor reads it.
    pub fn text(self, value: f64) -> String {
        match self {
            Response::Magnitude if value < -200.0 => "null".into(),
            Response::Magnitude => minus(format!("{value:.1} dB")),
            Response::Phase => minus(format!("{value:.1}°")),
            Response::Delay => rounded(value, Unit::Second, 3),
            Response::Step => minus(format!("{value:.3}")),
        }
    }

    /// Least and most of both curves of bought parts.
    fn extremes(self, curves: &Curves) -> (f64, f64) {
        let ends = |curve: &Curve, pick: fn(f64, f64) -> f64| {
            self.values(curve)
                .iter()
                .copied()
                .filter(|v| v.is_finite())
                .reduce(pick)
                .unwrap_or(0.0)
        };
        (
            ends(&curves.real, f64::min).min(ends(&curves.ideal, f64::min)),
            ends(&curves.real, f64::max).max(ends(&curves.ideal, f64::max)),
        )
    }

    /// What these shares of both curves lie below, in even steps along the axis: where points stand close is no measure
    /// of weight.
    fn quantiles(self, curves: &Curves, shares: [f64; 2]) -> [f64; 2] {
        let xs = self.xs(curves);
        let (first, last) = (
            xs.first().copied().unwrap_or(0.0),
            xs.last().copied().unwrap_or(1.0),
        );
        let mut values: Vec<f64> = [&curves.real, &curves.ideal]
            .into_iter()
            .flat_map(|curve| {
                let ys = self.values(curve);
                (0..=120).map(move |k| {
                    between(xs, ys, first * (last / first).powf(f64::from(k) / 120.0))
                })
            })
            .filter(|v| v.is_finite())
            .collect();
        values.sort_by(f64::total_cmp);
        let last = (values.len().max(1) - 1) as f64;
        shares.map(|share| values.get((last * share) as usize).copied().unwrap_or(0.0))
    }

    fn y_axis(self, curves: &Curves) -> Axis {
        let (least, most) = self.extremes(curves);
        match self {
            Response::Magnitude => {
                let low = (least.max(-110.0) / 10.0).floor() * 10.0 - 5.0;
                let high = (most / 5.0).ceil() * 5.0 + 3.0;
                let ticks = linear_ticks(low, high, 7, &[1.0, 2.0, 5.0], |v| {
                    minus(format!("{v:.0} dB"))
                });
                Axis { low, high, ticks }
            }
            Response::Phase => {
                let room = ((most - least) * 0.08).max(5.0);
                let (low, high) = ((least - room).max(-190.0), (most + room).min(190.0));
                let ticks = linear_ticks(low, high, 6, &[1.0, 1.5, 3.0, 4.5, 9.0], |v| {
                    minus(format!("{v:.0}°"))
                });
                Axis { low, high, ticks }
            }
            Response::Delay => {
                // At the bottom of a null the delay knows no bounds: the axis does.
                let [least, most] = self.quantiles(curves, [0.04, 0.96]);
                let room = ((most - least) * 0.25).max(1e-9);
                let (low, high) = (least - room, most + room);
                let ticks = linear_ticks(low, high, 5, &[1.0, 2.0, 5.0], |v| {
                    rounded(v, Unit::Second, 3)
                });
                Axis { low, high, ticks }
            }
            Response::Step => {
                let room = ((most - least) * 0.08).max(0.02);
                let (low, high) = (least - room, most + room);
                let ticks =
                    linear_ticks(low, high, 5, &[1.0, 2.0, 5.0], |v| rounded(v, Unit::One, 3));
                Axis { low, high, ticks }
            }
        }
    }

    /// What it is drawn over: Hz, or s.
    pub fn xs(self, curves: &Curves) -> &[f64] {
        if self == Response::Step {
            &curves.time
        } else {
            &curves.frequency
        }
    }

    fn x_axis(self, curves: &Curves) -> Axis {
        let ends = |v: &[f64]| {
            (
                v.first().copied().unwrap_or(1.0),
                v.last().copied().unwrap_or(10.0),
            )
        };
        if self == Response::Step {
            let (low, high) = ends(&curves.time);
            let ticks = linear_ticks(low, high, 6, &[1.0, 2.0, 5.0], |v| {
                rounded(v, Unit::Second, 3)
            });
            return Axis { low, high, ticks };
        }
        let (low, high) = ends(&curves.frequency);
        let (low, high) = (low.log10(), high.log10());
        Axis {
            low,
            high,
            ticks: log_ticks(low, high, Unit::Hertz),
        }
    }

    /// The chart; with the bands over all boards, where there are some.
    pub fn plot(self, curves: &Curves, boards: Option<&Bands>) -> Plot {
        let xs: Vec<f64> = if self == Response::Step {
            curves.time.clone()
        } else {
            curves.frequency.iter().map(|f| f.log10()).collect()
        };
        let line = |curve: &Curve| {
            xs.iter()
                .copied()
                .zip(self.values(curve).iter().copied())
                .collect::<Vec<_>>()
        };
        let along = |boards: &Bands| match self {
            Response::Step => curves.time.clone(),
            _ => boards.frequency.iter().map(|f| f.log10()).collect(),
        };
        Plot {
            x: self.x_axis(curves),
            y: self.y_axis(curves),
            bands: boards.map_or_else(Vec::new, |boards| boards.over(self, &along(boards))),
            lines: vec![
                (line(&curves.ask), Pen::Asked),
                (line(&curves.ideal), Pen::Ideal),
                (line(&curves.real), Pen::Real),
            ],
            ..Plot::default()
        }
    }
}

/// The bands over all boards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bands<'a> {
    frequency: &'a [f64],
    magnitude: &'a Band,
    phase: &'a Band,
    slow: Option<&'a SlowBand>,
}

impl Bands<'_> {
    /// Extremes and quantiles over frequency, as they are filled.
    pub fn stripes(&self, response: Response) -> Vec<Stripe> {
        let along: Vec<f64> = self.frequency.iter().map(|f| f.log10()).collect();
        self.over(response, &along)
    }

    fn over(&self, response: Response, along: &[f64]) -> Vec<Stripe> {
        let Some(band) = response.band(self) else {
            return Vec::new();
        };
        let between = |low: &[f64], high: &[f64]| {
            let ends = along.iter().zip(low).zip(high);
            ends.map(|((&f, &l), &h)| (f, l, h)).collect::<Vec<_>>()
        };
        let stripe = |low: &[f64], high: &[f64], opacity| Stripe {
            points: between(low, high),
            opacity,
            pen: Pen::Real,
        };
        vec![
            stripe(&band.low, &band.high, 0.12),
            stripe(&band.q05, &band.q95, 0.20),
        ]
    }
}

impl<'a> Bands<'a> {
    /// Of the shown stage.
    pub fn of_stage(spread: &'a SpreadOutcome) -> Bands<'a> {
        Bands {
            frequency: &spread.frequency,
            magnitude: &spread.magnitude_db,
            phase: &spread.phase_deg,
            slow: spread.slow.as_ref(),
        }
    }

    /// Of the whole path, where it is more than one stage.
    pub fn of_path(spread: &'a SpreadOutcome) -> Option<Bands<'a>> {
        let path = spread.path.as_ref()?;
        Some(Bands {
            frequency: &spread.frequency,
            magnitude: &path.magnitude_db,
            phase: &path.phase_deg,
            slow: path.slow.as_ref(),
        })
    }
}
