//! The search over the shelf.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::task::Poll;

use super::anneal::Anneal;
use super::combinations::Combinations;
use super::comfort::{Bother, Weights};
use super::descend::Place;
use super::divider;
use super::exact::{self, Solution};
use super::judge::Judge;
use super::kept::{Candidate, KEPT, Kept, Pick};
use super::listing;
use super::lists::Lists;
use super::moves::{Move, moves};
use super::polish::Polish;
use super::preference::Preference;
use super::rank::{Rank, miss_of};
use super::remedy::{Given, Remedies, Remedy};
use super::shortlist::{Shortlist, Waiting};
use super::thorough::{Step, Thorough};
use super::touch::Touch;
use crate::numerics::{Scatter, put_in_order};
use crate::parts::Shelf;
use crate::stages::{Model, Scratch};

/// The best sets found, best first; empty when no set's curve could be read.
#[derive(Clone, Debug, Default)]
pub struct Choices {
    pub picks: Vec<Pick>,
    /// Where no pick holds the limits: what parts of any value between the shelf's ends would come to, as their
    /// worst miss and values.
    pub least: Option<(f64, Vec<f64>)>,
    /// And what would bring the ask back.
    pub remedies: Vec<Remedy>,
}

/// A solution is searched around when it misses by less than this, in limits; only the picks' own
/// solutions are then followed to the end.
const CLOSE: f64 = 0.03;
/// So many solutions are come by from the ideal op amp in steps.
const PATIENCE: u32 = 12;
/// So many sets have their share of good boards looked at, fewest points first.
const LOOKED_AT: usize = 900;
/// So many of them are finished, and so many where each has a divider to be found.
const FINISHED: usize = 60;
const WITH_DIVIDERS: usize = 48;
/// What a step of the share counts when it is decided which are finished, in points; without dividers to be found the
/// share goes before all points, and that a set holds goes before both.
const STEP_POINTS: f64 = 0.75;
const STEP_FIRST: f64 = 1e3;
const HOLDS_FIRST: f64 = 1e6;
/// A miss with an ideal divider may be wrong by so much, in limits.
const DOUBT: f64 = 0.2;
/// And so many of those with the most good boards.
const MOST_SHARE: usize = 6;
/// So many sets that do not hold the limits are moved along the shelf at the end.
const POLISHED: usize = 4;
/// Where what comes nearest misses by less than this, in limits, others are followed from anywhere, so often at the most: a
/// set that holds may be one in millions.
const NEAR: f64 = 2.5;
const MOST_ANNEALED: u32 = 6;

/// The search, in slices: [`Search::advance`] until it says that it is done.
pub struct Search {
    lists: Lists,
    judge: Judge,
    given: Given,
    at: Stretch,
    combinations: Combinations,
    solutions: Vec<Solution>,
    patience: u32,
    /// Solutions that [`Search::judge`] has seen already.
    seen: usize,
    shortlist: Shortlist,
    kept: Kept,
    /// Whether the whole shelf was searched, and the best places that it led to.
    is_thorough: bool,
    rough: Vec<Vec<f64>>,
    /// How often sets from anywhere were followed.
    annealed: u32,
    least: Option<(f64, Vec<f64>)>,
    remedies: Vec<Remedy>,
    scratch: Scratch,
}

/// What is being worked on.
enum Stretch {
    /// Which combinations of chosen parts are worth solving.
    Looking,
    Solving,
    /// Sets off the list are looked at, and the best ones wait to be finished, best last.
    Judging(Judging),
    Finishing(Finishing),
    /// What stands next to the first pick.
    Touching(Touch),
    /// The whole shelf, where nothing held the limits so far.
    Thorough(Box<Thorough>),
    /// Sets on the shelf from anywhere, and then what came of both.
    Annealing(Box<Anneal>),
    Polishing(Polish),
    /// What would bring the ask back, where even that did not hold.
    Remedying(Remedies),
    Done,
}

/// Shares of good boards, set by set.
struct Judging {
    waiting: Vec<Waiting>,
    /// Those that were looked at, with their shares.
    seen: Vec<(f64, Waiting)>,
    /// How boards scatter, by solution.
    scatters: BTreeMap<usize, Arc<Scatter>>,
}

/// Sets that wait to be finished, best last.
struct Finishing {
    waiting: Vec<Waiting>,
    scatters: BTreeMap<usize, Arc<Scatter>>,
}

/// By how much a miss may be wrong: what is promised with an ideal divider may not come.
fn doubt(has_dividers: bool) -> f64 {
    if has_dividers { DOUBT } else { 0.0 }
}

impl Judging {
    /// The best of those that were looked at, best first, and those whose boards promise most, so that no share is
    /// taken for the best that is not. With an ideal divider a step of the share counts like a few points only.
    fn worth_finishing(&mut self, has_dividers: bool) -> Vec<Waiting> {
        let held = |seen: &&(f64, Waiting)| seen.1.miss <= 1.0;
        let best = self.seen.iter().filter(held).map(|seen| seen.0);
        let best = best.fold(0.0, f64::max);
        let doubt = doubt(has_dividers);
        let mut all: Vec<(f64, Waiting)> = (self.seen.iter())
            .map(|(share, set)| {
                let steps = (best - share).max(0.0) / super::STEP;
                let beyond = if set.miss <= 1.0 + doubt {
                    0.0
                } else {
                    HOLDS_FIRST
                };
                let lost = match has_dividers {
                    true => STEP_POINTS * steps,
                    false => STEP_FIRST * (steps + 1e-9).floor(),
                };
                (set.points + lost + beyond, *set)
            })
            .collect();
        put_in_order(&mut all, |a, b| a.0.total_cmp(&b.0));
        all.truncate(if has_dividers {
            WITH_DIVIDERS
        } else {
            FINISHED
        });
        put_in_order(&mut self.seen, |a, b| b.0.total_cmp(&a.0));
        let mut worth: Vec<Waiting> = all.into_iter().map(|(_, set)| set).collect();
        for (_, most) in self.seen.iter().take(MOST_SHARE) {
            if !worth.iter().any(|set| set.is_same(most)) {
                worth.push(*most);
            }
        }
        worth
    }
}

impl Search {
    /// Prepares the search; `pins` fixes parts (by netlist position) to a value of any size.
    pub fn new(
        model: &Model,
        shelf: &Shelf,
        pins: &BTreeMap<usize, f64>,
        prefer: Preference,
    ) -> Search {
        Search::weighed(model, shelf, pins, Weights::of(prefer))
    }

    /// The same with weights of one's own.
    pub fn weighed(
        model: &Model,
        shelf: &Shelf,
        pins: &BTreeMap<usize, f64>,
        weights: Weights,
    ) -> Search {
        let lists = Lists::new(model, shelf, pins, &weights);
        Search {
            combinations: Combinations::new(model, &lists.values, &lists.pinned, weights),
            lists,
            judge: Judge::new(model, shelf),
            given: Given {
                shelf: shelf.clone(),
                pins: pins.clone(),
                weights,
            },
            at: Stretch::Looking,
            solutions: Vec::new(),
            patience: PATIENCE,
            seen: 0,
            shortlist: Shortlist::new(weights),
            kept: Kept::default(),
            is_thorough: false,
            rough: Vec::new(),
            annealed: 0,
            least: None,
            remedies: Vec::new(),
            scratch: Scratch::default(),
        }
    }

    /// Works until done or until `go_on` says no.
    pub fn advance(&mut self, model: &Model, go_on: &mut dyn FnMut() -> bool) -> Poll<()> {
        while !matches!(self.at, Stretch::Done) {
            if !go_on() {
                return Poll::Pending;
            }
            self.step(model);
        }
        Poll::Ready(())
    }

    /// Works a piece more, but no further than the sets round solutions: ready with one that holds every limit, or with
    /// none where only a search of the whole shelf could find one.
    pub(super) fn step_on_the_list(&mut self, model: &Model) -> Poll<Option<Vec<f64>>> {
        self.step(model);
        if let Some(pick) = self.kept.picks().find(|pick| pick.rank.holds()) {
            return Poll::Ready(Some(pick.values.clone()));
        }
        match self.is_thorough || matches!(self.at, Stretch::Done) {
            true => Poll::Ready(None),
            false => Poll::Pending,
        }
    }

    /// Takes out what was found.
    pub fn take(&mut self) -> Choices {
        Choices {
            picks: self.kept.take(),
            least: self.least.take(),
            remedies: std::mem::take(&mut self.remedies),
        }
    }

    /// Share of the work that is done, for a progress bar.
    pub fn progress(&self) -> f64 {
        match &self.at {
            Stretch::Looking | Stretch::Solving => 0.8 * self.combinations.progress(),
            Stretch::Judging(_) | Stretch::Finishing(_) | Stretch::Touching(_) => 0.9,
            Stretch::Thorough(_) => 0.92,
            Stretch::Annealing(_) => 0.94,
            Stretch::Polishing(_) => 0.96,
            Stretch::Remedying(_) => 0.98,
            Stretch::Done => 1.0,
        }
    }

    fn step(&mut self, model: &Model) {
        let after = match &self.at {
            Stretch::Looking => self.look(model),
            Stretch::Solving => self.solve_next(model),
            Stretch::Judging(_) => self.judge(model),
            Stretch::Finishing(_) => self.finish_next(model),
            Stretch::Touching(_) => self.touch(model),
            Stretch::Thorough(_) => self.search_the_shelf(model),
            Stretch::Annealing(_) => self.anneal(model),
            Stretch::Polishing(_) => self.polish(model),
            Stretch::Remedying(_) => self.try_remedy(model),
            Stretch::Done => None,
        };
        if let Some(after) = after {
            self.at = after;
        }
    }

    fn look(&mut self, model: &Model) -> Option<Stretch> {
        // One look is too short to ask for the time after each.
        let look = |_| self.combinations.look(model, &self.lists);
        let are_all = (0..16).map(look).any(|looked| looked.is_ready());
        are_all.then_some(Stretch::Solving)
    }

    fn solve_next(&mut self, model: &Model) -> Option<Stretch> {
        let Some(number) = self.combinations.next() else {
            return Some(self.begin_judging());
        };
        self.solve_combination(model, number);
        None
    }

    fn finish_next(&mut self, model: &Model) -> Option<Stretch> {
        let Stretch::Finishing(finishing) = &mut self.at else {
            return None;
        };
        let Some(set) = finishing.waiting.pop() else {
            return Some(self.after_finishing(model));
        };
        self.finish(model, set);
        None
    }

    fn touch(&mut self, model: &Model) -> Option<Stretch> {
        let Stretch::Touching(touch) = &mut self.at else {
            return None;
        };
        let Some(sets) = touch.next(model, &self.lists, &mut self.scratch) else {
            return self.after_touching(model);
        };
        let scatter = touch.scatter.clone();
        for values in sets {
            self.keep(model, values, None, Some(&scatter));
        }
        None
    }

    fn search_the_shelf(&mut self, model: &Model) -> Option<Stretch> {
        let Stretch::Thorough(thorough) = &mut self.at else {
            return None;
        };
        match thorough.step(model, &self.lists, &mut self.scratch) {
            Step::More => None,
            Step::Solution(solution) => {
                self.list_round(model, *solution);
                None
            }
            Step::Done => {
                let least = thorough.least(model);
                self.least = least.map(|(miss, values)| (miss, values.to_vec()));
                self.rough = thorough.nearest().collect();
                Some(self.begin_judging())
            }
        }
    }

    fn anneal(&mut self, model: &Model) -> Option<Stretch> {
        let Stretch::Annealing(anneal) = &mut self.at else {
            return None;
        };
        let stepped = anneal.step(model, &self.lists, &mut self.scratch);
        stepped.is_ready().then(|| {
            let starts = anneal.found(&self.lists, POLISHED);
            Stretch::Polishing(Polish::new(model, &self.lists, starts))
        })
    }

    fn polish(&mut self, model: &Model) -> Option<Stretch> {
        let Stretch::Polishing(polish) = &mut self.at else {
            return None;
        };
        if polish
            .step(model, &self.lists, &mut self.scratch)
            .is_pending()
        {
            return None;
        }
        let found = std::mem::take(&mut polish.found);
        let is_by_twos = polish.is_by_twos;
        Some(self.after_polishing(model, found, is_by_twos))
    }

    fn try_remedy(&mut self, model: &Model) -> Option<Stretch> {
        let Stretch::Remedying(remedies) = &mut self.at else {
            return None;
        };
        let stepped = remedies.step(model, &self.lists, &mut self.scratch);
        stepped.is_ready().then(|| {
            self.remedies = std::mem::take(&mut remedies.found);
            Stretch::Done
        })
    }

    /// Solves one combination of chosen parts and lists the shelf's values round the solution.
    fn solve_combination(&mut self, model: &Model, number: usize) {
        let mut values: Vec<f64> = self.lists.values.iter().map(|list| list[0]).collect();
        self.combinations.put(number, &mut values);
        let (given, like) = ((&values[..], &self.lists.pinned[..]), self.solutions.last());
        let (patience, scratch) = (&mut self.patience, &mut self.scratch);
        let solved = exact::solve_patiently(model, given, CLOSE, like, patience, scratch);
        if let Some(solution) = solved {
            self.list_round(model, solution);
        }
    }

    fn list_round(&mut self, model: &Model, solution: Solution) {
        let around = (self.solutions.len(), &solution);
        let list = &mut self.shortlist;
        listing::list(model, &self.lists, around, self.given.weights, list);
        self.solutions.push(solution);
    }

    fn begin_judging(&mut self) -> Stretch {
        let from = std::mem::replace(&mut self.seen, self.solutions.len());
        let mut waiting = self.shortlist.promising(LOOKED_AT);
        waiting.retain(|set| set.solution >= from);
        Stretch::Judging(Judging {
            seen: Vec::with_capacity(waiting.len()),
            waiting,
            scatters: BTreeMap::new(),
        })
    }

    /// Looks at the next few sets; when all are looked at, says which are to be finished.
    fn judge(&mut self, model: &Model) -> Option<Stretch> {
        let Stretch::Judging(judging) = &mut self.at else {
            return None;
        };
        let shape = model.term_shape();
        let from = judging.seen.len();
        let next: Vec<Waiting> = judging.waiting[from..].iter().take(16).copied().collect();
        let around = |set: &Waiting| {
            let solution = &self.solutions[set.solution];
            (self.lists.around(model, solution, set.code), solution)
        };
        let sets: Vec<(Vec<f64>, &Solution)> = next.iter().map(around).collect();
        let hinted = (sets.iter()).map(|(set, like)| (&set[..], Some(&like.figures[..])));
        let all = model.terms_of_hinted(hinted, &mut self.scratch);
        let has_dividers = !model.stage.grouping().dividers.is_empty();
        let doubt = doubt(has_dividers);
        for ((mut set, mut terms), (_, solution)) in next.into_iter().zip(all).zip(&sets) {
            // Dividers can be had nearly exactly, so each takes out what it can.
            for slope in solution.slopes_of_dividers(model, &self.lists.pinned) {
                let along = divider::least_squares(&terms, slope);
                let terms = terms.iter_mut().zip(slope);
                terms.for_each(|(term, slope)| *term += slope * along);
            }
            let miss = shape.miss(&terms);
            set.points += self.given.weights.miss * (miss - set.miss);
            set.miss = miss;
            // Of a set that does not hold as marked no share is weighed.
            if miss > 1.0 + doubt {
                judging.seen.push((0.0, set));
                continue;
            }
            let scatter = judging.scatters.entry(set.solution).or_insert_with(|| {
                let seen = (&solution.figures[..], &solution.terms[..]);
                let scratch = &mut self.scratch;
                Arc::new((self.judge).scatter(model, &solution.values, seen, scratch))
            });
            judging
                .seen
                .push((scatter.share(&shape.groups, &terms), set));
        }
        if judging.seen.len() < judging.waiting.len() {
            return None;
        }
        let mut finished = judging.worth_finishing(has_dividers);
        if finished.len() < KEPT {
            finished.extend(self.shortlist.nearest());
        }
        finished.reverse();
        Some(Stretch::Finishing(Finishing {
            waiting: finished,
            scatters: std::mem::take(&mut judging.scatters),
        }))
    }

    /// Gives a set its divider, if it has one, and keeps it for the end.
    fn finish(&mut self, model: &Model, set: Waiting) {
        let solution = &self.solutions[set.solution];
        let around = self.lists.around(model, solution, set.code);
        let hint = solution.figures.clone();
        let scatter = match &self.at {
            Stretch::Finishing(finishing) => finishing.scatters.get(&set.solution).cloned(),
            _ => None,
        };
        let scatter = scatter.as_ref();
        let mut sets = vec![around];
        for movement in moves(model, &self.lists.pinned) {
            if let Move::Divider { upper, lower, .. } = movement {
                let pair = (upper, lower);
                let shop = divider::Shop {
                    model,
                    uppers: &self.lists.values[upper],
                    lowers: &self.lists.values[lower],
                    upper_strains: &self.lists.strains[upper],
                    lower_strains: &self.lists.strains[lower],
                    hint: &hint,
                    step: divider::step_of(set.miss),
                    weights: self.given.weights,
                };
                let with_pair = |values: Vec<f64>| match scatter.filter(|_| set.miss <= 1.0) {
                    Some(scatter) => {
                        shop.choose(&values, movement, pair, scatter, &mut self.scratch)
                    }
                    None => vec![shop.nearest(&values, pair)],
                };
                sets = sets.into_iter().flat_map(with_pair).collect();
            }
        }
        for values in sets {
            self.keep(model, values, Some(&hint), scatter);
        }
    }

    /// Keeps a set for the end; `hint` are figures of a similar one, `scatter` is that of its boards.
    fn keep(
        &mut self,
        model: &Model,
        values: Vec<f64>,
        hint: Option<&[f64]>,
        scatter: Option<&Arc<Scatter>>,
    ) {
        if self.kept.has(&values) {
            return;
        }
        let Some(place) = Place::at(model, values, hint, &mut self.scratch) else {
            return;
        };
        let shape = model.term_shape();
        let miss = miss_of(model, &place, &mut self.scratch);
        let share = match scatter {
            // Of those that do not hold as marked only the few that are told have their share worked out.
            _ if miss > 1.0 => f64::NAN,
            Some(scatter) => scatter.share(&shape.groups, &place.terms),
            None => 1.0,
        };
        let rank = Rank::of(model, &place, (miss, share), &self.given.weights);
        let Place {
            values,
            figures,
            terms,
            ..
        } = place;
        self.kept.add(Candidate {
            pick: Pick { values, rank },
            figures,
            terms,
            is_known: false,
        });
    }

    /// What stands next to the first pick, or where none holds the limits what would bring the ask back.
    fn after_polishing(
        &mut self,
        model: &Model,
        found: Vec<Vec<f64>>,
        is_by_twos: bool,
    ) -> Stretch {
        for values in found {
            self.keep(model, values, None, None);
        }
        self.put_in_order(model);
        self.keep_at_least_one(model);
        self.lower_least();
        if let Some(touching) = self.touching(model) {
            return touching;
        }
        let is_near = (self.kept.first()).is_some_and(|first| first.pick.rank.miss < NEAR);
        if is_near && !is_by_twos {
            let picks = self.kept.picks().map(|pick| pick.values.clone());
            let starts = picks.take(POLISHED).collect();
            return Stretch::Polishing(Polish::new(model, &self.lists, starts).by_twos());
        }
        if is_near && self.annealed < MOST_ANNEALED {
            // From anywhere: what was come by already would draw all others to it.
            return self.anneal_from(model, &[]);
        }
        let least = self.least.as_ref();
        Stretch::Remedying(Remedies::new(self.given.clone(), model, &self.lists, least))
    }

    fn put_in_order(&mut self, model: &Model) {
        let (judge, scratch) = (&self.judge, &mut self.scratch);
        let chosen = model.stage.grouping().chosen;
        self.kept.put_in_order(chosen, |candidate| {
            let seen = (&candidate.figures[..], &candidate.terms[..]);
            judge.share(model, &candidate.pick.values, seen, scratch)
        });
    }

    /// The neighbours of the first pick on the shelf, where it holds every limit as marked.
    fn touching(&mut self, model: &Model) -> Option<Stretch> {
        let first = self.kept.first().filter(|first| first.pick.rank.holds())?;
        let values = &first.pick.values;
        let seen = (&first.figures[..], &first.terms[..]);
        let scatter = (self.judge).scatter(model, values, seen, &mut self.scratch);
        let touch = Touch::new(model, &self.lists, values, scatter);
        Some(Stretch::Touching(touch))
    }

    /// What the shelf does, parts of any value do too: descents may end beside the best.
    fn lower_least(&mut self) {
        if let (Some(first), Some(least)) = (self.kept.picks().next(), &mut self.least)
            && first.rank.miss < least.0
        {
            *least = (first.rank.miss, first.values.clone());
        }
    }

    /// When all round the first pick were ranked: the same round the next first one, if there is one.
    fn after_touching(&mut self, model: &Model) -> Option<Stretch> {
        self.put_in_order(model);
        let (Some(first), Stretch::Touching(touch)) = (self.kept.first(), &mut self.at) else {
            return Some(Stretch::Done);
        };
        if !touch.go_on_from(&self.lists, &first.pick.values) {
            return Some(Stretch::Done);
        }
        let seen = (&first.figures[..], &first.terms[..]);
        let scatter = (self.judge).scatter(model, &first.pick.values, seen, &mut self.scratch);
        touch.scatter = Arc::new(scatter);
        None
    }

    /// Where nothing could be read at all there is still a set to be shown: the design equations' values, as near to
    /// them as the shelf comes.
    fn keep_at_least_one(&mut self, model: &Model) {
        if !self.kept.is_empty() {
            return;
        }
        let values = self
            .lists
            .on_the_shelf(model, &self.combinations.plain(model, &self.lists));
        let rank = Rank::new(
            f64::INFINITY,
            0.0,
            Bother::of(model, &values, &self.given.weights),
            &self.given.weights,
        );
        self.kept.add(Candidate {
            pick: Pick { values, rank },
            figures: Vec::new(),
            terms: Vec::new(),
            is_known: true,
        });
    }

    fn anneal_from(&mut self, model: &Model, given: &[Vec<f64>]) -> Stretch {
        let with = (given, self.annealed);
        self.annealed += 1;
        let anneal = Anneal::new(model, &self.lists, with, &mut self.scratch);
        Stretch::Annealing(Box::new(anneal))
    }

    /// Where nothing that is finished holds the limits, the whole shelf is searched once.
    fn after_finishing(&mut self, model: &Model) -> Stretch {
        self.put_in_order(model);
        if let Some(touching) = self.touching(model) {
            return touching;
        }
        if !self.is_thorough {
            self.is_thorough = true;
            return Stretch::Thorough(Box::new(Thorough::new(
                model,
                &self.lists,
                self.given.weights,
                &mut self.scratch,
            )));
        }
        let first = self.kept.picks().map(|pick| pick.values.clone());
        let given: Vec<Vec<f64>> = first.chain(self.rough.drain(..)).collect();
        self.anneal_from(model, &given)
    }
}
