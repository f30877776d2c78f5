//! Noise: densities over frequency, and what adds up over the band.

use super::{Cell, Table};
use crate::design::labelled;
use crate::outcome::{LoopNoise, NoiseDensity, NoiseOutcome, PathNoise, StageNoiseOutcome};

/// A stage's densities, with those of its largest contributors.
pub(super) fn stage(told: &StageNoiseOutcome) -> Table {
    let input = referred(&told.density);
    let mut columns = heads(&told.density, &input);
    columns.push((in_volts("Resistors alone"), &told.thermal));
    let drawn = told.contributors.iter();
    let drawn = drawn.filter(|one| !one.density.is_empty());
    columns.extend(drawn.map(|one| {
        let name = format!("{}, {}", one.part, one.words());
        (in_volts(&name), &one.density[..])
    }));
    Table::of_columns(columns)
}

/// The path's densities, with what each stage adds at its output.
pub(super) fn path(told: &PathNoise) -> Table {
    let input = referred(&told.density);
    let mut columns = heads(&told.density, &input);
    for (place, stage) in told.stages.iter().enumerate() {
        columns.push((in_volts(&format!("Stage {}", place + 1)), &stage.density));
    }
    Table::of_columns(columns)
}

/// What the path's noise does to drive and position.
pub(super) fn looped(told: &LoopNoise) -> Option<Table> {
    let unit = |name: &str| match told.units.get(name) {
        Some(unit) => format!("{unit}/sqrt(Hz)"),
        None => "1/sqrt(Hz)".to_owned(),
    };
    (!told.frequency.is_empty()).then(|| {
        Table::of_columns(vec![
            ("Frequency (Hz)".to_owned(), &told.frequency[..]),
            (format!("Drive ({})", unit("drive_rms")), &told.drive),
            (
                format!("Position ({})", unit("position_rms")),
                &told.position,
            ),
        ])
    })
}

/// Every contributor over the band, stage by stage, most first; then each stage at the path's output and round the loop.
pub(super) fn contributors(told: &NoiseOutcome) -> Table {
    let unit = |name: &str| {
        let looped = told.looped.as_ref();
        looped
            .and_then(|looped| looped.units.get(name))
            .map_or("", String::as_str)
    };
    let mut table = Table::new([
        "Stage".to_owned(),
        "Part".to_owned(),
        "Kind".to_owned(),
        "At the stage's output (V rms)".to_owned(),
        "Share".to_owned(),
        "At the path's output (V rms)".to_owned(),
        "Share at the path's output".to_owned(),
        labelled("Drive, rms", unit("drive_rms")),
        labelled("Position, rms", unit("position_rms")),
    ]);
    for (place, stage) in told.stages.iter().enumerate() {
        for one in &stage.contributors {
            table.row([
                Cell::Count(place as u64 + 1),
                Cell::Words(&one.part),
                Cell::Words(one.words()),
                Cell::Number(one.rms),
                Cell::Number(one.share),
                Cell::Maybe(None),
                Cell::Maybe(None),
                Cell::Maybe(None),
                Cell::Maybe(None),
            ]);
        }
        let at_output = told.path.stages.get(place);
        let looped = told.looped.as_ref();
        let looped = looped.and_then(|looped| looped.stages.get(place));
        table.row([
            Cell::Count(place as u64 + 1),
            Cell::Words("all"),
            Cell::Words("all"),
            Cell::Number(stage.total.rms),
            Cell::Number(1.0),
            Cell::Maybe(at_output.map(|one| one.rms)),
            Cell::Maybe(at_output.map(|one| one.share)),
            Cell::Maybe(looped.map(|one| one.drive_rms)),
            Cell::Maybe(looped.map(|one| one.position_rms)),
        ]);
    }
    table
}

fn in_volts(name: &str) -> String {
    format!("{name} (V/sqrt(Hz))")
}

/// NaN where it is not referred.
fn referred(density: &NoiseDensity) -> Vec<f64> {
    let input = density.input.iter();
    input.map(|input| input.unwrap_or(f64::NAN)).collect()
}

fn heads<'a>(density: &'a NoiseDensity, input: &'a [f64]) -> Vec<(String, &'a [f64])> {
    vec![
        ("Frequency (Hz)".to_owned(), &density.frequency[..]),
        (in_volts("Output"), &density.output),
        (in_volts("Referred to the input"), input),
    ]
}
