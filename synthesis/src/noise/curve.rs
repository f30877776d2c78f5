//! A density over frequency, as a curve.

use crate::circuit::noise::integrated;

/// A density at a frequency between two points of its curve, along a straight line on logarithmic axes; at its ends the
/// nearest point's. Frequencies rise; 0 where there is no point.
pub fn at(frequencies: &[f64], densities: &[f64], frequency: f64) -> f64 {
    let behind = frequencies.partition_point(|known| *known < frequency);
    let point = |place: usize| frequencies.get(place).zip(densities.get(place));
    let (Some((f, s)), Some((g, t))) = (point(behind.saturating_sub(1)), point(behind)) else {
        return densities.last().copied().unwrap_or(0.0);
    };
    if behind == 0 || frequency >= *g || *f <= 0.0 {
        return *t;
    }
    let share = (frequency / f).ln() / (g / f).ln();
    if *s > 0.0 && *t > 0.0 {
        s * (t / s).powf(share)
    } else {
        s + (t - s) * share
    }
}

/// The root of a power density's integral (V²/Hz over Hz): V rms.
pub fn rms(frequencies: &[f64], densities: &[f64]) -> f64 {
    integrated(frequencies, densities).sqrt()
}

/// All frequencies of several curves, in order.
pub fn together<'a>(all: impl Iterator<Item = &'a [f64]>) -> Vec<f64> {
    let mut together: Vec<f64> = all.flatten().copied().collect();
    together.sort_by(f64::total_cmp);
    together.dedup_by(|b, a| *b <= *a * (1.0 + 1e-9));
    together
}

/// From V²/Hz to V/√Hz.
pub fn roots(densities: &[f64]) -> Vec<f64> {
    densities.iter().map(|density| density.sqrt()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_power_of_the_frequency_is_met_between_points() {
        let frequencies = [1.0, 10.0, 1000.0];
        let densities = frequencies.map(|f: f64| f.powi(-2));
        for f in [1.0, 3.0, 10.0, 70.0, 1000.0] {
            let found = at(&frequencies, &densities, f);
            assert!((found * f * f - 1.0).abs() < 1e-12, "{f} {found}");
        }
        assert_eq!(at(&frequencies, &densities, 0.1), 1.0);
        assert_eq!(at(&frequencies, &densities, 1e4), 1e-6);
        assert_eq!(at(&[], &[], 1.0), 0.0);
    }

    #[test]
    fn a_white_density_over_a_band() {
        assert!((rms(&[1.0, 101.0], &[4.0, 4.0]) - 20.0).abs() < 1e-12);
    }
}
