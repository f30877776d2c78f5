//! The bands of group delay and step: of the first boards only, because each is worked out on its own.

use std::task::Poll;

use super::population::{drawn, population};
use super::stages::Line;
use crate::design::Design;
use crate::outcome::SlowBand;
use crate::response::{Transfer, step_response};
use crate::spread::{Draws, quantiles};
use crate::stages::Model;

/// Boards of the shown stage; of a path as many as come to as many stages.
const BOARDS: u32 = 400;

/// Bands of the shown stage, and of the path where it is more.
pub(super) type Slow = (SlowBand, Option<SlowBand>);

/// Board by board: [`SlowBands::advance`] until it says that it is done.
pub(super) struct SlowBands {
    draws: Draws,
    frequency: Vec<f64>,
    /// Samples of the step and their distance, s.
    samples: usize,
    dt: f64,
    board: u32,
    stage: Columns,
    path: Option<Columns>,
}

/// Values of all boards at each frequency and at each time.
struct Columns {
    delay: Vec<Vec<f64>>,
    step: Vec<Vec<f64>>,
    /// As many columns as are told already.
    told: SlowBand,
}

impl SlowBands {
    /// None where the shown stage has no curves.
    pub fn new(design: &Design, lines: &[Line], frequency: &[f64]) -> Option<SlowBands> {
        let found = &lines.get(design.view.stage)?.found;
        let time = &found.outcome.curves.as_ref()?.time;
        let columns = |boards: u32| Columns {
            delay: vec![Vec::new(); frequency.len()],
            step: vec![Vec::new(); time.len()],
            told: SlowBand {
                boards: boards.min(design.spread.boards),
                ..SlowBand::default()
            },
        };
        Some(SlowBands {
            draws: Draws::new(population(design, &drawn(lines)), design.spread.seed),
            samples: time.len(),
            dt: time.get(1)? - time[0],
            board: 0,
            stage: columns(BOARDS),
            path: (lines.len() > 1).then(|| columns(BOARDS / lines.len() as u32)),
            frequency: frequency.to_vec(),
        })
    }

    /// Works on, board by board and then column by column, until done (true) or `go_on` says no (false).
    pub fn advance(
        &mut self,
        design: &Design,
        lines: &[Line],
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<()> {
        let mut values = vec![0.0; self.draws.population().variations.len()];
        while self.board < self.stage.told.boards {
            if !go_on() {
                return Poll::Pending;
            }
            self.draws.board(u64::from(self.board), &mut values);
            let mut rest = &values[..];
            let transfers = lines.iter().map(|line| {
                let model: &Model = &line.real;
                let (own, behind) = rest.split_at(model.program.inputs());
                rest = behind;
                model.program.transfer(own, model.scale)
            });
            let transfers: Vec<Transfer> = transfers.collect();
            let (grid, step) = (&self.frequency, (self.samples, self.dt));
            let shown = design.view.stage;
            self.stage.add(&[&transfers[shown]], grid, step);
            if let Some(path) = self
                .path
                .as_mut()
                .filter(|path| self.board < path.told.boards)
            {
                path.add(&transfers.iter().collect::<Vec<_>>(), grid, step);
            }
            self.board += 1;
        }
        for columns in std::iter::once(&mut self.stage).chain(&mut self.path) {
            while columns.tell_next() {
                if !go_on() {
                    return Poll::Pending;
                }
            }
        }
        Poll::Ready(())
    }

    /// What was found.
    pub fn into_told(self) -> Slow {
        (self.stage.told, self.path.map(|path| path.told))
    }
}

impl Columns {
    fn add(&mut self, row: &[&Transfer], grid: &[f64], (samples, dt): (usize, f64)) {
        for (column, f) in self.delay.iter_mut().zip(grid) {
            column.push(row.iter().map(|transfer| transfer.group_delay(*f)).sum());
        }
        let step = step_response(row, dt, samples);
        for (column, value) in self.step.iter_mut().zip(step) {
            column.push(value);
        }
    }

    /// Tells one more column; false when all are told.
    fn tell_next(&mut self) -> bool {
        let SlowBand { delay, step, .. } = &mut self.told;
        for (columns, band) in [(&self.delay, delay), (&self.step, step)] {
            if let Some(column) = columns.get(band.low.len()) {
                band.push(quantiles(column, [0.0, 0.05, 0.5, 0.95, 1.0]));
                return true;
            }
        }
        false
    }
}
