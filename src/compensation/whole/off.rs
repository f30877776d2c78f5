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
        if margin < wish.phase_margin - MARGIN {
            told.push(format!(
                "The phase margin is {}, and {} is required.",
                degrees(margin),
                degrees(wish.phase_margin)
            ));
        } else if margin > most + MARGIN {
            told.push(format!(
                "The phase margin is {}, more than the {} that is required: there is phase to spare.",
                degrees(margin),
                degrees(wish.phase_margin)
            ));
        }
        if let Some(again) = self.again(wish) {
            told.push(format!(
                "|L| is 1 again at {}, above the crossover.",
                hertz(again)
            ));
        }
        for peak in &self.peaks {
            if peak.worst_db > peak.level_db + LEVEL {
                told.push(format!(
                    "Mode {} at {} comes up to {} on the worst plant, and {} is the limit.",
                    peak.mode + 1,
                    hertz(peak.frequency),
                    decibel(peak.worst_db),
                    decibel(peak.level_db)
                ));
            }
        }
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
