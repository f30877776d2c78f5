//! What is told of each figure over a finished run, in slices.

use std::task::Poll;

use crate::outcome::{FigureOutcome, FigureSpread};
use crate::spread::{Histogram, Quantiles, SpreadRun, Widths};

/// Bins of a histogram.
pub(super) const BINS: usize = 48;
/// Boards between two questions whether to go on.
const STRETCH: usize = 16 * 1024;

/// Figure by figure: [`Summing::advance`] until it gives them.
pub(super) struct Summing {
    done: Vec<FigureSpread>,
    at: Pass,
}

enum Pass {
    Sorting(Box<Quantiles<7>>),
    Counting(Box<Counting>),
}

/// A tail of a few boards may not squeeze the rest into one bin: the histogram leaves a thousandth out.
const SHARES: [f64; 7] = [0.0, 0.001, 0.05, 0.5, 0.95, 0.999, 1.0];

struct Counting {
    quantiles: [f64; 7],
    readable: usize,
    histogram: Histogram,
    widths: Option<Widths>,
    boards: usize,
}

impl Summing {
    pub fn new() -> Summing {
        Summing {
            done: Vec::new(),
            at: Pass::Sorting(Box::new(Quantiles::new(SHARES))),
        }
    }

    /// Works on until every figure is told or `go_on` says no.
    pub fn advance(
        &mut self,
        run: &SpreadRun,
        figures: &[FigureOutcome],
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<Vec<FigureSpread>> {
        while let Some(figure) = figures.get(self.done.len()) {
            let index = self.done.len();
            let values = run.figure(index);
            match &mut self.at {
                Pass::Sorting(sorting) => {
                    if sorting.advance(values, go_on).is_pending() {
                        return Poll::Pending;
                    }
                    let quantiles = sorting.found();
                    let limits = run.limits().iter().enumerate();
                    let own = limits.into_iter().find(|(_, (at, _))| *at == index);
                    self.at = Pass::Counting(Box::new(Counting {
                        quantiles,
                        readable: sorting.readable(),
                        histogram: Histogram::empty(quantiles[1], quantiles[5], BINS),
                        widths: own
                            .and_then(|(bit, (_, limit))| Widths::new(limit, bit, figure.value)),
                        boards: 0,
                    }));
                }
                Pass::Counting(counting) => {
                    if counting.advance(run, values, go_on).is_pending() {
                        return Poll::Pending;
                    }
                    self.done.push(counting.told(run, figure, index));
                    self.at = Pass::Sorting(Box::new(Quantiles::new(SHARES)));
                }
            }
        }
        Poll::Ready(std::mem::take(&mut self.done))
    }
}

impl Counting {
    fn advance(
        &mut self,
        run: &SpreadRun,
        values: &[f64],
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<()> {
        while self.boards < values.len() {
            if !go_on() {
                return Poll::Pending;
            }
            let stretch = self.boards..(self.boards + STRETCH).min(values.len());
            self.histogram.add(&values[stretch.clone()]);
            if let Some(widths) = &mut self.widths {
                widths.add(&values[stretch.clone()], &run.missed()[stretch.clone()]);
            }
            self.boards = stretch.end;
        }
        Poll::Ready(())
    }

    fn told(&self, run: &SpreadRun, figure: &FigureOutcome, index: usize) -> FigureSpread {
        let boards = run.drawn();
        let [least, _, q05, median, q95, _, most] = self.quantiles;
        FigureSpread {
            name: figure.name.clone(),
            label: figure.label.clone(),
            unit: figure.unit,
            quantiles: [q05, median, q95],
            least,
            most,
            histogram: self.histogram.clone(),
            lowest: figure.lowest,
            highest: figure.highest,
            held: run
                .held(index)
                .map(|held| f64::from(held) / f64::from(boards)),
            unreadable: boards - self.readable as u32,
            widths: self.widths.as_ref().map(Widths::curve),
        }
    }
}
