//! Texts that sweeps are read from, and what is kept of them.

use std::collections::BTreeMap;

use super::{Kept, Report};
use crate::plant::KeepWork;
use crate::plant::sweep::{self, Columns, Reading};

/// Texts that were read, and the work on what to keep of them.
#[derive(Default)]
pub struct Texts {
    readings: BTreeMap<u32, Reading>,
    keeping: Option<Keeping>,
}

struct Keeping {
    turn: u32,
    notes: Vec<String>,
    work: KeepWork,
}

impl Texts {
    /// Reads a text, and forgets those that are no longer wanted.
    pub fn read(
        &mut self,
        text: u32,
        bytes: &[u8],
        columns: Option<&Columns>,
        wanted: &[u32],
    ) -> Report {
        self.readings.retain(|known, _| wanted.contains(known));
        self.keeping = None;
        let read = sweep::decode(bytes).map(|decoded| sweep::read(&decoded, columns));
        let reading = read.map(|reading| {
            // The page shows how it was read; the rows stay here.
            let shown = Reading {
                measured: Vec::new(),
                sweep: sweep::Sweep::default(),
                ..reading.clone()
            };
            self.readings.insert(text, reading);
            Box::new(shown)
        });
        Report::Read { text, reading }
    }

    /// Begins to work out what to keep of texts; a report where one of them is not known.
    pub fn keep(&mut self, turn: u32, texts: &[u32]) -> Option<Report> {
        let known: Option<Vec<&Reading>> =
            texts.iter().map(|text| self.readings.get(text)).collect();
        let Some(readings) = known else {
            return Some(Report::Kept { turn, kept: None });
        };
        let merged = sweep::merge(&readings);
        self.keeping = Some(Keeping {
            turn,
            notes: merged.notes,
            work: KeepWork::begin(merged.sweep),
        });
        None
    }

    /// Whether there is something to work out.
    pub fn is_at_work(&self) -> bool {
        self.keeping.is_some()
    }

    /// Does a small piece of it; a report at its end.
    pub fn advance(&mut self) -> Option<Report> {
        if self.keeping.as_mut()?.work.step().is_pending() {
            return None;
        }
        let Keeping { turn, notes, work } = self.keeping.take()?;
        let rows = work.rows() as u32;
        let kept = work.into_kept();
        let kept = Kept {
            sweep: sweep::write(&kept),
            points: kept.points.len() as u32,
            rows,
            notes,
            demo: demo(),
        };
        Some(Report::Kept {
            turn,
            kept: Some(kept),
        })
    }
}

/// The demo's sweep as a design holds it.
fn demo() -> String {
    let reading = sweep::read(sweep::DEMO, None);
    sweep::write(&sweep::merge(&[&reading]).sweep)
}
