//! Other workers that draw boards for a session: who is there, and what each was given.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::solve::{Helper, Piece, Plan, Work};
use crate::spread::{Errand, Hand};

/// Errands that a helper has at once: the next one waits there while it is at one.
const AT_ONCE: usize = 2;

/// What a helper is told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum HelperOrder {
    /// Boards of this run are drawn from now on.
    Begin { hand: Hand, plan: Box<Plan> },
    /// Do this.
    Do { hand: Hand, errand: Errand },
}

/// What a helper has to say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum HelperReport {
    /// It runs and takes orders.
    Ready,
    /// An errand is done; nothing came of it where the helper is not up to it.
    Done { hand: Hand, piece: Option<Piece> },
}

/// A helper's half, without the browser.
#[derive(Default)]
pub struct HelperSession {
    helper: Helper,
}

impl HelperSession {
    /// Takes an order; what came of it.
    pub fn take(&mut self, order: HelperOrder) -> Option<HelperReport> {
        match order {
            HelperOrder::Begin { plan, .. } => {
                self.helper.begin(&plan);
                None
            }
            HelperOrder::Do { hand, errand } => {
                let piece = self.helper.run(errand);
                Some(HelperReport::Done { hand, piece })
            }
        }
    }
}

/// All helpers of a session.
#[derive(Default)]
pub struct Crew {
    /// By their number; none where one has left.
    members: Vec<Option<Member>>,
    /// Counts runs that helpers were given.
    hands: u32,
}

#[derive(Default)]
struct Member {
    /// The run that it was given last.
    at: Option<(Hand, Arc<Plan>)>,
    /// Errands that it has.
    errands: usize,
}

impl Crew {
    /// One more is there; its number.
    pub fn join(&mut self) -> usize {
        self.members.push(Some(Member::default()));
        self.members.len() - 1
    }

    /// One is gone.
    pub fn leave(&mut self, number: usize) {
        if let Some(member) = self.members.get_mut(number) {
            *member = None;
        }
    }

    /// What they were given no longer counts: what comes back for one task might be heard while another is at work.
    pub fn forget(&mut self) {
        for member in self.members.iter_mut().flatten() {
            *member = Member::default();
        }
    }

    /// Those that have something to do.
    pub fn at_work(&self) -> Vec<usize> {
        let members = self.members.iter().enumerate();
        let at_work = members.filter(|(_, m)| m.as_ref().is_some_and(|m| m.errands > 0));
        at_work.map(|(number, _)| number).collect()
    }

    /// Has the work know who is still there.
    pub fn show(&self, work: &mut Work) {
        if self.members.is_empty() {
            return;
        }
        let at = self.members.iter().flatten();
        let there: Vec<Hand> = at
            .filter_map(|m| m.at.as_ref().map(|(hand, _)| *hand))
            .collect();
        work.keep(&there);
    }

    /// Gives out what there is to do.
    pub fn give_out(&mut self, work: &mut Work, tell: &mut dyn FnMut(usize, HelperOrder)) {
        let workers = 1 + self.members.iter().flatten().count() as u32;
        let Some(plan) = work.plan().filter(|_| workers > 1) else {
            return;
        };
        let members = self.members.iter_mut().enumerate();
        for (number, member) in members.filter_map(|(n, m)| Some((n, m.as_mut()?))) {
            let known = member.at.as_ref().filter(|(_, at)| Arc::ptr_eq(at, &plan));
            let (hand, mut is_new) = match known {
                Some((hand, _)) => (*hand, false),
                None => (Hand(self.hands), true),
            };
            while (is_new || member.errands < AT_ONCE)
                && let Some(errand) = work.lend(hand, workers)
            {
                if std::mem::take(&mut is_new) {
                    self.hands = self.hands.wrapping_add(1);
                    (member.at, member.errands) = (Some((hand, Arc::clone(&plan))), 0);
                    let plan = Box::new((*plan).clone());
                    tell(number, HelperOrder::Begin { hand, plan });
                }
                member.errands += 1;
                tell(number, HelperOrder::Do { hand, errand });
            }
        }
    }

    /// Takes what a helper reports, where it belongs to the run that it was given last.
    pub fn hear(&mut self, number: usize, report: HelperReport, work: &mut Work) {
        let HelperReport::Done { hand, piece } = report else {
            return;
        };
        let Some(Some(member)) = self.members.get_mut(number) else {
            return;
        };
        if member.at.as_ref().is_none_or(|(at, _)| *at != hand) {
            return;
        }
        member.errands = member.errands.saturating_sub(1);
        match piece {
            Some(piece) => work.give_back(hand, piece),
            None => self.leave(number),
        }
    }
}
