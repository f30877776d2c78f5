//! One mode's peak in a loop whose notches stray.

use std::task::Poll;

use super::{Dip, WholeError, WholeLoop, WholeWish};
use crate::compensation::NotchWish;
use crate::compensation::advice::{PeakBox, Topping};
use crate::feedback::KeptLoop;
use crate::response::Transfer;

/// The largest |L| over a mode's peak, of all plants with all of the path's notches.
pub(super) struct Peak {
    /// Place among the model's modes.
    pub mode: usize,
    /// From where to where |L| counts as the peak's, Hz.
    pub range: (f64, f64),
    /// Where the mode drifts, Hz.
    pub drift: (f64, f64),
    /// Frequencies, and the largest |L| at each.
    pub grid: Vec<(f64, f64)>,
    rest: PeakBox,
    notches: Vec<(Transfer, Dip)>,
    variations: (f64, f64),
}

impl Peak {
    /// A mode that is a resonance.
    pub fn new(of: &WholeLoop, wish: &WholeWish, mode: usize) -> Result<Peak, WholeError> {
        let (variations, stays) = of
            .stages
            .iter()
            .partition::<Vec<_>, _>(|s| s.notch.is_some());
        let kept = KeptLoop {
            stages: stays.iter().map(|stage| stage.transfer.clone()).collect(),
            model: of.model.clone(),
            sign: of.sign,
        };
        let of_mode = NotchWish {
            mode,
            variations: wish.variations,
            notch_frequency: wish.notch_frequency,
            notch_q: wish.notch_q,
            level: 1.0,
            crossover: None,
            phase_margin: wish.phase_margin,
            sensitivity: 1.0,
        };
        let rest = PeakBox::new(&kept.open(), &of.model, &of_mode)
            .map_err(|_| WholeError::NotFinite(mode + 1))?;
        let mut found = Peak {
            mode,
            range: rest.range,
            drift: rest.drift(),
            grid: Vec::new(),
            notches: variations
                .into_iter()
                .filter_map(|stage| Some((stage.transfer.clone(), stage.notch?)))
                .collect(),
            variations: (wish.notch_frequency, wish.notch_q),
            rest,
        };
        let both = found.rest.grid.iter().zip(&found.rest.largest);
        found.grid = both
            .map(|(f, largest)| (*f, largest * found.left(*f)))
            .collect();
        Ok(found)
    }

    /// What the worst of the path's notches leave at a frequency in Hz: each strays for itself.
    fn left(&self, f: f64) -> f64 {
        let own = self.notches.iter();
        own.map(|(transfer, dip)| {
            let off = [-1.0, 1.0].map(|side| {
                let nominal = f / (1.0 + side * self.variations.0);
                // A real notch's Q strays as an ideal one's does.
                let wider = dip.strayed(0.0, self.variations.1).size(nominal) / dip.size(nominal);
                let grown = if wider.is_finite() {
                    wider
                } else {
                    1.0 + self.variations.1
                };
                transfer.at(nominal).norm() * grown
            });
            off[0].max(off[1])
        })
        .product()
    }

    /// The largest |L|, as far as it is known; ready when [`Topping`] is.
    pub fn top(&self, topping: &mut Topping) -> Poll<f64> {
        let of = |f: f64| self.rest.largest_at(f) * self.left(f);
        topping.step(&self.rest.grid, &of).map(|found| found.0)
    }
}
