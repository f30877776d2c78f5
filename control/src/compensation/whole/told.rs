//! The answer in sentences.

use super::ground::Ground;
use super::reading::{MARGIN, decibels};
use super::search::Found;
use super::{Nearest, Reading, Role, Whole, WholeShop, WholeWish};
use crate::stages::{Ask, Depth};
use crate::wording::{capital, decibel, degrees, hertz_closely as hertz, number};

const CENTRED: &str =
    "Parts are picked best centred: in a loop each deviation costs margin or adds to a peak.";

/// All of an answer, loudest first.
pub(super) fn told(whole: &Whole, ground: &Ground, shop: &WholeShop, found: &Found) -> Vec<String> {
    let wish = &ground.wish;
    let mut told = Vec::new();
    if let Some(mode) = found.within {
        let peak = ground.peaks.iter().find(|peak| peak.mode == mode);
        let range = peak.map_or((0.0, 0.0), |peak| peak.range);
        told.push(format!(
            "The target crossover of {} lies within the peak of mode {}, which goes from {} to {} with its drift: no level \
             can be kept where |L| passes through 1.",
            hertz(wish.crossover),
            mode + 1,
            hertz(range.0),
            hertz(range.1)
        ));
    } else if whole.holds {
        if let Some(reading) = &whole.reading {
            told.push(held(reading, wish));
        }
    } else {
        told.extend(short(whole, ground, shop, found));
    }
    if let Some(nearest) = &whole.nearest {
        told.extend(gives_way(nearest, wish));
    }
    if let Some(below) = whole.below_first
        && whole
            .nearest
            .is_none_or(|nearest| nearest.crossover != Some(below))
    {
        told.push(format!(
            "Below the plant's first mode the highest crossover with this margin and these peaks is {}.",
            hertz(below)
        ));
    }
    if !whole.stages.is_empty() {
        told.push(whole.why.clone());
        told.push(CENTRED.to_owned());
        told.extend(
            whole
                .stages
                .iter()
                .filter_map(|stage| of_stage(stage, ground)),
        );
    }
    told
}

fn held(reading: &Reading, wish: &WholeWish) -> String {
    let crossover = reading.crossover.unwrap_or(wish.crossover);
    let margin = reading.phase_margin.unwrap_or(wish.phase_margin);
    let worst = reading
        .peaks
        .iter()
        .max_by(|a, b| (a.worst_db - a.level_db).total_cmp(&(b.worst_db - b.level_db)));
    let peaks = match worst {
        None => String::new(),
        Some(peak) => format!(
            " On the worst plant no mode comes nearer to its limit than mode {}: {} of {}.",
            peak.mode + 1,
            decibel(peak.worst_db),
            decibel(peak.level_db)
        ),
    };
    let more = if margin > wish.phase_margin + MARGIN {
        format!(
            " That is more than the {} that are required: this controller has no phase to spare.",
            degrees(wish.phase_margin)
        )
    } else {
        String::new()
    };
    format!(
        "With parts off the shelf and this op amp the loop crosses over at {} with a phase margin of {}.{more}{peaks}",
        hertz(crossover),
        degrees(margin)
    )
}

/// Why it is not held, and what the stages that are shown do all the same.
fn short(whole: &Whole, ground: &Ground, shop: &WholeShop, found: &Found) -> Vec<String> {
    let wish = &ground.wish;
    let wishes = format!(
        "{} with a phase margin of {} and these peaks",
        hertz(wish.crossover),
        degrees(wish.phase_margin)
    );
    let best = found.candidates.first();
    let ideal = best.is_some_and(|best| best.reached && best.is_sound);
    let mut told = vec![if ideal {
        format!(
            "Ideal parts would make {wishes}; parts of this shelf with an op amp of {} do not.",
            hertz(shop.op_amp.gain_bandwidth)
        )
    } else if best.is_none() {
        format!(
            "No controller with notches of a sensible Q makes {wishes}: at this crossover the peaks cannot be kept at all."
        )
    } else if found.candidates.iter().any(|c| c.reached) {
        format!(
            "Every controller that makes {wishes} leaves the closed loop unstable, or |L| at 1 again above the crossover."
        )
    } else {
        format!("{} cannot be had together.", capital(&wishes))
    }];
    if let Some(reading) = &whole.reading {
        let off = reading.off(wish, whole.most_margin);
        if !off.is_empty() {
            told.push(format!(
                "With the stages that come nearest: {}",
                off.join(" ")
            ));
        } else {
            told.push("The stages that come nearest make the loop as required, but a stage is outside its own limits.".to_owned());
        }
    }
    told
}

fn gives_way(nearest: &Nearest, wish: &WholeWish) -> Vec<String> {
    let mut told = Vec::new();
    let (crossover, margin) = (hertz(wish.crossover), degrees(wish.phase_margin));
    if let Some(most) = nearest.phase_margin
        && most < wish.phase_margin
    {
        told.push(if most > 0.0 {
            format!(
                "At {crossover} with these peaks, ideal parts leave a phase margin of {} at most.",
                degrees(most)
            )
        } else {
            format!("At {crossover} with these peaks no phase margin at all is left.")
        });
    }
    told.push(match nearest.crossover {
        Some(highest) => format!(
            "With {margin} and these peaks the highest crossover is {}.",
            hertz(highest)
        ),
        None => format!("With {margin} and these peaks no crossover below was found either."),
    });
    told.push(match nearest.easier_db {
        Some(easier) => {
            let levels = match wish.levels.first() {
                Some(first) if wish.levels.iter().all(|level| level == first) => {
                    format!("peaks of {}", decibel(decibels(*first) + easier))
                }
                _ => format!("levels {} higher", decibel(easier)),
            };
            format!("{crossover} with {margin} takes {levels}.")
        }
        None => format!("Higher peaks alone are not enough for {crossover} with {margin}."),
    });
    told
}

fn of_stage(stage: &super::WholeStage, ground: &Ground) -> Option<String> {
    let cost = format!(
        "costs {} of phase at the crossover",
        degrees((-stage.phase_deg).max(0.0))
    );
    match (&stage.role, &stage.ask) {
        (Role::Notch { mode }, Ask::Notch(notch)) => {
            let depth = match notch.depth {
                Depth::Decibel(db) => format!("{} deep", decibel(db)),
                Depth::FullNull(()) => "with a full null".to_owned(),
            };
            let modes = &ground.of.model.modes;
            let at = modes.get(*mode).map_or(0.0, |mode| mode.frequency);
            Some(format!(
                "The notch at {}, Q {}, {depth}, keeps mode {} at {} down and {cost}.",
                hertz(notch.frequency),
                number(notch.q),
                mode + 1,
                hertz(at)
            ))
        }
        (Role::LowPass, ask) => Some(format!(
            "The low-pass at {} {cost}.",
            hertz(ask.frequency())
        )),
        (Role::Controller(form), _) => Some(format!(
            "The {form} has {} and {} at the crossover.",
            decibel(stage.gain_db),
            degrees(stage.phase_deg)
        )),
        _ => None,
    }
}
