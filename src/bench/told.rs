//! What the bench found, in words.

use super::band::{BandVerdict, Leave};
use super::cause::{Cause, PartAt};
use super::repair::{Action, FigureValue, Repair, RepairVerdict, Step};
use super::report::{Likely, Report, Verdict};
use super::trimmer::Turn;
use crate::quantity::{Unit, rounded};
use crate::wording::{
    capital, decibel, degrees, deviation, figure_text, hertz, in_stage, listed, number,
};

/// Shares of boards that a band is told by.
const BANDS: [f64; 5] = [0.5, 0.8, 0.9, 0.95, 0.99];

impl Cause {
    /// In words, to stand in a sentence; parts with their stage where `many`.
    pub fn words(&self, many: bool) -> String {
        let name = |at: &PartAt| at.words(many);
        match self {
            Cause::Healthy => "all parts within their tolerances".into(),
            Cause::Off(at) => format!("{} outside of its tolerance", name(at)),
            Cause::Swapped(a, b) => format!("{} and {} in each other’s places", name(a), name(b)),
            Cause::TimesFactor(at, by) if *by > 1.0 => {
                format!("{} {} times too large", name(at), number(*by))
            }
            Cause::TimesFactor(at, by) => {
                format!("{} {} times too small", name(at), number(1.0 / by))
            }
            Cause::Open(at) => format!("{} missing or open", name(at)),
            Cause::Shorted(at) => format!("{} shorted", name(at)),
            Cause::MeasuredSign => "the sign of the measurement itself".into(),
            Cause::MeasuredGain => "the measurement’s own gain".into(),
            Cause::Behind(_) => "the block behind the stages".into(),
        }
    }

    /// Whether it is one of the measurement, and not of the board.
    fn is_measured(&self) -> bool {
        matches!(self, Cause::MeasuredSign | Cause::MeasuredGain)
    }
}

impl PartAt {
    /// Its name, with its stage where there are several.
    pub fn words(&self, many: bool) -> String {
        in_stage(many, self.stage, &self.part)
    }
}

impl BandVerdict {
    /// Where the measurement lies, in one sentence.
    pub fn words(&self) -> String {
        if self.is_beyond {
            let leaves: Vec<String> = self.leaves.iter().take(3).map(Leave::words).collect();
            return format!("No such board: {}.", leaves.join("; "));
        }
        let share = BANDS.iter().find(|band| self.share <= **band);
        match share {
            Some(band) => format!("Inside {} of boards.", percent(*band)),
            None => format!(
                "At the edge: {} of {} boards stay further inside.",
                (self.share * self.boards as f64).round(),
                self.boards
            ),
        }
    }
}

impl Leave {
    fn words(&self) -> String {
        let by = match self.is_phase {
            true => degrees(self.by.abs()),
            false => decibel(self.by.abs()),
        };
        let what = if self.is_phase { "phase" } else { "level" };
        let side = if self.by > 0.0 { "above" } else { "below" };
        if self.from == self.to {
            return format!("{what} {by} {side} all boards at {}", hertz(self.at));
        }
        format!(
            "{what} {side} all boards from {} to {}, by {by} at {}",
            hertz(self.from),
            hertz(self.to),
            hertz(self.at)
        )
    }
}

impl Likely {
    fn with_deviation(&self, many: bool) -> String {
        match (&self.cause, self.deviation) {
            (Cause::Off(at), Some((by, sd))) => format!(
                "{} off by {} ± {}",
                at.words(many),
                deviation(by),
                rounded(sd, Unit::Percent, 2)
            ),
            (Cause::MeasuredGain, Some((by, sd))) => format!(
                "the measurement’s own gain off by {} ± {}, with all parts within their tolerances",
                deviation(by),
                rounded(sd, Unit::Percent, 2)
            ),
            _ => self.words.clone(),
        }
    }

    /// Of a cause that comes nearest and explains nothing.
    fn nearest(&self, many: bool) -> String {
        match (&self.cause, self.deviation) {
            (Cause::Off(at), Some((by, _))) => {
                format!("{} off by {}", at.words(many), deviation(by))
            }
            (Cause::MeasuredGain, Some((by, _))) => {
                format!("the measurement’s own gain off by {}", deviation(by))
            }
            _ => self.words.clone(),
        }
    }
}

impl Step {
    /// What is to be done, to stand in a sentence.
    pub fn words(&self, many: bool) -> String {
        let name = self.at.words(many);
        let value = |v: f64| rounded(v, self.unit, 4);
        match self.action {
            Action::Replace(v) => format!("replace {name} by {}", value(v)),
            Action::Parallel(v) => format!("put {} in parallel with {name}", value(v)),
            Action::Series(v) => format!("put {} in series with {name}", value(v)),
            Action::PutRight => format!("put {name} right where it is not as marked"),
            Action::Turn(v) => format!("turn {name} to {}", value(v)),
        }
    }
}

impl Turn {
    /// Direction and turns.
    pub fn words(&self, many: bool) -> String {
        let at = PartAt {
            stage: self.stage,
            part: self.part.clone(),
        };
        let side = if self.turns < 0.0 { "lower" } else { "higher" };
        let turns = rounded(self.turns.abs(), Unit::One, 2);
        let end = if self.is_within_reach {
            ""
        } else {
            "; that is its end"
        };
        format!(
            "Turn {} by {turns} turns towards the {side} resistance, from {} to {}{end}.",
            at.words(many),
            rounded(self.from, Unit::Ohm, 4),
            rounded(self.to, Unit::Ohm, 4)
        )
    }
}

impl FigureValue {
    fn words(&self) -> String {
        format!(
            "{} {} → {}",
            self.label,
            figure_text(self.before, self.unit),
            figure_text(self.after, self.unit)
        )
    }
}

impl Repair {
    /// What to do and what it brings.
    pub fn words(&self, many: bool) -> String {
        let steps: Vec<String> = self.steps.iter().map(|step| step.words(many)).collect();
        let touched = |stage: usize| self.steps.iter().any(|step| step.at.stage == stage);
        let limited = self.figures.iter().filter(|f| touched(f.stage));
        let limited = limited.filter(|f| f.lowest.is_some() || f.highest.is_some());
        let figures: Vec<String> = limited.map(FigureValue::words).collect();
        let first = match &self.turn {
            Some(turn) => turn.words(many),
            None => format!("{}.", capital(&steps.join(" and "))),
        };
        format!(
            "{first} {}. All limits hold then with a probability of {}.",
            figures.join(", "),
            percent(self.probability)
        )
    }
}

impl Report {
    /// All of it in sentences, the band first; parts with their stage where `many`.
    pub fn words(&self, many: bool) -> Vec<String> {
        let mut all = vec![self.band_words(), self.verdict_words(many)];
        if self.verdict == Verdict::Healthy && !matches!(self.repair, RepairVerdict::NothingToDo(_))
        {
            let names: Vec<String> = self
                .suspects
                .iter()
                .map(|s| s.with_deviation(many))
                .collect();
            all.push(match &names[..] {
                [] => String::new(),
                [one] => format!("If one part alone deviates, it is {one}."),
                more => format!(
                    "If one part alone deviates, cannot be told which: {}.",
                    listed(more, "or")
                ),
            });
            all.retain(|sentence| !sentence.is_empty());
        }
        let first = self.causes.first();
        let is_a_cause = first.is_some_and(|first| first.cause == Cause::MeasuredGain);
        // What stands there as a cause is not told twice.
        let is_told = self.verdict != Verdict::Unexplained && !is_a_cause;
        if let Some((gain, sd)) = self.gain.filter(|_| is_told) {
            all.push(format!(
                "The measurement’s own gain is off by {} ± {}.",
                deviation(gain),
                rounded(sd, Unit::Percent, 2)
            ));
        }
        for alike in &self.alike {
            let names: Vec<String> = alike.iter().map(|at| at.words(many)).collect();
            all.push(format!(
                "Small deviations of {} look alike in this measurement.",
                listed(&names, "and")
            ));
        }
        if !self.unseen.is_empty() {
            let names: Vec<String> = self.unseen.iter().map(|at| at.words(many)).collect();
            all.push(format!(
                "A deviation of 5 % of {} would not be seen behind what the others may be.",
                listed(&names, "or")
            ));
        }
        all.push(self.repair_words(many));
        let mut less_likely = self.causes.iter().skip(1);
        let gain_is_one = less_likely.any(|one| one.cause == Cause::MeasuredGain);
        if gain_is_one && self.figures.iter().any(|f| f.uncertainty.is_finite()) {
            all.push("Figures are told as if the measurement’s own gain were right.".into());
        }
        all
    }

    /// Where the curve lies; where it lies among healthy boards and is none of them, that it is no contradiction.
    fn band_words(&self) -> String {
        let is_ill = matches!(
            self.verdict,
            Verdict::Found | Verdict::OneOf | Verdict::Unexplained
        );
        match is_ill && !self.band.is_beyond {
            true => format!(
                "{} Each point alone fits a healthy board; the whole curve does not.",
                self.band.words()
            ),
            false => self.band.words(),
        }
    }

    fn verdict_words(&self, many: bool) -> String {
        let causes = || {
            let names = self.causes.iter().map(|one| {
                format!(
                    "{} ({})",
                    one.with_deviation(many),
                    percent(one.probability)
                )
            });
            listed(&names.collect::<Vec<_>>(), "or")
        };
        match self.verdict {
            Verdict::Healthy => format!(
                "All parts within their tolerances explain it, with a probability of {}.",
                percent(self.healthy)
            ),
            Verdict::Undecided => format!("Cannot be told: {}.", causes()),
            Verdict::Found => format!("{}.", capital(&causes())),
            Verdict::OneOf if self.causes.iter().any(|one| one.cause.is_measured()) => format!(
                "The board is ill or was measured wrong; cannot be told which: {}.",
                causes()
            ),
            Verdict::OneOf => format!("The board is ill; cannot be told which: {}.", causes()),
            Verdict::Unexplained => format!(
                "Nothing that was tried explains it: errors of {} times the noise are left. Nearest comes {}. A board \
                 with other parts than those in use here, or another circuit, looks like this.",
                rounded(self.misfit, Unit::One, 2),
                // What does not explain the measurement has no probability, and its deviation no doubt to be told.
                listed(
                    &self
                        .causes
                        .iter()
                        .map(|one| one.nearest(many))
                        .collect::<Vec<_>>(),
                    "or"
                )
            ),
        }
    }

    fn repair_words(&self, many: bool) -> String {
        let best = self.repairs.first().map(|best| best.words(many));
        match (self.repair, best) {
            (RepairVerdict::NothingToDo(share), _) => format!(
                "Nothing to do: all limits hold with a probability of {}.",
                percent(share)
            ),
            (RepairVerdict::Unknown, _) => "No repair can be told.".into(),
            (RepairVerdict::NoLimits, _) => "No limits are asked for.".into(),
            (RepairVerdict::Home(_), Some(best)) => best,
            (RepairVerdict::Missed(miss), Some(best)) => format!(
                "No single change brings all figures home; the nearest leaves {} times a limit’s width. {best}",
                rounded(miss, Unit::One, 2)
            ),
            (_, None) => "No change of a bought part brings the figures home.".into(),
        }
    }
}

/// A share in whole per cent, never all and never nothing.
fn percent(share: f64) -> String {
    let whole = (share * 100.0).round();
    match whole {
        // No number of boards that were tried makes a promise of all.
        100.0 => "over 99 %".into(),
        0.0 if share > 0.0 => "below 1 %".into(),
        _ => format!("{whole} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_whole() {
        assert_eq!(
            [0.9, 0.999, 1.0, 0.001].map(percent),
            ["90 %", "over 99 %", "over 99 %", "below 1 %"]
        );
    }

    #[test]
    fn a_band_in_words() {
        let verdict = BandVerdict {
            share: 0.87,
            is_beyond: false,
            leaves: Vec::new(),
            boards: 1000,
        };
        assert_eq!(verdict.words(), "Inside 90 % of boards.");
        let leave = Leave {
            from: 1e3,
            to: 2e3,
            at: 1.5e3,
            by: -1.234,
            is_phase: false,
        };
        let beyond = BandVerdict {
            is_beyond: true,
            leaves: vec![leave],
            ..verdict
        };
        let words =
            "No such board: level below all boards from 1 kHz to 2 kHz, by 1.23 dB at 1.5 kHz.";
        assert_eq!(beyond.words(), words);
    }
}
