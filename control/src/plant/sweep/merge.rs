//! Several sweeps of one plant as one.

use super::repeats::{gathered, normalised};
use super::{Reading, Sweep, WeightKind};

/// Several readings as one sweep.
#[derive(Clone, Debug, PartialEq)]
pub struct Merged {
    pub sweep: Sweep,
    /// Whether its phase was measured.
    pub has_phase: bool,
    /// Sentences on what was done.
    pub notes: Vec<String>,
}

/// The good rows of all readings as repeated measurements of one plant, in order of frequency: rows at one frequency
/// are averaged, and where most frequencies are repeated, how the rows scatter tells the noise. The readings need not
/// cover the same frequencies.
///
/// Weights from coherences are compared with each other; beside a reading with other weights or none, each reading's
/// own have a median of 1. Where one has magnitudes alone, so has what is made of all.
pub fn merge(readings: &[&Reading]) -> Merged {
    if let [one] = readings {
        return Merged {
            sweep: one.sweep.clone(),
            has_phase: one.columns.has_phase(),
            notes: Vec::new(),
        };
    }
    let kinds = readings
        .iter()
        .map(|reading| reading.columns.weight.map(|weight| weight.kind));
    let are_alike = kinds.clone().all(|kind| Some(kind) == kinds.clone().next());
    let has_phase = readings.iter().all(|reading| reading.columns.has_phase());
    let mut rows = Vec::new();
    for reading in readings {
        let mut own = reading.measured.clone();
        if !are_alike {
            normalised(&mut own);
        }
        if !has_phase {
            for row in &mut own {
                row.response = row.response.norm().into();
            }
        }
        rows.extend(own);
    }
    let mut found = gathered(rows);
    let is_coherence = kinds.flatten().any(|kind| kind == WeightKind::Coherence);
    if is_coherence && !found.is_noise_known {
        normalised(&mut found.points);
    }
    let mut notes = vec![format!(
        "{} sweeps are taken together as measurements of one plant.",
        readings.len()
    )];
    if !has_phase && readings.iter().any(|reading| reading.columns.has_phase()) {
        notes.push("Not all have a phase; magnitudes alone are kept.".to_owned());
    }
    notes.extend(found.notes);
    Merged {
        sweep: Sweep {
            points: found.points,
        },
        has_phase,
        notes,
    }
}
