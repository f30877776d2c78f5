//! The plant and the loop round it.

use super::{Cell, Table};
use crate::outcome::{LoopOutcome, LoopSpread, PlantOutcome, ServoOutcome, Shape, WorstBoard};

const MEASURED: &str = "measured";
const MODEL: &str = "model";

/// Frequency responses of the plant as measured and of its model.
pub(super) fn plant(plant: &PlantOutcome) -> Table {
    let decibels = plant.units.get("magnitude_db").map_or("dB", String::as_str);
    let mut table = Table::new([
        "Plant".to_owned(),
        "Frequency (Hz)".to_owned(),
        format!("Level ({decibels})"),
        "Phase (deg)".to_owned(),
    ]);
    for (kind, shape) in [(MEASURED, &plant.measured), (MODEL, &plant.modelled)] {
        for (frequency, level, phase) in shape.iter().flat_map(rows) {
            let cells = [frequency, level, phase].map(Cell::Number);
            table.row([Cell::Words(kind)].into_iter().chain(cells));
        }
    }
    table
}

fn rows(shape: &Shape) -> impl Iterator<Item = (f64, f64, f64)> {
    let levels = shape.frequency.iter().zip(&shape.magnitude_db);
    let all = levels.zip(&shape.phase_deg);
    all.map(|((frequency, level), phase)| (*frequency, *level, *phase))
}

fn both(servo: &ServoOutcome) -> impl Iterator<Item = (&'static str, &LoopOutcome)> {
    let both = [(MEASURED, &servo.measured), (MODEL, &servo.modelled)];
    both.into_iter()
        .filter_map(|(kind, told)| Some((kind, told.as_ref()?)))
}

/// L and what closing it makes of it.
pub(super) fn curves(servo: &ServoOutcome) -> Option<Table> {
    let mut table = Table::new([
        "Plant",
        "Frequency (Hz)",
        "Level (dB)",
        "Phase (deg)",
        "Real part",
        "Imaginary part",
        "Sensitivity (dB)",
        "Complementary sensitivity (dB)",
    ]);
    both(servo).next()?;
    for (kind, told) in both(servo) {
        for (at, (frequency, level, phase)) in rows(&told.open).enumerate() {
            let of = |values: &[f64]| Cell::Maybe(values.get(at).copied());
            table.row([
                Cell::Words(kind),
                Cell::Number(frequency),
                Cell::Number(level),
                Cell::Number(phase),
                of(&told.real),
                of(&told.imaginary),
                of(&told.sensitivity_db),
                of(&told.complementary_db),
            ]);
        }
    }
    Some(table)
}

/// Every crossing, and the peaks: a row a number.
pub(super) fn margins(servo: &ServoOutcome) -> Option<Table> {
    let mut table = Table::new(["Plant", "Margin", "Frequency (Hz)", "Value", "Unit"]);
    both(servo).next()?;
    for (kind, told) in both(servo) {
        let margins = &told.margins;
        let mut row = |name: &str, frequency: Option<f64>, value: f64, unit: &str| {
            table.row([
                Cell::Words(kind),
                Cell::Words(name),
                Cell::Maybe(frequency),
                Cell::Number(value),
                Cell::Words(unit),
            ]);
        };
        for crossing in &margins.gain_crossings {
            row(
                "phase margin",
                Some(crossing.frequency),
                crossing.phase_margin,
                "deg",
            );
        }
        for crossing in &margins.phase_crossings {
            let decibel = 20.0 * crossing.gain_margin.log10();
            row("gain margin", Some(crossing.frequency), decibel, "dB");
        }
        let peaks = [
            ("sensitivity peak", margins.sensitivity_peak),
            ("complementary sensitivity peak", margins.complementary_peak),
        ];
        for (name, peak) in peaks {
            if let Some((peak, frequency)) = peak {
                row(name, Some(frequency), peak, "1");
            }
        }
        for (name, band) in [
            ("bandwidth", margins.bandwidth),
            ("rejection band", margins.rejection_band),
        ] {
            if let Some(band) = band {
                row(name, None, band, "Hz");
            }
        }
        row(
            "rejection",
            Some(servo.asked.reject_at),
            told.rejection_db,
            "dB",
        );
        if let Some(count) = told.unstable_poles {
            row("unstable poles of the closed loop", None, count as f64, "1");
        }
    }
    Some(table)
}

/// What spreads the phase margin.
pub(super) fn contributions(loops: &LoopSpread) -> Table {
    let mut table = Table::new(["Factor", "Share"]);
    for one in &loops.contributions {
        table.row([Cell::Words(&one.label), Cell::Number(one.share)]);
    }
    table
}

/// The loop of the worst board.
pub(super) fn worst(board: &WorstBoard) -> Table {
    let open = &board.open;
    Table::of_columns(vec![
        ("Frequency (Hz)", &open.frequency[..]),
        ("Level (dB)", &open.magnitude_db),
        ("Phase (deg)", &open.phase_deg),
        ("Real part", &board.real),
        ("Imaginary part", &board.imaginary),
    ])
}
