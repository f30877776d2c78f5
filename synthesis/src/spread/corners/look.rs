//! Evaluating boards of the tolerance region; kept is what is an extreme. Of all corners each is evaluated once; a guided
//! search may come by one again.

use super::axes::{Axis, axes};
use super::record::Extremes;
use crate::spread::{Draws, Figures, Population};

/// The box, and what was seen of it.
pub struct Look {
    pub draws: Draws,
    pub axes: Vec<Axis>,
    pub seen: Vec<Extremes>,
    /// Boards that were read, and corners among them.
    pub boards: u64,
    pub corners: u64,
    rows: Vec<f64>,
}

impl Look {
    pub fn new(population: Population, seed: u64) -> Look {
        let draws = Draws::new(population, seed);
        Look {
            axes: axes(&draws),
            draws,
            seen: Vec::new(),
            boards: 0,
            corners: 0,
            rows: Vec::new(),
        }
    }

    /// A board with every axis at this place, at the temperature's end.
    pub fn board(&self, place: f64) -> Vec<f64> {
        let mut units = vec![0.5; self.draws.unit_count()];
        units[0] = 1.0;
        for axis in &self.axes {
            axis.put(&mut units, place);
        }
        units
    }

    /// Reads boards, given as their units row after row: their figures, row after row.
    pub fn read(
        &mut self,
        figures: &mut dyn Figures,
        boards: &[f64],
        are_corners: bool,
    ) -> Vec<f64> {
        let (width, stride) = (
            self.draws.unit_count(),
            self.draws.population().variations.len(),
        );
        let count = boards.len() / width;
        self.rows.resize(count * stride, 0.0);
        let rows = self.rows.chunks_exact_mut(stride);
        for (row, units) in rows.zip(boards.chunks_exact(width)) {
            self.draws.values(units, row);
        }
        self.seen.resize_with(figures.count(), Extremes::default);
        let mut all = Vec::with_capacity(count * figures.count());
        let seen = &mut self.seen;
        figures.read(&self.rows, &mut |place, read| {
            let units = &boards[place * width..][..width];
            for (seen, value) in seen.iter_mut().zip(read) {
                seen.see(*value, units, are_corners);
            }
            all.extend_from_slice(read);
        });
        self.boards += count as u64;
        if are_corners {
            self.corners += count as u64;
        }
        all
    }
}
