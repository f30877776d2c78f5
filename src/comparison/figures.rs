//! Figures, yields and margins of two designs in one table.

use super::Side;
use super::align::{Pair, pairs};
use crate::feedback::Figures as MotionFigures;
use crate::outcome::{FigureOutcome, MARGIN_ROWS};
use crate::quantity::{Unit, rounded};
use crate::wording::{deviation, figure_text, per_cent, points};

/// How a number is written, and its change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scale {
    /// Changes of levels and angles are differences, those of all else are relative.
    Of(Unit),
    /// A share of boards, changes in percentage points.
    Share,
    /// A count.
    Count,
}

/// A number of both designs; NaN where it does not exist, none where that design has no such number (yet).
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// For scripts.
    pub name: String,
    /// What it belongs to.
    pub place: String,
    pub label: String,
    pub scale: Scale,
    pub now: Option<f64>,
    pub copy: Option<f64>,
}

impl Compared {
    /// A value as people read it.
    pub fn text(&self, value: Option<f64>) -> String {
        let Some(value) = value else {
            return String::new();
        };
        if !value.is_finite() {
            return "none".to_owned();
        }
        match self.scale {
            Scale::Of(unit) => figure_text(value, unit),
            Scale::Share => per_cent(value),
            Scale::Count => format!("{value:.0}"),
        }
    }

    /// Whether both designs have the same number, or none.
    pub fn is_same(&self) -> bool {
        let are_none = |a: f64, b: f64| a.is_nan() && b.is_nan();
        self.now == self.copy || self.now.zip(self.copy).is_some_and(|(a, b)| are_none(a, b))
    }

    /// How far the design of now is from the copy; nothing where one of them has no number.
    pub fn change(&self) -> String {
        let is_number = |value: &f64| value.is_finite();
        let (Some(now), Some(copy)) = (self.now.filter(is_number), self.copy.filter(is_number))
        else {
            return String::new();
        };
        match self.scale {
            Scale::Share => points(copy, now),
            Scale::Of(unit @ (Unit::Decibel | Unit::Degree)) => {
                let text = figure_text(now - copy, unit);
                let is_more = now > copy && text.chars().any(|c| ('1'..='9').contains(&c));
                match is_more {
                    true => format!("+{text}"),
                    false => text,
                }
            }
            Scale::Of(_) if copy != 0.0 => deviation(now / copy - 1.0),
            Scale::Of(unit) => rounded(now, unit, 3),
            Scale::Count => match now - copy {
                0.0 => "0".to_owned(),
                more => format!("{more:+.0}").replace('-', "−"),
            },
        }
    }
}

/// All numbers that either design has: the path first, then the loop, its motion, and each stage's figures.
pub fn figures(now: &Side, copy: &Side) -> Vec<Compared> {
    let mut rows = whole(now, copy);
    margins(&mut rows, now, copy);
    motion(&mut rows, now, copy);
    for pair in pairs(&now.design.stages, &copy.design.stages) {
        stage(&mut rows, pair, now, copy);
    }
    rows.retain(|row| row.now.is_some() || row.copy.is_some());
    rows
}

/// A number of a whole design; none where it has no such number (yet).
struct Row {
    name: &'static str,
    place: &'static str,
    label: &'static str,
    scale: Scale,
    read: fn(&Side) -> Option<f64>,
}

const fn row(
    place: &'static str,
    name: &'static str,
    label: &'static str,
    scale: Scale,
    read: fn(&Side) -> Option<f64>,
) -> Row {
    Row {
        name,
        place,
        label,
        scale,
        read,
    }
}

const ROWS: [Row; 12] = [
    row("Path", "yield", "Yield", Scale::Share, |side| {
        Some(side.share()?.fraction)
    }),
    row(
        "Path",
        "parts",
        "Resistors and capacitors",
        Scale::Count,
        parts,
    ),
    row("Path", "op-amps", "Op amps", Scale::Count, |side| {
        Some(f64::from(side.path?.op_amps))
    }),
    row(
        "Path",
        "supply-current",
        "Supply current",
        Scale::Of(Unit::Ampere),
        |side| Some(side.demands?.supply_current),
    ),
    row(
        "Path",
        "input-offset",
        "Offset referred to the input",
        Scale::Of(Unit::Volt),
        |side| side.demands?.offset.input,
    ),
    row(
        "Path",
        "demands-tightest",
        "Tightest demand on an op amp, needed / available",
        Scale::Of(Unit::One),
        |side| Some(side.demands?.tightest()?.1.ratio()),
    ),
    row(
        "Path",
        "signal-allowed",
        "Signal that all op amps allow, times the stated one",
        Scale::Of(Unit::One),
        |side| side.demands?.signal_allowed(),
    ),
    row("Path", "values", "Distinct values", Scale::Count, |side| {
        Some(side.path?.buy.len() as f64)
    }),
    row(
        "Path",
        "output-noise",
        "Output noise, rms",
        Scale::Of(Unit::Volt),
        |side| Some(side.noise?.path.total.rms),
    ),
    row(
        "Loop",
        "position-noise",
        "Position noise, rms",
        Scale::Of(Unit::One),
        position_noise,
    ),
    row(
        "Loop",
        "loop-yield",
        "Loops that meet every requirement",
        Scale::Share,
        |side| Some(side.loops?.kept.fraction),
    ),
    row(
        "Loop",
        "loop-stable",
        "Loops that are stable",
        Scale::Share,
        |side| Some(side.loops?.stable.fraction),
    ),
];

/// How many parts are bought, once all stages are there.
fn parts(side: &Side) -> Option<f64> {
    let is_there = side.stages.len() == side.design.stages.len() && !side.stages.is_empty();
    let count: usize = side.stages.iter().map(|stage| stage.parts.len()).sum();
    is_there.then_some(count as f64)
}

fn position_noise(side: &Side) -> Option<f64> {
    let looped = side.noise?.looped.as_ref()?;
    Some(match looped.why {
        Some(_) => f64::NAN,
        None => looped.position_rms,
    })
}

fn whole(now: &Side, copy: &Side) -> Vec<Compared> {
    let both = |row: &Row| Compared {
        name: row.name.to_owned(),
        place: row.place.to_owned(),
        label: row.label.to_owned(),
        scale: row.scale,
        now: (row.read)(now),
        copy: (row.read)(copy),
    };
    ROWS.iter().map(both).collect()
}

fn margins(rows: &mut Vec<Compared>, now: &Side, copy: &Side) {
    for row in &MARGIN_ROWS {
        let read = |side: &Side| {
            side.closed()
                .map(|told| (row.read)(told).unwrap_or(f64::NAN))
        };
        rows.push(Compared {
            name: row.name.to_owned(),
            place: "Loop".to_owned(),
            label: row.label.to_owned(),
            scale: Scale::Of(row.unit),
            now: read(now),
            copy: read(copy),
        });
    }
}

fn motion(rows: &mut Vec<Compared>, now: &Side, copy: &Side) {
    type Read = fn(&MotionFigures) -> Option<f64>;
    let read: [(&str, &str, Unit, Read); 3] = [
        ("overshoot", "Overshoot", Unit::Percent, |f| f.overshoot),
        ("settling-time", "Settling time", Unit::Second, |f| {
            f.settling_time
        }),
        ("rise-time", "Rise time", Unit::Second, |f| f.rise_time),
    ];
    for (name, label, unit, read) in read {
        let read = |side: &Side| {
            let answer = side.motion?.answer.as_ref()?;
            Some(read(&answer.figures).unwrap_or(f64::NAN))
        };
        rows.push(Compared {
            name: name.to_owned(),
            place: "Time response".to_owned(),
            label: label.to_owned(),
            scale: Scale::Of(unit),
            now: read(now),
            copy: read(copy),
        });
    }
}

fn stage(rows: &mut Vec<Compared>, pair: Pair, now: &Side, copy: &Side) {
    let title = |place: Option<usize>, side: &Side| Some(side.stages.get(place?)?.title.clone());
    let (number, title, whose) = match (pair.now, pair.copy) {
        (Some(place), _) => (place, title(pair.now, now), ""),
        (None, Some(place)) => (place, title(pair.copy, copy), " of the copy"),
        (None, None) => return,
    };
    let place = format!("{}{whose} {}", number + 1, title.unwrap_or_default());
    let key = match whose {
        "" => format!("{}", number + 1),
        _ => format!("copy-{}", number + 1),
    };
    let (a, b) = (of(now, pair.now), of(copy, pair.copy));
    if now.stages.len() > 1 || copy.stages.len() > 1 {
        let share = |place: Option<usize>, side: &Side| side.share_of(place?);
        rows.push(Compared {
            name: format!("{key}-yield"),
            place: place.clone(),
            label: "Yield".to_owned(),
            scale: Scale::Share,
            now: share(pair.now, now),
            copy: share(pair.copy, copy),
        });
    }
    let only_b = b
        .iter()
        .filter(|figure| a.iter().all(|own| own.name != figure.name));
    for figure in a.iter().chain(only_b) {
        let value = |all: &[FigureOutcome]| {
            let found = all.iter().find(|own| own.name == figure.name);
            found.map(|own| own.value)
        };
        rows.push(Compared {
            name: format!("{key}-{}", figure.name),
            place: place.clone(),
            label: figure.label.clone(),
            scale: Scale::Of(figure.unit),
            now: value(a),
            copy: value(b),
        });
    }
}

/// The figures of one stage; none while they are not there.
fn of<'a>(side: &Side<'a>, place: Option<usize>) -> &'a [FigureOutcome] {
    let stage = place.and_then(|place| side.stages.get(place).copied());
    stage.map_or(&[], |stage| &stage.figures)
}
