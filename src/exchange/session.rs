//! The worker's half, without the browser: takes orders, works in slices, reports.

use super::crew::Crew;
use super::texts::Texts;
use super::{BoardsSoFar, HelperOrder, HelperReport, Intake, NotKept, Order, Report};
use crate::design::Design;
use crate::export::{What, available, export};
use crate::plant::SweptOf;
use crate::sheet;
use crate::solve::{Step, Work};
use crate::spread::clopper_pearson;

/// Where reports go.
type Tell<'a> = &'a mut dyn FnMut(Report);

/// One design and everything found for it, and the sweeps that are being read.
#[derive(Default)]
pub struct Session {
    edit: u32,
    work: Option<Work>,
    /// Whether the work has more to do.
    is_solving: bool,
    /// Whether all that is left to do is with helpers.
    is_waiting: bool,
    crew: Crew,
    plant: Texts,
    bench: Texts,
}

const INTAKES: [Intake; 2] = [Intake::Plant, Intake::Bench];

impl Session {
    /// Takes an order; what is done at once is told at once.
    pub fn take(&mut self, order: Order, tell: Tell) {
        match order {
            Order::Solve { edit, design } => self.solve(edit, &design, tell),
            Order::Board(number) => tell(self.board(number)),
            Order::Read {
                intake,
                text,
                bytes,
                columns,
                wanted,
            } => {
                let texts = self.texts(intake);
                let reading = texts.read(intake, text, &bytes, columns.as_ref(), &wanted);
                tell(Report::Read {
                    intake,
                    text,
                    reading,
                });
            }
            Order::Keep {
                intake,
                turn,
                texts,
                of,
            } => {
                if let Err(why) = self.keep(intake, turn, &texts, of) {
                    tell(Report::Kept {
                        intake,
                        turn,
                        kept: Err(why),
                    });
                }
            }
            Order::Available => {
                let outcome = self.work.as_ref().map(Work::current_outcome);
                tell(Report::Available(available(&outcome.unwrap_or_default())));
            }
            Order::Export { what, boards } => tell(self.export(what, boards)),
            Order::Sheet => tell(self.sheet()),
            Order::Call { call, what } => tell(Report::Answer {
                call,
                text: what.answer(),
            }),
        }
    }

    fn board(&self, number: u32) -> Report {
        let board = self.work.as_ref().and_then(|work| work.board(number));
        Report::Board {
            number,
            board: board.map(Box::new),
        }
    }

    fn export(&self, what: What, boards: u32) -> Report {
        let file = self.work.as_ref().map_or_else(
            || Err("There is no design yet that could be worked on.".to_owned()),
            |work| export(work.design(), &work.current_outcome(), what, boards),
        );
        Report::Exported {
            what,
            file: file.map(Box::new),
        }
    }

    fn sheet(&self) -> Report {
        let write = |work: &Work| sheet::fragment(work.design(), &work.current_outcome());
        Report::Sheet {
            edit: self.edit,
            text: self.work.as_ref().map(write).unwrap_or_default(),
        }
    }

    /// Works while `go_on` says so; whether there is more to do before a helper reports.
    pub fn advance(&mut self, go_on: &mut dyn FnMut() -> bool, tell: Tell) -> bool {
        self.is_waiting = false;
        while go_on() {
            // What a dropped file needs comes first: its design follows.
            let reading = INTAKES
                .into_iter()
                .find(|intake| self.texts(*intake).is_at_work());
            if let Some(intake) = reading {
                if let Some((turn, kept)) = self.texts(intake).advance() {
                    tell(Report::Kept {
                        intake,
                        turn,
                        kept: Ok(kept),
                    });
                }
            } else if self.is_waiting {
                return false;
            } else if self.is_solving {
                self.step(go_on, tell);
            } else {
                return false;
            }
        }
        let is_reading = self.plant.is_at_work() || self.bench.is_at_work();
        is_reading || (self.is_solving && !self.is_waiting)
    }

    /// Begins to work out what to keep; what was swept of the loop with the path as it stands.
    fn keep(
        &mut self,
        intake: Intake,
        turn: u32,
        texts: &[u32],
        of: Option<SweptOf>,
    ) -> Result<(), NotKept> {
        let work = self.work.as_ref();
        let path = work.and_then(Work::path);
        let sign = work.map_or(1.0, |work| work.design().servo.summing.sign());
        let of = of.map(|of| (of, path.as_deref(), sign));
        self.texts(intake).keep(intake, turn, texts, of)
    }

    fn texts(&mut self, intake: Intake) -> &mut Texts {
        match intake {
            Intake::Plant => &mut self.plant,
            Intake::Bench => &mut self.bench,
        }
    }

    /// Whether helpers are worth their start, or have something to do.
    pub fn wants_help(&mut self) -> bool {
        let work = self.work.as_mut().filter(|_| self.is_solving);
        work.is_some_and(|work| work.plan().is_some())
    }

    /// A helper is there; its number.
    pub fn join(&mut self) -> usize {
        self.crew.join()
    }

    /// A helper is gone; what it was given is done by others.
    pub fn leave(&mut self, helper: usize) {
        self.crew.leave(helper);
    }

    /// Helpers that all is waiting for; none while there is something to do here.
    pub fn waits_for(&self) -> Vec<usize> {
        match self.is_waiting {
            true => self.crew.at_work(),
            false => Vec::new(),
        }
    }

    /// Gives helpers what there is to do; to be asked for after a slice, and after a helper was heard.
    pub fn give_out(&mut self, tell: &mut dyn FnMut(usize, HelperOrder)) {
        if let Some(work) = self.work.as_mut().filter(|_| self.is_solving) {
            self.crew.give_out(work, tell);
        }
    }

    /// Takes what a helper reports.
    pub fn hear(&mut self, helper: usize, report: HelperReport) {
        if let Some(work) = &mut self.work {
            self.crew.hear(helper, report, work);
        }
    }

    /// How far the work on the design is.
    fn progress(&self, field: &str, share: f64) -> Report {
        let so_far = self.work.as_ref().and_then(Work::so_far);
        Report::Progress {
            edit: self.edit,
            field: field.to_owned(),
            share,
            boards: so_far.map(|(drawn, passed)| {
                let (low, high) = clopper_pearson(u64::from(passed), u64::from(drawn), 0.95);
                BoardsSoFar { drawn, low, high }
            }),
        }
    }

    fn solve(&mut self, edit: u32, design: &str, tell: Tell) {
        self.edit = edit;
        self.crew.forget();
        let changed = Design::from_json(design).and_then(|design| match &mut self.work {
            Some(work) => work.change(&design),
            None => Work::begin(&design).map(|work| self.work = Some(work)),
        });
        match changed {
            Ok(()) => self.is_solving = true,
            Err(errors) => {
                self.is_solving = false;
                tell(Report::Refused { edit, errors });
                tell(Report::Done { edit });
            }
        }
    }

    fn step(&mut self, go_on: &mut dyn FnMut() -> bool, tell: Tell) {
        let edit = self.edit;
        let Some(work) = &mut self.work else {
            self.is_solving = false;
            return;
        };
        // What a slot gave out long ago may be with helpers that are gone.
        self.crew.show(work);
        let mut is_in_part = false;
        let field = match work.advance(go_on) {
            Step::Working { field, share } => return tell(self.progress(field, share)),
            Step::Waiting { field, share } => {
                self.is_waiting = true;
                return tell(self.progress(field, share));
            }
            Step::Found(field) | Step::Dropped(field) => {
                is_in_part = work.is_stale(field);
                tell(Report::Found {
                    field: field.to_owned(),
                    told: Box::new(work.field(field)),
                    is_current: !is_in_part,
                });
                field
            }
            Step::Failed(field) => {
                let errors = work.errors();
                tell(Report::Refused { edit, errors });
                field
            }
            Step::Kept(field) => field,
            Step::Done => {
                self.is_solving = false;
                return tell(Report::Done { edit });
            }
        };
        if field == "path" && work.errors().is_empty() {
            let errors = Vec::new();
            tell(Report::Refused { edit, errors });
        }
        if !is_in_part {
            tell(Report::Settled {
                edit,
                field: field.to_owned(),
            });
        }
    }
}
