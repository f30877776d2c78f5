//! What would change the yield of the shown stage: better or cheaper parts, other values, a trimmer. Each
//! proposal is computed by drawing its boards, the same boards that the spread has, and told with what a
//! click changes in the design.

use std::task::{Poll, ready};

mod centre;
mod classes;
mod loosen;
mod race;
mod tighten;
mod trim;

use super::spread::BoardsOf;
use super::task::{Asked, Before, Blocked, Task, Turn};
use crate::design::{Edit, InputError};
use crate::numerics::put_in_order;
use crate::outcome::{Effect, Outcome, Proposal, ProposalsOutcome, Single};
use crate::spread::Verdict;
use crate::stages::{Model, Scratch};
use crate::wording::{per_cent, points};

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
    /// Proposals that are still to be confirmed, and each part on its own in its next better class.
    drafts: Vec<Draft>,
    singles: Vec<Move>,
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
    effects: Vec<Effect>,
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
            singles: Vec::new(),
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
            Poll::Ready(found) => Turn::Found(found),
            Poll::Pending => Turn::More(self.progress()),
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
    fn work(&mut self, bed: Bed, go_on: &mut dyn FnMut() -> bool) -> Poll<ProposalsOutcome> {
        loop {
            self.phase = match &mut self.phase {
                Phase::Base(race) => {
                    self.verdict = ready!(race.advance(bed, go_on)).pop().unwrap_or_default();
                    if self.verdict.share() < bed.design.spread.wanted {
                        let base = self.base.clone();
                        Phase::Tightening(Box::new(Tighten::new(bed, base, self.verdict.clone())))
                    } else {
                        self.loosening(bed)
                    }
                }
                Phase::Tightening(tighten) => {
                    let moves = ready!(tighten.advance(bed, go_on));
                    self.singles = std::mem::take(&mut tighten.singles);
                    self.draft_moves(bed, Kind::Tighten, moves);
                    self.loosening(bed)
                }
                Phase::Loosening(loosen) => {
                    let moves = ready!(loosen.advance(bed, go_on));
                    self.draft_moves(bed, Kind::Loosen, moves);
                    let (base, verdict) = (self.base.clone(), self.verdict.clone());
                    Phase::Centring(Box::new(Centre::new(bed, base, verdict, &self.picks)))
                }
                Phase::Centring(centre) => {
                    let values = ready!(centre.advance(bed, go_on));
                    self.draft_values(bed, values);
                    Phase::Trimming(Box::new(Trimming::new(bed, self.base.clone())))
                }
                Phase::Trimming(trimming) => {
                    self.found.trims = ready!(trimming.advance(bed, go_on));
                    let drafts = self.drafts.iter().map(|draft| draft.entrant.clone());
                    let single = |step| classes::moved(bed, &self.base, std::slice::from_ref(step));
                    let singles = self.singles.iter().map(single);
                    let all = std::iter::once(self.base.clone())
                        .chain(drafts)
                        .chain(singles);
                    let boards = PROMISE.min(bed.design.spread.boards as usize);
                    self.found.boards = boards as u32;
                    Phase::Confirming(Race::new(all.collect(), boards))
                }
                Phase::Confirming(race) => {
                    let verdicts = ready!(race.advance(bed, go_on));
                    return Poll::Ready(self.confirmed(bed, verdicts));
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

    fn draft_moves(&mut self, bed: Bed, kind: Kind, moves: Vec<Move>) {
        let moves = classes::summed(&moves);
        if !moves.is_empty() {
            self.drafts.push(Draft {
                kind,
                entrant: classes::moved(bed, &self.base, &moves),
                edits: classes::edits(bed, &moves),
                // Tolerances change no figure of nominal parts.
                effects: Vec::new(),
                words: classes::words(bed, &moves),
            });
        }
    }

    fn draft_values(&mut self, bed: Bed, values: Vec<f64>) {
        if values != self.base.values {
            self.drafts.push(Draft {
                kind: Kind::Centre,
                edits: centre::edits(bed, &values, &self.picks),
                effects: effects(bed.model, &self.base.values, &values),
                words: centre::words(bed, &self.base.values, &values),
                entrant: Entrant {
                    values,
                    ..self.base.clone()
                },
            });
        }
    }

    /// What each part does on its own, best first, and what is left to be had that way.
    fn told_singles(
        &mut self,
        bed: Bed,
        found: &mut ProposalsOutcome,
        base: &Verdict,
        verdicts: &[Verdict],
    ) {
        if bed.design.spread.wanted <= self.verdict.share() {
            return;
        }
        let taken = self
            .drafts
            .iter()
            .find(|draft| draft.kind == Kind::Tighten)
            .map(|draft| &draft.entrant.stage.variations);
        let steps = self.singles.drain(..).zip(verdicts);
        let single = |(step, verdict): (Move, &Verdict)| {
            let (gain, error) = verdict.gain_over(base);
            Single {
                part: bed.model.netlist.parts()[step.part].name.clone(),
                tolerance: step.to,
                share: verdict.share(),
                gain,
                error,
            }
        };
        found.singles = steps.map(single).collect();
        put_in_order(&mut found.singles, |a, b| b.gain.total_cmp(&a.gain));
        let Some(taken) = taken else {
            found.told.push(
                "No part with a tighter tolerance raises the yield: the cause is in the values or in the requirement."
                    .to_owned(),
            );
            return;
        };
        let before = &self.base.stage.variations;
        let is_taken = |part: &String| taken.get(part) != before.get(part);
        let best = found.singles.iter().find(|single| !is_taken(&single.part));
        if let Some(best) = best {
            found.told.push(format!(
                "No other part, one tolerance class better on its own, changes the yield by more than {}.",
                points(found.share, best.share.max(found.share + 0.001)).trim_start_matches('+')
            ));
        }
    }

    fn confirmed(&mut self, bed: Bed, verdicts: Vec<Verdict>) -> ProposalsOutcome {
        let wanted = bed.design.spread.wanted;
        let mut found = std::mem::take(&mut self.found);
        let Some((base, tried)) = verdicts.split_first() else {
            return found;
        };
        found.share = base.share();
        let (tried, singles) = tried.split_at(self.drafts.len());
        self.told_singles(bed, &mut found, base, singles);
        for (draft, verdict) in self.drafts.drain(..).zip(tried) {
            let kind = draft.kind;
            let proposal = draft.promising(base, verdict);
            let Proposal { gain, error, .. } = proposal;
            match kind {
                Kind::Tighten if gain > 0.0 => found.tighten = Some(proposal),
                Kind::Centre if gain > LITTLE / 2.0 && gain > 3.0 * error => {
                    found.centre = Some(proposal);
                }
                // On more boards than the search had it may cost more than it seemed to.
                Kind::Loosen if verdict.share() >= wanted || gain > -LITTLE / 2.0 => {
                    found.loosen = Some(proposal);
                }
                _ => {}
            }
        }
        tell_target(&mut found, wanted);
        found
    }
}

impl Draft {
    /// With what its boards say against those of the present design.
    fn promising(self, base: &Verdict, verdict: &Verdict) -> Proposal {
        let (gain, error) = verdict.gain_over(base);
        let change = format!(
            "from {} to {} ({})",
            per_cent(base.share()),
            per_cent(verdict.share()),
            points(base.share(), verdict.share())
        );
        let words = match self.kind {
            Kind::Tighten => format!("{}: the yield rises {change}.", self.words),
            Kind::Loosen => format!("{}: cheaper, the yield goes {change}.", self.words),
            Kind::Centre => format!(
                "{}: no tighter tolerance, the yield rises {change}.",
                self.words
            ),
        };
        Proposal {
            words,
            edits: self.edits,
            effects: self.effects,
            share: verdict.share(),
            gain,
            error,
        }
    }
}

/// How the yield stands to its target, as it is and with tighter parts.
fn tell_target(found: &mut ProposalsOutcome, wanted: f64) {
    let lifted = found.tighten.as_ref().map_or(found.share, |p| p.share);
    if lifted < wanted && found.tighten.is_some() {
        found.told.push(format!(
            "That is still below the target of {}.",
            per_cent(wanted)
        ));
    }
    if found.share >= wanted {
        found.told.insert(
            0,
            format!(
                "The yield is above the target of {}; nothing needs to be better.",
                per_cent(wanted)
            ),
        );
    }
}

/// What other values do to the figures that are required of the stage, parts nominal.
fn effects(model: &Model, before: &[f64], after: &[f64]) -> Vec<Effect> {
    let mut scratch = Scratch::default();
    let before = model.figures(before, None, &mut scratch);
    let after = model.figures(after, Some(&before), &mut scratch);
    let pairs = before.into_iter().zip(after);
    let all = model.yardstick.figures().iter().zip(pairs);
    all.filter(|(figure, (before, after))| {
        figure.is_limited() && before.is_finite() && after.is_finite() && before != after
    })
    .map(|(figure, (before, after))| Effect {
        label: figure.label.clone(),
        unit: figure.unit,
        before,
        after,
    })
    .collect()
}
