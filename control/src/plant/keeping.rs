//! What a design keeps of a long sweep: few points that give the same model as all rows.

use std::task::Poll;

use super::{FitWork, Fitted, LowEnd, Settings, Sweep};

/// Up to so many rows are kept as they are.
const FEW: usize = 500;
/// Widths of runs that are tried, the widest first.
const WIDTHS: [f64; 4] = [0.4, 0.2, 0.1, 0.05];
/// Modes from the kept points lie within this share of their standard uncertainties from those of all rows.
const NEAR: f64 = 1.0 / 3.0;
/// Points kept of a sweep that nothing can be fitted to.
const UNFITTED: usize = 800;

/// Choosing what to keep, in small steps: a fit to all rows, then fits to fewer points until one agrees.
#[derive(Clone, Debug)]
pub struct KeepWork {
    rows: Sweep,
    whole: Option<Fitted>,
    work: Option<Box<FitWork>>,
    /// Widths still to be tried, the next last, and the points of the one that is tried.
    widths: Vec<f64>,
    tried: Option<Sweep>,
    kept: Option<Sweep>,
}

impl KeepWork {
    /// Begins with all rows of a sweep.
    pub fn begin(rows: Sweep) -> KeepWork {
        let work = (rows.points.len() > FEW)
            .then(|| FitWork::begin(&rows, &Settings::default()).ok())
            .flatten();
        let kept = match &work {
            Some(_) => None,
            None if rows.points.len() > FEW => Some(rows.thinned(UNFITTED)),
            None => Some(rows.clone()),
        };
        KeepWork {
            rows,
            whole: None,
            work: work.map(Box::new),
            widths: WIDTHS.iter().rev().copied().collect(),
            tried: None,
            kept,
        }
    }

    /// Keeps rows by averaging where nothing happens, whatever they are of.
    pub fn thin(rows: Sweep) -> KeepWork {
        let kept = match rows.points.len() > FEW {
            true => rows.thinned(FEW),
            false => rows.clone(),
        };
        KeepWork {
            rows,
            whole: None,
            work: None,
            widths: Vec::new(),
            tried: None,
            kept: Some(kept),
        }
    }

    /// Does a small piece; ready when there is nothing left to do.
    pub fn step(&mut self) -> Poll<()> {
        if self.kept.is_some() {
            return Poll::Ready(());
        }
        if let Some(work) = &mut self.work {
            if work.step().is_ready()
                && let Some(work) = self.work.take()
            {
                self.learn(work.into_fitted());
            }
        } else {
            self.kept = self.next();
        }
        match self.kept {
            Some(_) => Poll::Ready(()),
            None => Poll::Pending,
        }
    }

    /// How many rows there were.
    pub fn rows(&self) -> usize {
        self.rows.points.len()
    }

    /// The points to keep; works to the end if there is more to do.
    pub fn into_kept(mut self) -> Sweep {
        while self.step().is_pending() {}
        self.kept.unwrap_or(self.rows)
    }

    fn learn(&mut self, fitted: Fitted) {
        match &self.whole {
            None => self.whole = Some(fitted),
            Some(whole) if agree(&fitted, whole) => self.kept = self.tried.take(),
            Some(_) => (),
        }
    }

    /// Begins with the next width; all rows where there is none, or where hardly fewer points are left.
    fn next(&mut self) -> Option<Sweep> {
        let all = || Some(self.rows.clone());
        let (Some(whole), Some(width)) = (&self.whole, self.widths.pop()) else {
            return all();
        };
        let fewer = self.rows.condensed(&whole.model, width);
        if 5 * fewer.points.len() > 4 * self.rows.points.len() {
            return all();
        }
        match FitWork::begin(&fewer, &Settings::default()) {
            Ok(work) => self.work = Some(Box::new(work)),
            Err(_) => return all(),
        }
        self.tried = Some(fewer);
        None
    }
}

/// Whether a fit to fewer points has the same model, as near as is promised.
fn agree(fewer: &Fitted, whole: &Fitted) -> bool {
    let modes = fewer.model.modes.iter().zip(&whole.model.modes);
    let near = |a: f64, b: f64, doubt: f64| (a - b).abs() <= NEAR * doubt;
    fewer.model.modes.len() == whole.model.modes.len()
        && LowEnd::of(&fewer.model) == LowEnd::of(&whole.model)
        && modes
            .zip(&whole.uncertainties.modes)
            .all(|((a, b), doubt)| {
                near(a.frequency, b.frequency, doubt.frequency)
                    && near(a.damping, b.damping, doubt.damping)
                    && near(a.residue, b.residue, doubt.residue)
            })
}
