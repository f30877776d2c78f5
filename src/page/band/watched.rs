//! The figures that are watched, and how they are read off what is shown.

use leptos::prelude::With;

use super::super::desk::Desk;
use super::super::spread::per_cent;
use crate::outcome::{LoopOutcome, ServoOutcome};
use crate::quantity::{Unit, rounded};
use crate::stages::by_id;

/// A figure and what it is of: figures of different things are not compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    pub value: f64,
    pub of: String,
}

/// A figure of the band.
pub struct Watched {
    /// Its name for scripts.
    pub name: &'static str,
    pub label: &'static str,
    /// The label where there is little room.
    pub short: &'static str,
    pub title: &'static str,
    /// Where it comes from.
    pub region: &'static str,
    pub more_is_better: bool,
    pub text: fn(f64) -> String,
    /// A change of it is multiplied by this and written without its sign, a small one with so many digits behind the
    /// point.
    scale: f64,
    digits: usize,
    pub read: fn(Desk) -> Option<Told>,
}

impl Watched {
    /// A change in words; none where it is too small to be written.
    pub fn change(&self, change: f64) -> Option<String> {
        let size = (self.scale * change).abs();
        let digits = if size < 1.0 { self.digits } else { 1 };
        let text = format!("{size:.digits$}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        let is_seen = text.contains(|c: char| c.is_ascii_digit() && c != '0');
        is_seen.then(|| text.to_owned())
    }
}

/// In the order of the page.
pub static WATCHED: [Watched; 5] = [
    Watched {
        name: "band-miss",
        label: "Worst miss",
        short: "Miss",
        title: "Worst miss of the shown stage's pick, as a share of its limit",
        region: "parts",
        more_is_better: false,
        text: |v| rounded(v, Unit::Percent, 3),
        scale: 100.0,
        digits: 1,
        read: miss,
    },
    Watched {
        name: "band-yield",
        label: "Yield",
        short: "Yield",
        title: "Boards that hold every limit of every stage",
        region: "spread",
        more_is_better: true,
        text: per_cent,
        scale: 100.0,
        digits: 2,
        read: share,
    },
    Watched {
        name: "band-phase-margin",
        label: "Phase margin",
        short: "PM",
        title: "The loop's smallest phase margin, with the parts as marked",
        region: "loop",
        more_is_better: true,
        text: |v| minus(format!("{v:.1}°")),
        scale: 1.0,
        digits: 1,
        read: |desk| {
            of_loop(desk, |l| {
                l.margins
                    .phase_margin()
                    .map(|crossing| crossing.phase_margin)
            })
        },
    },
    Watched {
        name: "band-gain-margin",
        label: "Gain margin",
        short: "GM",
        title: "The loop's gain margin, with the parts as marked",
        region: "loop",
        more_is_better: true,
        text: |v| minus(format!("{v:.1} dB")),
        scale: 1.0,
        digits: 1,
        read: |desk| {
            of_loop(desk, |l| {
                let crossing = l.margins.gain_margin();
                crossing.map(|crossing| 20.0 * crossing.gain_margin.log10())
            })
        },
    },
    Watched {
        name: "band-loop-yield",
        label: "Loop yield",
        short: "Loops",
        title: "Built loops that keep all that is asked",
        region: "loop",
        more_is_better: true,
        text: per_cent,
        scale: 100.0,
        digits: 2,
        read: |desk| {
            let value = desk
                .loops
                .with(|loops| Some(loops.as_ref()?.kept.fraction))?;
            Some(Told {
                value,
                of: plant(desk),
            })
        },
    },
];

fn minus(text: String) -> String {
    text.replace('-', "−")
}

/// Of the shown stage; another stage, or another kind of ask, is another thing.
fn miss(desk: Desk) -> Option<Told> {
    let (value, family) = desk.stage.with(|stage| {
        let stage = stage.as_ref()?;
        let family = by_id(&stage.circuit).map_or("", |circuit| circuit.default_ask().family());
        Some((stage.picks.get(stage.choice)?.miss, family))
    })?;
    let of = desk
        .form
        .with(|form| format!("{family}, {} of {}", form.stage, form.circuits.len()));
    value.is_finite().then_some(Told { value, of })
}

/// Of the whole path.
fn share(desk: Desk) -> Option<Told> {
    let value = desk.spread.with(|spread| {
        let spread = spread.as_ref()?;
        let share = spread
            .path
            .as_ref()
            .map_or(&spread.share, |path| &path.share);
        Some(share.fraction)
    })?;
    Some(Told {
        value,
        of: String::new(),
    })
}

/// With the model, or with the measured points where there is none.
fn loop_of(servo: &ServoOutcome) -> Option<&LoopOutcome> {
    servo.modelled.as_ref().or(servo.measured.as_ref())
}

fn of_loop(desk: Desk, read: fn(&LoopOutcome) -> Option<f64>) -> Option<Told> {
    let value = desk.servo.with(|servo| read(loop_of(servo.as_ref()?)?))?;
    Some(Told {
        value,
        of: plant(desk),
    })
}

/// Another plant's loop is another loop.
fn plant(desk: Desk) -> String {
    desk.form.with(|form| {
        let plant = &form.plant;
        format!("{}, {} to {}", plant.points, plant.low, plant.high)
    })
}

/// Whether the closed loop is known to be unstable.
pub fn is_unstable(desk: Desk) -> bool {
    desk.servo.with(|servo| {
        let modelled = servo.as_ref().and_then(|servo| servo.modelled.as_ref());
        modelled.is_some_and(|l| l.unstable_poles.is_some_and(|count| count > 0))
    })
}
