//! Texts that sweeps are read from, and what is kept of them.

use std::collections::BTreeMap;

use num_complex::Complex64;

use super::{Intake, Kept, NotKept};
use crate::plant::sweep::{self, Columns, Reading};
use crate::plant::{KeepWork, SweptOf};
use crate::response::Transfer;

/// Texts that were read, and the work on what to keep of them.
#[derive(Default)]
pub struct Texts {
    readings: BTreeMap<u32, Reading>,
    keeping: Option<Keeping>,
}

struct Keeping {
    turn: u32,
    notes: Vec<String>,
    of: Option<SweptOf>,
    has_phase: bool,
    work: KeepWork,
}

impl Texts {
    /// Reads a text as that of its intake, and forgets those that are no longer wanted.
    pub fn read(
        &mut self,
        intake: Intake,
        text: u32,
        bytes: &[u8],
        columns: Option<&Columns>,
        wanted: &[u32],
    ) -> Result<Box<Reading>, String> {
        self.readings.retain(|known, _| wanted.contains(known));
        self.keeping = None;
        let read = sweep::decode(bytes).map(|decoded| match intake {
            Intake::Plant => sweep::read(&decoded, columns),
            Intake::Bench => sweep::read_measured(&decoded, columns),
        });
        read.map(|reading| {
            // The page shows how it was read; the rows stay here.
            let shown = Reading {
                measured: Vec::new(),
                sweep: sweep::Sweep::default(),
                ..reading.clone()
            };
            self.readings.insert(text, reading);
            Box::new(shown)
        })
    }

    /// Begins to work out what to keep of texts. A plant is kept by what is fitted to it, all else by averaging where
    /// nothing happens. What was swept of the loop is made a plant's first; `path` is the path in it, with the sign of the
    /// summing point.
    pub fn keep(
        &mut self,
        intake: Intake,
        turn: u32,
        texts: &[u32],
        of: Option<(SweptOf, Option<&[Transfer]>, f64)>,
    ) -> Result<(), NotKept> {
        let known: Option<Vec<&Reading>> =
            texts.iter().map(|text| self.readings.get(text)).collect();
        let mut merged = sweep::merge(&known.ok_or(NotKept::Unread)?);
        if let Some((of, path, sign)) = of {
            let path = path.ok_or(NotKept::NoPath)?;
            let stages = path.len();
            let path = |f: f64| sign * path.iter().map(|stage| stage.at(f)).product::<Complex64>();
            let found = of.plant(&merged.sweep, path);
            merged.sweep = found.sweep;
            merged.notes.extend(found.notes);
            if sign < 0.0 && of == SweptOf::ClosedLoop {
                merged.notes.push(
                    "The summing point adds, so a reference comes out with the other sign: L/(1 + L) is what was measured \
                     from there, times −1."
                        .to_owned(),
                );
            }
            merged.notes.push(match stages {
                0 => "The path has no stage: what comes back through it is the plant’s own output."
                    .to_owned(),
                1 => "The path has 1 stage.".to_owned(),
                _ => format!("The path has {stages} stages."),
            });
        }
        self.keeping = Some(Keeping {
            turn,
            notes: merged.notes,
            of: of.map(|(of, ..)| of),
            has_phase: merged.has_phase,
            work: match intake {
                Intake::Plant => KeepWork::begin(merged.sweep),
                Intake::Bench => KeepWork::thin(merged.sweep),
            },
        });
        Ok(())
    }

    /// Whether there is something to work out.
    pub fn is_at_work(&self) -> bool {
        self.keeping.is_some()
    }

    /// Does a small piece of it; at its end the turn and what is kept.
    pub fn advance(&mut self) -> Option<(u32, Kept)> {
        if self.keeping.as_mut()?.work.step().is_pending() {
            return None;
        }
        let Keeping {
            turn,
            notes,
            of,
            has_phase,
            work,
        } = self.keeping.take()?;
        let rows = work.rows() as u32;
        let kept = work.into_kept();
        let kept = Kept {
            sweep: match has_phase {
                true => sweep::write(&kept),
                false => sweep::write_magnitudes(&kept),
            },
            points: kept.points.len() as u32,
            rows,
            notes,
            of,
            demo: demo(),
        };
        Some((turn, kept))
    }
}

/// The demo's sweep as a design holds it.
fn demo() -> String {
    let reading = sweep::read(sweep::DEMO, None);
    sweep::write(&sweep::merge(&[&reading]).sweep)
}
