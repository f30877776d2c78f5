//! What would change the yield of the shown stage: better or cheaper parts, other values, a trimmer. Each
//! proposal is computed by drawing its boards, the same boards that the spread has, and told with what a
//! click changes in the design.

mod centre;
mod classes;
mod loosen;
mod race;
mod tighten;
mod trim;

use super::spread::BoardsOf;
use super::task::{Asked, Before, Blocked, Task, Turn};
use crate::design::{Design, Edit, InputError};
use crate::outcome::{Outcome, Proposal, ProposalsOutcome, Single};
use crate::quantity::{Unit, rounded};
use crate::spread::Verdict;

use centre::Centre;
use classes::Move;
use loosen::Loosen;
use race::{Bed, Entrant, Race};
use tighten::Tighten;
use trim::Trimming;

/// Boards that a search draws for each thing it tries.
const SEARCH: usize = 4096;
/// Boards that a proposal's promise is made of, at most.
const PROMISE: usize = 10_000;
/// A difference of the yield that is not worth a word.
const LITTLE: f64 = 0.01;

/// All proposals, one search after the other.
pub(super) struct Proposals {
    base: Entrant,
    /// Values of all picks, in their order.
    picks: Vec<Vec<f64>>,
    verdict: Verdict,
    phase: Phase,
    found: ProposalsOutcome,
    /// Proposals that are still to be confirmed.
    drafts: Vec<Draft>,
}

enum Phase {
    Base(Race),
    Tightening(Box<Tighten>),
    Loosening(Box<Loosen>),
    Centring(Box<Centre>),
    Trimming(Box<Trimming>),
    Confirming(Race),
}

/// A proposal before its promise is known.
struct Draft {
    kind: Kind,
    entrant: Entrant,
    edits: Vec<Edit>,
    words: String,
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Tighten,
    Loosen,
    Centre,
}

impl Task for Proposals {
    const FIELD: &'static str = "proposals";
    /// With what is wanted of the yield and of trimmers.
    type Reads = BoardsOf;
    type Finds = ProposalsOutcome;

    /// None where nothing limits the shown stage.
    fn reads(asked: &Asked) -> Result<Option<BoardsOf>, Blocked> {
        let of = BoardsOf::reads(asked)?.filter(|_| asked.design.view.propose);
        let is_limited = |of: &BoardsOf| {
            let figures = of.shown().real.yardstick.figures();
            figures.iter().any(|figure| figure.is_limited())
        };
        Ok(of.filter(is_limited).map(|mut of| {
            of.design.spread.clone_from(&asked.design.spread);
            of
        }))
    }

    fn begin(of: &BoardsOf, _: Option<Before<Proposals>>) -> Result<Proposals, Vec<InputError>> {
        let shown = of.shown();
        let base = Entrant {
            stage: of.design.stages[of.design.view.stage].clone(),
            values: shown.found.values.clone(),
        };
        let picks = shown.choices.picks.iter();
        Ok(Proposals {
            phase: Phase::Base(Race::new(vec![base.clone()], SEARCH)),
            picks: picks.map(|pick| pick.values.clone()).collect(),
            base,
            verdict: Verdict::default(),
            found: ProposalsOutcome::default(),
            drafts: Vec::new(),
        })
    }

    fn advance(
        &mut self,
        of: &BoardsOf,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<ProposalsOutcome> {
        let bed = Bed {
            design: &of.design,
            model: &of.shown().real,
        };
        match self.work(bed, go_on) {
            Some(found) => Turn::Found(found),
            None => Turn::More(self.progress()),
        }
    }

    fn is_same(first: &ProposalsOutcome, second: &ProposalsOutcome) -> bool {
        first == second
    }

    fn tell(_: &BoardsOf, found: &ProposalsOutcome, outcome: &mut Outcome) {
        outcome.proposals = Some(found.clone());
    }
}

impl Proposals {
    /// Works on; gives the proposals when all are made and confirmed.
    fn work(&mut self, bed: Bed, go_on: &mut dyn FnMut() -> bool) -> Option<ProposalsOutcome> {
        loop {
            self.phase = match &mut self.phase {
                Phase::Base(race) => {
                    self.verdict = race.advance(bed, go_on)?.pop()?;
                    if self.verdict.share() < bed.design.spread.wanted {
                        let base = self.base.clone();
                        Phase::Tightening(Box::new(Tighten::new(bed, base, self.verdict.clone())))
                    } else {
                        self.loosening(bed)
                    }
                }
                Phase::Tightening(tighten) => {
                    let moves = tighten.advance(bed, go_on)?;
                    let singles = std::mem::take(&mut tighten.singles);
                    self.tightened(bed, moves, singles);
                    self.loosening(bed)
                }
                Phase::Loosening(loosen) => {
                    let moves = loosen.advance(bed, go_on)?;
                    self.draft_moves(bed, Kind::Loosen, moves);
                    let (base, verdict) = (self.base.clone(), self.verdict.clone());
                    Phase::Centring(Box::new(Centre::new(bed, base, verdict, &self.picks)))
                }
                Phase::Centring(centre) => {
                    let values = centre.advance(bed, go_on)?;
                    self.draft_values(bed, values);
                    Phase::Trimming(Box::new(Trimming::new(bed, self.base.clone())))
                }
                Phase::Trimming(trimming) => {
                    self.found.trims = trimming.advance(bed, go_on)?;
                    let drafts = self.drafts.iter().map(|draft| draft.entrant.clone());
                    let all = std::iter::once(self.base.clone()).chain(drafts);
                    let boards = PROMISE.min(bed.design.spread.boards as usize);
                    self.found.boards = boards as u32;
                    Phase::Confirming(Race::new(all.collect(), boards))
                }
                Phase::Confirming(race) => {
                    let verdicts = race.advance(bed, go_on)?;
                    return Some(self.confirmed(bed.design, verdicts));
                }
            };
        }
    }

    fn progress(&self) -> f64 {
        match &self.phase {
            Phase::Base(_) => 0.0,
            Phase::Tightening(_) => 0.1,
            Phase::Loosening(_) => 0.4,
            Phase::Centring(_) => 0.6,
            Phase::Trimming(_) => 0.8,
            Phase::Confirming(_) => 0.9,
        }
    }

    fn loosening(&self, bed: Bed) -> Phase {
        Phase::Loosening(Box::new(Loosen::new(bed, self.base.clone(), &self.verdict)))
    }

    fn tightened(&mut self, bed: Bed, moves: Vec<Move>, singles: Vec<(Move, f64, f64)>) {
        let single = |(step, gain, error): &(Move, f64, f64)| Single {
            part: bed.model.netlist.parts()[step.part].name.clone(),
            tolerance: step.to,
            gain: *gain,
            error: *error,
        };
        self.found.singles = singles.iter().map(single).collect();
        let taken = classes::summed(&moves);
        let is_taken = |step: &Move| taken.iter().any(|own| own.part == step.part);
        let rest = singles.iter().filter(|(step, ..)| !is_taken(step));
        let most = rest
            .map(|(_, gain, _)| *gain)
            .fold(f64::NEG_INFINITY, f64::max);
        if !taken.is_empty() && most.is_finite() {
            self.found.told.push(format!(
                "No other part, one class better on its own, moves the yield by more than {}.",
                rounded(most.max(0.001), Unit::Percent, 2)
            ));
        }
        if taken.is_empty() {
            self.found.told.push(
                "No part, bought in better classes, lifts the yield: what fails is in the values or in the ask."
                    .to_owned(),
            );
        }
        self.draft_moves(bed, Kind::Tighten, moves);
    }

    fn draft_moves(&mut self, bed: Bed, kind: Kind, moves: Vec<Move>) {
        let moves = classes::summed(&moves);
        if !moves.is_empty() {
            self.drafts.push(Draft {
                kind,
                entrant: classes::moved(bed, &self.base, &moves),
                edits: classes::edits(bed, &moves),
                words: classes::words(bed, &moves),
            });
        }
    }

    fn draft_values(&mut self, bed: Bed, values: Vec<f64>) {
        if values != self.base.values {
            self.drafts.push(Draft {
                kind: Kind::Centre,
                edits: centre::edits(bed, &values, &self.picks),
                words: centre::words(bed, &self.base.values, &values),
                entrant: Entrant {
                    values,
                    ..self.base.clone()
                },
            });
        }
    }

    fn confirmed(&mut self, design: &Design, verdicts: Vec<Verdict>) -> ProposalsOutcome {
        let mut found = std::mem::take(&mut self.found);
        let per_cent = |share: f64| rounded(share, Unit::Percent, 4);
        let Some((base, tried)) = verdicts.split_first() else {
            return found;
        };
        found.share = base.share();
        for (draft, verdict) in self.drafts.drain(..).zip(tried) {
            let (gain, error) = verdict.gain_over(base);
            let words = match draft.kind {
                Kind::Tighten => format!(
                    "{}: the yield rises from {} to {}.",
                    draft.words,
                    per_cent(base.share()),
                    per_cent(verdict.share())
                ),
                Kind::Loosen => format!(
                    "{}: cheaper, and the yield is still {} ({} as things are).",
                    draft.words,
                    per_cent(verdict.share()),
                    per_cent(base.share())
                ),
                Kind::Centre => format!(
                    "{}: no better part, but {} of boards instead of {}.",
                    draft.words,
                    per_cent(verdict.share()),
                    per_cent(base.share())
                ),
            };
            let proposal = Proposal {
                words,
                edits: draft.edits,
                share: verdict.share(),
                gain,
                error,
            };
            match draft.kind {
                Kind::Tighten if gain > 0.0 => found.tighten = Some(proposal),
                Kind::Centre if gain > LITTLE / 2.0 && gain > 3.0 * error => {
                    found.centre = Some(proposal);
                }
                // On more boards than the search had it may cost more than it seemed to.
                Kind::Loosen if verdict.share() >= design.spread.wanted || gain > -LITTLE / 2.0 => {
                    found.loosen = Some(proposal);
                }
                _ => {}
            }
        }
        let lifted = found.tighten.as_ref().map_or(found.share, |p| p.share);
        if lifted < design.spread.wanted && found.tighten.is_some() {
            found.told.push(format!(
                "That is still below the {} that are wanted.",
                per_cent(design.spread.wanted)
            ));
        }
        if found.share >= design.spread.wanted {
            found.told.insert(
                0,
                format!(
                    "The yield is above the {} that are wanted; nothing needs to be better.",
                    per_cent(design.spread.wanted)
                ),
            );
        }
        found
    }
}
