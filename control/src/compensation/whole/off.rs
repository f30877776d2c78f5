//! What a loop is off the wish, in sentences.

use super::reading::{CROSSOVER, LEVEL, MARGIN, decibels};
use super::{Reading, WholeWish};
use crate::wording::{decibel, degrees, hertz_closely as hertz};

impl Reading {
    /// What is off the wish, in sentences, loudest first; none when the loop holds it. A margin may come up to
    /// `most` (degrees).
    pub fn off(&self, wish: &WholeWish, most: f64) -> Vec<String> {
        let mut told = Vec::new();
        match self.unstable_poles {
            Some(0) => {}
            Some(_) => told.push("The closed loop is unstable.".to_owned()),
            None => told.push(
                "Whether the closed loop is stable cannot be told from its curve.".to_owned(),
            ),
        }
        let (Some(crossover), Some(margin)) = (self.crossover, self.phase_margin) else {
            told.push("|L| nowhere falls through 1, so that there is no crossover.".to_owned());
            return told;
        };
        if (crossover / wish.crossover - 1.0).abs() > CROSSOVER {
            told.push(format!(
                "The crossover is {} instead of {}.",
                hertz(crossover),
                hertz(wish.crossover)
            ));
        }
        told.extend(off_margin(margin, wish.phase_margin, most));
        if let Some(again) = self.again(wish) {
            told.push(format!(
                "|L| is 1 again at {}, above the crossover.",
                hertz(again)
            ));
        }
        told.extend(self.off_levels(wish));
        told
    }

    /// Peaks and the roll-off that are above what is allowed.
    fn off_levels(&self, wish: &WholeWish) -> Vec<String> {
        let loud = self.peaks.iter();
        let loud = loud.filter(|peak| peak.worst_db > peak.level_db + LEVEL);
        let mut told: Vec<String> = loud
            .map(|peak| {
                format!(
                    "Mode {} at {} comes up to {} on the worst plant, and {} is the limit.",
                    peak.mode + 1,
                    hertz(peak.frequency),
                    decibel(peak.worst_db),
                    decibel(peak.level_db)
                )
            })
            .collect();
        if let (Some((top, at)), Some(roll_off)) = (self.roll_off, wish.roll_off)
            && top > decibels(roll_off.level) + LEVEL
        {
            told.push(format!(
                "|L| is {} at {}, and from {} on {} is the limit.",
                decibel(top),
                hertz(at),
                hertz(roll_off.from),
                decibel(decibels(roll_off.level))
            ));
        }
        told
    }
}

/// What a phase margin (degrees) is off one that is required, where it may come up to `most`.
fn off_margin(margin: f64, required: f64, most: f64) -> Option<String> {
    if margin < required - MARGIN {
        Some(format!(
            "The phase margin is {}, and {} is required.",
            degrees(margin),
            degrees(required)
        ))
    } else if margin > most + MARGIN {
        Some(format!(
            "The phase margin is {}, more than the {} that is required: there is phase to spare.",
            degrees(margin),
            degrees(required)
        ))
    } else {
        None
    }
}
