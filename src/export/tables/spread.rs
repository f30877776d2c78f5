//! What boards do: bands, figures, histograms, boards one by one.

use super::{Cell, Table, unit_name};
use crate::outcome::{Curves, FigureSpread, Outcome, SlowBand, SpreadOutcome};
use crate::spread::Band;

/// The bands of a stage or of the path.
pub(super) struct Bands<'a> {
    pub magnitude_db: &'a Band,
    pub phase_deg: &'a Band,
    pub slow: Option<&'a SlowBand>,
}

impl Bands<'_> {
    /// Over the spread's frequencies, and beside it over the curves' time.
    pub fn table(&self, frequency: &[f64], curves: Option<&Curves>) -> Table {
        let mut columns = vec![("Frequency (Hz)".to_owned(), frequency)];
        band(&mut columns, "Level", "dB", self.magnitude_db);
        band(&mut columns, "Phase", "deg", self.phase_deg);
        if let Some(slow) = self.slow {
            band(&mut columns, "Group delay", "s", &slow.delay);
            if let Some(curves) = curves {
                columns.push(("Time (s)".to_owned(), &curves.time));
                band(&mut columns, "Step response", "1", &slow.step);
            }
        }
        Table::of_columns(columns)
    }
}

fn band<'a>(columns: &mut Vec<(String, &'a [f64])>, name: &str, unit: &str, band: &'a Band) {
    let quantiles: [(&str, &[f64]); 5] = [
        ("least", &band.low),
        ("5 % quantile", &band.q05),
        ("median", &band.median),
        ("95 % quantile", &band.q95),
        ("most", &band.high),
    ];
    for (quantile, values) in quantiles {
        columns.push((format!("{name}, {quantile} ({unit})"), values));
    }
}

/// What each stage does with its parts as marked.
pub(super) fn figures(outcome: &Outcome) -> Table {
    let mut table = Table::new([
        "Stage",
        "Circuit",
        "Name",
        "Figure",
        "Unit",
        "Real op amp",
        "Ideal op amp",
        "Wanted",
        "Lowest",
        "Highest",
        "5 % quantile",
        "Median",
        "95 % quantile",
        "Least",
        "Most",
        "Share of boards within limits",
    ]);
    for (place, stage) in outcome.stages.iter().enumerate() {
        let spread = outcome.spread.as_ref().filter(|_| place == outcome.shown);
        for figure in &stage.figures {
            let of_boards = spread.and_then(|told| {
                let mut all = told.figures.iter();
                all.find(|spread| spread.name == figure.name)
            });
            let quantile = |at: usize| Cell::Maybe(of_boards.map(|spread| spread.quantiles[at]));
            table.row([
                Cell::Count(place as u64 + 1),
                Cell::Words(&stage.title),
                Cell::Words(&figure.name),
                Cell::Words(&figure.label),
                Cell::Words(unit_name(figure.unit)),
                Cell::Number(figure.value),
                Cell::Number(figure.ideal),
                Cell::Maybe(figure.wanted),
                Cell::Maybe(figure.lowest),
                Cell::Maybe(figure.highest),
                quantile(0),
                quantile(1),
                quantile(2),
                Cell::Maybe(of_boards.map(|spread| spread.least)),
                Cell::Maybe(of_boards.map(|spread| spread.most)),
                Cell::Maybe(of_boards.and_then(|spread| spread.held)),
            ]);
        }
    }
    table
}

/// Figures over boards alone.
pub(super) fn over_boards(figures: &[FigureSpread]) -> Table {
    let mut table = Table::new([
        "Name",
        "Figure",
        "Unit",
        "Lowest",
        "Highest",
        "5 % quantile",
        "Median",
        "95 % quantile",
        "Least",
        "Most",
        "Share of boards within limits",
        "Boards on which it could not be read",
    ]);
    for figure in figures {
        table.row([
            Cell::Words(&figure.name),
            Cell::Words(&figure.label),
            Cell::Words(unit_name(figure.unit)),
            Cell::Maybe(figure.lowest),
            Cell::Maybe(figure.highest),
            Cell::Number(figure.quantiles[0]),
            Cell::Number(figure.quantiles[1]),
            Cell::Number(figure.quantiles[2]),
            Cell::Number(figure.least),
            Cell::Number(figure.most),
            Cell::Maybe(figure.held),
            Cell::Count(figure.unreadable.into()),
        ]);
    }
    table
}

/// A row a bin.
pub(super) fn histograms(figures: &[FigureSpread]) -> Table {
    let mut table = Table::new(["Name", "Figure", "Unit", "From", "To", "Boards"]);
    for figure in figures {
        let histogram = &figure.histogram;
        let step = (histogram.high - histogram.low) / histogram.counts.len() as f64;
        let edge = |at: usize| match at == histogram.counts.len() {
            true => histogram.high,
            false => histogram.low + step * at as f64,
        };
        for (at, count) in histogram.counts.iter().enumerate() {
            table.row([
                Cell::Words(&figure.name),
                Cell::Words(&figure.label),
                Cell::Words(unit_name(figure.unit)),
                Cell::Number(edge(at)),
                Cell::Number(edge(at + 1)),
                Cell::Count((*count).into()),
            ]);
        }
    }
    table
}

/// The yield against the width of each figure's limits.
pub(super) fn widths(figures: &[FigureSpread]) -> Table {
    let mut table = Table::new(["Name", "Figure", "Width over the limits' own", "Yield"]);
    for figure in figures {
        let Some(curve) = &figure.widths else {
            continue;
        };
        for (width, share) in curve.width.iter().zip(&curve.share) {
            table.row([
                Cell::Words(&figure.name),
                Cell::Words(&figure.label),
                Cell::Number(*width),
                Cell::Number(*share),
            ]);
        }
    }
    table
}

/// The first boards: a row each.
pub(super) fn boards(told: &SpreadOutcome) -> Table {
    let mut header = vec!["Board".to_owned(), "Within all limits".to_owned()];
    let names = told.figures.iter();
    header.extend(names.map(|figure| format!("{} ({})", figure.label, unit_name(figure.unit))));
    let mut table = Table::new(header);
    for (number, good) in told.sample.good.iter().enumerate() {
        let own = |at: usize| {
            let values = told.sample.values.get(at);
            Cell::Maybe(values.and_then(|values| values.get(number).copied()))
        };
        let cells = [Cell::Count(number as u64), Cell::Truth(*good)];
        table.row(cells.into_iter().chain((0..told.figures.len()).map(own)));
    }
    table
}
