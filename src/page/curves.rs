//! The Curves region: magnitude, phase, group delay and step, each with the ask, the bought parts
//! with an ideal op amp, and the bought parts with the real one; and a cursor that reads them.

use std::sync::Arc;

use crate::page::prelude::*;
use leptos::html::Canvas;

use super::cursor::{Along, Cursor, between};
use super::desk::Desk;
use super::field::Fields;
use super::{sight, turns};
use crate::design::Group;
use crate::outcome::{Curve, Curves as Data, SlowBand, SpreadOutcome};
use crate::plots::{Axis, Pen, Plot, Stripe, linear_ticks, log_ticks};
use crate::quantity::{Unit, rounded};
use crate::spread::Band;

/// The charts, in their order on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Chart {
    Magnitude,
    Phase,
    Delay,
    Step,
}

impl Chart {
    fn title(self) -> &'static str {
        match self {
            Chart::Magnitude => "Magnitude",
            Chart::Phase => "Phase",
            Chart::Delay => "Group delay",
            Chart::Step => "Step",
        }
    }

    fn values(self, curve: &Curve) -> &[f64] {
        match self {
            Chart::Magnitude => &curve.magnitude_db,
            Chart::Phase => &curve.phase_deg,
            Chart::Delay => &curve.delay,
            Chart::Step => &curve.step,
        }
    }

    fn band<'a>(self, bands: &Bands<'a>) -> Option<&'a Band> {
        match self {
            Chart::Magnitude => Some(bands.magnitude),
            Chart::Phase => Some(bands.phase),
            Chart::Delay => Some(&bands.slow?.delay),
            Chart::Step => Some(&bands.slow?.step),
        }
    }

    fn text(self, value: f64) -> String {
        match self {
            Chart::Magnitude if value < -200.0 => "null".into(),
            Chart::Magnitude => format!("{value:.1} dB").replace('-', "−"),
            Chart::Phase => format!("{value:.1}°").replace('-', "−"),
            Chart::Delay => rounded(value, Unit::Second, 3),
            Chart::Step => format!("{value:.3}").replace('-', "−"),
        }
    }

    /// Least and most of both curves of bought parts.
    fn extremes(self, curves: &Data) -> (f64, f64) {
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
    fn quantiles(self, curves: &Data, shares: [f64; 2]) -> [f64; 2] {
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

    fn y_axis(self, curves: &Data) -> Axis {
        let (least, most) = self.extremes(curves);
        let minus = |text: String| text.replace('-', "−");
        match self {
            Chart::Magnitude => {
                let low = (least.max(-110.0) / 10.0).floor() * 10.0 - 5.0;
                let high = (most / 5.0).ceil() * 5.0 + 3.0;
                let ticks = linear_ticks(low, high, 7, &[1.0, 2.0, 5.0], |v| {
                    minus(format!("{v:.0} dB"))
                });
                Axis { low, high, ticks }
            }
            Chart::Phase => {
                let room = ((most - least) * 0.08).max(5.0);
                let (low, high) = ((least - room).max(-190.0), (most + room).min(190.0));
                let ticks = linear_ticks(low, high, 6, &[1.0, 1.5, 3.0, 4.5, 9.0], |v| {
                    minus(format!("{v:.0}°"))
                });
                Axis { low, high, ticks }
            }
            Chart::Delay => {
                // At the bottom of a null the delay knows no bounds: the axis does.
                let [least, most] = self.quantiles(curves, [0.04, 0.96]);
                let room = ((most - least) * 0.25).max(1e-9);
                let (low, high) = (least - room, most + room);
                let ticks = linear_ticks(low, high, 5, &[1.0, 2.0, 5.0], |v| {
                    rounded(v, Unit::Second, 3)
                });
                Axis { low, high, ticks }
            }
            Chart::Step => {
                let room = ((most - least) * 0.08).max(0.02);
                let (low, high) = (least - room, most + room);
                let ticks =
                    linear_ticks(low, high, 5, &[1.0, 2.0, 5.0], |v| rounded(v, Unit::One, 3));
                Axis { low, high, ticks }
            }
        }
    }

    fn xs(self, curves: &Data) -> &[f64] {
        if self == Chart::Step {
            &curves.time
        } else {
            &curves.frequency
        }
    }

    fn x_axis(self, curves: &Data) -> Axis {
        let ends = |v: &[f64]| {
            (
                v.first().copied().unwrap_or(1.0),
                v.last().copied().unwrap_or(10.0),
            )
        };
        if self == Chart::Step {
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

    fn plot(self, curves: &Data, boards: Option<&Bands>) -> Plot {
        let xs: Vec<f64> = if self == Chart::Step {
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
        let mut bands = Vec::new();
        if let Some((boards, band)) = boards.and_then(|b| Some((b, self.band(b)?))) {
            let along: Vec<f64> = match self {
                Chart::Step => curves.time.clone(),
                _ => boards.frequency.iter().map(|f| f.log10()).collect(),
            };
            let between = |low: &[f64], high: &[f64]| {
                along
                    .iter()
                    .zip(low)
                    .zip(high)
                    .map(|((&f, &l), &h)| (f, l, h))
                    .collect::<Vec<_>>()
            };
            bands.push(Stripe {
                points: between(&band.low, &band.high),
                opacity: 0.12,
            });
            bands.push(Stripe {
                points: between(&band.q05, &band.q95),
                opacity: 0.20,
            });
        }
        Plot {
            x: self.x_axis(curves),
            y: self.y_axis(curves),
            bands,
            lines: vec![
                (line(&curves.ask), Pen::Asked),
                (line(&curves.ideal), Pen::Ideal),
                (line(&curves.real), Pen::Real),
            ],
            points: Vec::new(),
            dots: Vec::new(),
            square: false,
        }
    }
}

/// The bands over all boards.
struct Bands<'a> {
    frequency: &'a [f64],
    magnitude: &'a Band,
    phase: &'a Band,
    slow: Option<&'a SlowBand>,
}

/// What is drawn: the shown stage, or the whole path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    Stage,
    Path,
}

impl Source {
    /// Looks at the curves.
    fn with_curves<T>(self, desk: Desk, look: impl FnOnce(&Data) -> T) -> Option<T> {
        match self {
            Source::Stage => desk
                .stage
                .with(|stage| Some(look(stage.as_ref()?.curves.as_ref()?))),
            Source::Path => desk
                .path
                .with(|path| Some(look(path.as_ref()?.curves.as_ref()?))),
        }
    }

    fn bands(self, spread: &SpreadOutcome) -> Option<Bands<'_>> {
        let (magnitude, phase, slow) = match (self, &spread.path) {
            (Source::Stage, _) => (&spread.magnitude_db, &spread.phase_deg, &spread.slow),
            (Source::Path, Some(path)) => (&path.magnitude_db, &path.phase_deg, &path.slow),
            (Source::Path, None) => return None,
        };
        Some(Bands {
            frequency: &spread.frequency,
            magnitude,
            phase,
            slow: slow.as_ref(),
        })
    }
}

const CHARTS: [Chart; 4] = [Chart::Magnitude, Chart::Phase, Chart::Delay, Chart::Step];

/// The four charts of a source, one below the other.
#[component]
pub fn Charts(source: Source) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let time = Held::new(None);
    if source == Source::Stage {
        mark_drawn(desk);
    }
    // Bands are drawn when they are whole, and those of before stay until the curves are others.
    let whole = Held::new(0u32);
    Effect::new(move || {
        if desk.spread_is_current.get() {
            whole.update(|times| *times = times.wrapping_add(1));
        }
    });
    CHARTS
        .map(|chart| {
            let cursor = if chart == Chart::Step {
                time
            } else {
                desk.cursor
            };
            view! { <Figure source chart whole cursor /> }
        })
        .collect_nodes()
}

/// Marks the body when parts, figures and curves of a design are drawn: scripts may wait for it.
fn mark_drawn(desk: Desk) {
    Effect::new(move |last: Option<u32>| {
        desk.stage.track();
        let serial = last.map_or(0, |n| n.wrapping_add(1));
        turns::behind(move || {
            if let Some(body) = document().body() {
                // Only fails on a name that is not well formed.
                let _ = body.set_attribute("data-drawn", &serial.to_string());
            }
        });
        serial
    });
}

/// The curves of the shown stage.
#[component]
pub fn Curves() -> impl IntoView {
    let desk = expect_context::<Desk>();
    view! {
        <section class="curves" aria-labelledby="curves-title">
            <h2 id="curves-title">"Curves"</h2>
            <ul class="legend">
                <li><span class="line asked"></span>"required"</li>
                <li><span class="line ideal"></span>"bought parts, ideal op amp"</li>
                <li><span class="line real"></span>"bought parts, real op amp"</li>
                <li><span class="band outer"></span><span class="band inner"></span>"boards: extremes, 5 to 95 %"</li>
            </ul>
            <Charts source=Source::Stage />
            <div class="row">
                <Fields fields=desk.group(Group::View) />
            </div>
        </section>
    }
}

/// One chart with its cursor.
#[component]
fn Figure(
    source: Source,
    chart: Chart,
    whole: Held<u32>,
    cursor: Held<Option<f64>>,
) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let canvas: NodeRef<Canvas> = NodeRef::new();
    sight::follow(desk, canvas, move || {
        whole.track();
        let is_whole = desk.spread_is_current.get_untracked();
        desk.spread.with_untracked(|spread| {
            let spread = spread.as_ref().filter(|_| is_whole);
            let bands = spread.and_then(|spread| source.bands(spread));
            source.with_curves(desk, |curves| Arc::new(chart.plot(curves, bands.as_ref())))
        })
    });
    let along = if chart == Chart::Step {
        Along::Time
    } else {
        Along::Frequency
    };
    let ends = memo(move || {
        let ends = source.with_curves(desk, |curves| {
            let xs = chart.xs(curves);
            Some((*xs.first()?, *xs.last()?))
        });
        ends.flatten()
    });
    let reading = move || {
        let x = cursor.get()?;
        let (low, high) = ends.get()?;
        if !(low..=high).contains(&x) {
            return None;
        }
        let [asked, ideal, real] = source.with_curves(desk, |curves| {
            let xs = chart.xs(curves);
            let at = |curve: &Curve| chart.text(between(xs, chart.values(curve), x));
            [at(&curves.ask), at(&curves.ideal), at(&curves.real)]
        })?;
        Some(view! {
            <span class="where">{along.text(x)}</span>
            <span class="asked">{asked}</span>
            <span class="ideal">{ideal}</span>
            <span class="real">{real}</span>
        })
    };
    let name = chart.title();
    view! {
        <figure class=name.to_ascii_lowercase().replace(' ', "-")>
            <figcaption>
                <strong>{name}</strong>
                <span class="reading" aria-live="off">{reading}</span>
            </figcaption>
            <Cursor name along ends place=cursor>
                <canvas node_ref=canvas></canvas>
            </Cursor>
        </figure>
    }
}
