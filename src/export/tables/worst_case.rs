//! The worst case, and what costs the yield.

use super::{Cell, Table, unit_name};
use crate::outcome::{ContributionsOutcome, CornersOutcome};

/// A row for each thing that strays on each board at an end of a figure.
pub(super) fn corners(told: &CornersOutcome) -> Table {
    let mut table = Table::new([
        "Name",
        "Figure",
        "Unit",
        "End",
        "Value",
        "Holds its limits",
        "Part",
        "Part's unit",
        "Part's value",
        "Marked",
    ]);
    for figure in &told.figures {
        for (end, board) in [("lowest", &figure.lowest), ("highest", &figure.highest)] {
            for part in &board.parts {
                table.row([
                    Cell::Words(&figure.name),
                    Cell::Words(&figure.label),
                    Cell::Words(unit_name(figure.unit)),
                    Cell::Words(end),
                    Cell::Number(board.value),
                    figure.holds.map_or(Cell::Words(""), Cell::Truth),
                    Cell::Words(&part.label),
                    Cell::Words(unit_name(part.unit)),
                    Cell::Number(part.value),
                    Cell::Number(part.marked),
                ]);
            }
        }
    }
    table
}

/// A row for each factor of each figure, and of the yield.
pub(super) fn contributions(told: &ContributionsOutcome) -> Table {
    let mut table = Table::new(["Name", "Figure", "Factor", "Share", "Standard error"]);
    for figure in told.figures.iter().chain([&told.misses]) {
        for ((factor, share), error) in told.factors.iter().zip(&figure.shares).zip(&figure.errors)
        {
            table.row([
                Cell::Words(&figure.name),
                Cell::Words(&figure.label),
                Cell::Words(&factor.label),
                Cell::Number(*share),
                Cell::Number(*error),
            ]);
        }
    }
    table
}
