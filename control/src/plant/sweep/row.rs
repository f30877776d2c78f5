//! From one row of a table to a point.

use num_complex::Complex64;

use super::bad::Bad;
use super::bounds::{FREQUENCIES, SIZES, WEIGHTS};
use super::cells::cells;
use super::columns::Needed;
use super::numbers::{complex, real};
use super::weights;
use super::{Columns, MagnitudeUnit, PhaseUnit, Point, Response, Separator, WeightKind};

/// Columns that are needed at most.
const MOST_NEEDED: usize = 4;

/// The cells of a row that are needed, in the order of the needed columns.
struct Row<'a> {
    cells: [Option<&'a str>; MOST_NEEDED],
    decimal_comma: bool,
}

/// A row's point.
///
/// # Errors
/// What is wrong with the row.
pub(super) fn point<'a>(
    line: &'a str,
    columns: &Columns,
    needed: &[Needed],
    width: usize,
) -> Result<Point, Bad<'a>> {
    let row = Row::of(line, columns, needed, width)?;
    let frequency = row.value(0)? * columns.frequency_unit.hertz();
    let response = row.response(columns)?;
    if !(FREQUENCIES.0..=FREQUENCIES.1).contains(&frequency) {
        return Err(Bad::Frequency);
    }
    if !SIZES.contains(&response.norm()) {
        return Err(Bad::Size);
    }
    let mut point = Point::new(frequency, response);
    if let Some(weight) = columns.weight {
        let own = row.value(needed.len() - 1)?;
        point.weight = match weight.kind {
            WeightKind::Coherence => weights::of_coherence(own).map_err(Bad::Coherence)?,
            WeightKind::Weight if WEIGHTS.contains(&own) => own,
            WeightKind::Weight => return Err(Bad::Weight),
        };
    }
    Ok(point)
}

impl<'a> Row<'a> {
    /// Picks the needed cells; most rows have `width` of them.
    fn of(
        line: &'a str,
        columns: &Columns,
        needed: &[Needed],
        width: usize,
    ) -> Result<Row<'a>, Bad<'a>> {
        let mut picked = [None; MOST_NEEDED];
        let (mut count, mut used) = (0, 0);
        for cell in cells(line, columns.separator) {
            for (needed, place) in needed.iter().zip(&mut picked) {
                if needed.column == count {
                    *place = Some(cell);
                }
            }
            count += 1;
            if !cell.is_empty() {
                used = count;
            }
        }
        if let Some(missing) = picked[..needed.len()].iter().position(Option::is_none) {
            return Err(Bad::Short {
                cells: count,
                missing,
            });
        }
        // A mark too many, or a cell lost between blanks, shifts what follows it.
        if used > width || columns.separator == Separator::Blanks && used != width {
            return Err(Bad::Uneven { cells: used, width });
        }
        Ok(Row {
            cells: picked,
            decimal_comma: columns.decimal_comma,
        })
    }

    fn cell(&self, which: usize) -> &'a str {
        self.cells[which].unwrap_or_default()
    }

    /// A needed cell as a finite number.
    fn value(&self, which: usize) -> Result<f64, Bad<'a>> {
        let cell = self.cell(which);
        let value = real(cell, self.decimal_comma).ok_or(Bad::NoNumber { which, cell })?;
        if value.is_finite() {
            Ok(value)
        } else {
            Err(Bad::NotFinite { which })
        }
    }

    /// What stands behind the frequency.
    fn response(&self, columns: &Columns) -> Result<Complex64, Bad<'a>> {
        match columns.response {
            Response::Complex { .. } => match complex(self.cell(1), self.decimal_comma) {
                Some(found) if found.is_finite() => Ok(found),
                Some(_) => Err(Bad::NotFinite { which: 1 }),
                // Without an imaginary part it may be written as a real number.
                None => Ok(self.value(1)?.into()),
            },
            Response::Cartesian { .. } => Ok(Complex64::new(self.value(1)?, self.value(2)?)),
            Response::Polar {
                magnitude_unit,
                phase_unit,
                ..
            } => {
                let both = [self.value(1)?, self.value(2)?];
                polar(both, magnitude_unit, phase_unit).ok_or(Bad::Ratio)
            }
            Response::Magnitude { magnitude_unit, .. } => {
                let size = self.value(1)?;
                polar([size, 0.0], magnitude_unit, PhaseUnit::Radians).ok_or(Bad::Ratio)
            }
        }
    }
}

/// The response of magnitude and phase; none where the magnitude is a ratio below 0.
fn polar([size, angle]: [f64; 2], unit: MagnitudeUnit, phase: PhaseUnit) -> Option<Complex64> {
    let magnitude = match unit {
        MagnitudeUnit::Decibels => 10f64.powf(size / 20.0),
        MagnitudeUnit::Ratio if size < 0.0 => return None,
        MagnitudeUnit::Ratio => size,
    };
    let angle = match phase {
        // Whole turns go before they cost digits.
        PhaseUnit::Degrees => (angle % 360.0).to_radians(),
        PhaseUnit::Radians => angle,
    };
    Some(Complex64::from_polar(magnitude, angle))
}
