//! The figures that are watched, and how they are read off what is shown.

use super::super::desk::Desk;
use crate::outcome::LoopOutcome;
use crate::stages::catalogued;
use crate::wording::{per_cent, points};

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
    /// The size of a change from one value to another, in words; none where both look the same.
    change: fn(f64, f64) -> Option<String>,
    pub read: fn(Desk) -> Option<Told>,
}

impl Watched {
    /// The size of a change in words, without its sign; none where it is too small to be written.
    pub fn change(&self, before: f64, now: f64) -> Option<String> {
        (self.change)(before, now)
    }
}

/// The difference of two shares as they are shown, in percentage points.
fn of_shares(before: f64, now: f64) -> Option<String> {
    let text = points(before, now);
    let size = text.strip_prefix(['+', '−'])?;
    Some(size.to_owned())
}

/// The difference of two values that are shown to the tenth.
fn of_tenths(before: f64, now: f64) -> Option<String> {
    let tenths = |value: f64| (10.0 * value).round();
    let size = (tenths(now) - tenths(before)).abs() / 10.0;
    (size > 0.0).then(|| format!("{size:.1}"))
}

/// In the order of the page.
pub static WATCHED: [Watched; 5] = [
    Watched {
        name: "band-miss",
        label: "Worst deviation",
        short: "Dev.",
        title: "Largest deviation of the shown stage from its requirement, as a share of the limit; a change is in percentage points (pp)",
        region: "parts",
        more_is_better: false,
        text: |v| format!("{:.1} %", 100.0 * v),
        change: |before, now| Some(format!("{} pp", of_tenths(100.0 * before, 100.0 * now)?)),
        read: miss,
    },
    Watched {
        name: "band-yield",
        label: "Yield",
        short: "Yield",
        title: "Boards that hold every limit of every stage; a change is in percentage points (pp)",
        region: "spread",
        more_is_better: true,
        text: per_cent,
        change: of_shares,
        read: share,
    },
    Watched {
        name: "band-phase-margin",
        label: "Phase margin",
        short: "PM",
        title: "The loop's smallest phase margin, with nominal parts",
        region: "loop",
        more_is_better: true,
        text: |v| minus(format!("{v:.1}°")),
        change: of_tenths,
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
        title: "The loop's gain margin, with nominal parts",
        region: "loop",
        more_is_better: true,
        text: |v| minus(format!("{v:.1} dB")),
        change: of_tenths,
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
        title: "Built loops that meet every requirement; a change is in percentage points (pp)",
        region: "loop",
        more_is_better: true,
        text: per_cent,
        change: of_shares,
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
        let family =
            catalogued(&stage.circuit).map_or("", |circuit| circuit.default_ask().family());
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
        let share = spread.as_ref()?.of_all_stages();
        Some(share.fraction)
    })?;
    Some(Told {
        value,
        of: String::new(),
    })
}

fn of_loop(desk: Desk, read: fn(&LoopOutcome) -> Option<f64>) -> Option<Told> {
    let value = desk.servo.with(|servo| read(servo.as_ref()?.closed()?))?;
    Some(Told {
        value,
        of: plant(desk),
    })
}

/// Another plant's loop is another loop.
fn plant(desk: Desk) -> String {
    desk.form.with(|form| {
        let plant = &form.plant;
        format!("{} {:?}", plant.points, plant.span)
    })
}

/// Whether the closed loop is known to be unstable.
pub fn is_unstable(desk: Desk) -> bool {
    desk.servo.with(|servo| {
        let modelled = servo.as_ref().and_then(|servo| servo.modelled.as_ref());
        modelled.is_some_and(|l| l.unstable_poles.is_some_and(|count| count > 0))
    })
}
