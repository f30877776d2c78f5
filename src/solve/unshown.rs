//! Magnitude and phase of the stages that are not shown: each on its own axes, for what tells of all stages.

use std::sync::Arc;

use super::curves;
use super::stages::{Line, Stages, span};
use super::task::{Asked, Before, Blocked, Finding, Seen, Task, Turn};
use crate::design::InputError;
use crate::outcome::{Curves, Outcome};

/// All that the curves hang on.
#[derive(PartialEq)]
pub(super) struct UnshownReads {
    lines: Seen<Vec<Line>>,
    shown: usize,
    decades: f64,
}

/// The curves, stage by stage.
pub(super) struct Unshown {
    curves: Vec<Option<Arc<Curves>>>,
    /// What is known, and from what.
    before: Option<Finding<Unshown>>,
}

impl Task for Unshown {
    const FIELD: &'static str = "unshown";
    type Reads = UnshownReads;
    type Finds = Vec<Option<Arc<Curves>>>;

    fn reads(asked: &Asked) -> Result<Option<UnshownReads>, Blocked> {
        let lines = asked.found::<Stages>()?.filter(|lines| lines.len() > 1);
        Ok(lines.map(|lines| UnshownReads {
            lines,
            shown: asked.design.view.stage,
            decades: asked.design.view.decades,
        }))
    }

    fn begin(
        _: &UnshownReads,
        before: Option<Before<Unshown>>,
    ) -> Result<Unshown, Vec<InputError>> {
        Ok(Unshown {
            curves: Vec::new(),
            before: before.and_then(|before| before.found),
        })
    }

    fn advance(
        &mut self,
        reads: &UnshownReads,
        _: &mut dyn FnMut() -> bool,
    ) -> Turn<Vec<Option<Arc<Curves>>>> {
        let index = self.curves.len();
        let Some(line) = reads.lines.get(index) else {
            return Turn::Found(std::mem::take(&mut self.curves));
        };
        let drawn = || match self.known(line, reads.decades) {
            Some(known) => known,
            None => Arc::new(curves::response(span(reads.decades, &line.real), {
                let [ask, ideal, real] = &line.found.transfers;
                [ask, ideal, real].map(|transfer| vec![transfer])
            })),
        };
        let curves = (index != reads.shown).then(drawn);
        self.curves.push(curves);
        Turn::More(self.curves.len() as f64 / reads.lines.len() as f64)
    }

    fn tell(_: &UnshownReads, found: &Vec<Option<Arc<Curves>>>, outcome: &mut Outcome) {
        let told = found.iter().map(|curves| curves.as_deref().cloned());
        outcome.unshown = told.collect();
    }
}

impl Unshown {
    /// The curves of the same stage as they were drawn before.
    fn known(&self, line: &Line, decades: f64) -> Option<Arc<Curves>> {
        let (of, all) = self.before.as_ref()?;
        if of.decades != decades {
            return None;
        }
        let mut pairs = of.lines.iter().zip(all.iter());
        let same = pairs.find(|(of, _)| Arc::ptr_eq(&of.found, &line.found));
        same.and_then(|(_, curves)| curves.clone())
    }
}
