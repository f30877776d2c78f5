//! The loop with the least phase margin over the nominal one.

use super::looped;
use super::plot::{Pen, Plot};
use crate::outcome::{ServoOutcome, WorstBoard};

/// Its open loop's magnitude.
pub fn magnitude(servo: &ServoOutcome, worst: &WorstBoard) -> Option<Plot> {
    let marked = &servo.modelled.as_ref()?.open;
    let mut plot = looped::open_magnitudes(None, Some(&worst.open))?;
    let line = marked
        .frequency
        .iter()
        .map(|f| f.log10())
        .zip(marked.magnitude_db.iter().copied());
    plot.lines.insert(0, (line.collect(), Pen::Asked));
    Some(plot)
}

/// Its open loop in the plane round −1.
pub fn nyquist(servo: &ServoOutcome, worst: &WorstBoard) -> Option<Plot> {
    let marked = servo.modelled.as_ref()?;
    let plane = |x: &[f64], y: &[f64]| x.iter().copied().zip(y.iter().copied()).collect();
    Some(looped::plane(
        servo,
        vec![
            (plane(&marked.real, &marked.imaginary), Pen::Asked),
            (plane(&worst.real, &worst.imaginary), Pen::Real),
        ],
        Vec::new(),
    ))
}
