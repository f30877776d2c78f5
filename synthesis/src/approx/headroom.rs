//! In which order the sections stand, and how the gain is shared among them.

use super::{ApproxError, Band, Section};
use crate::numerics::golden::lowest;
use crate::numerics::put_in_order;

/// The highest |H| from the input to each section's output in turn, over all frequencies; the last one
/// is that of the whole chain.
pub fn output_peaks(sections: &[Section]) -> Vec<f64> {
    let sweep = Sweep::new(sections);
    (1..=sections.len())
        .map(|count| sweep.peak((1 << count) - 1))
        .collect()
}

/// The sections, each of gain 1 and in ascending order of Q, in the best order and with gains whose
/// product is that of the whole: `total` before the product of (s − z) over that of (s − p).
pub(super) fn arrange(
    bare: Vec<Section>,
    band: Band,
    total: f64,
) -> Result<Vec<Section>, ApproxError> {
    let mut references = Vec::with_capacity(bare.len());
    for section in &bare {
        let level = reference_level(section, band);
        if !level.is_normal() {
            return Err(ApproxError::Roots(
                "The zeros do not suit the band: nothing would pass where it should.",
            ));
        }
        references.push(level);
    }
    let sweep = Sweep::new(&bare);
    // What comes out does not depend on the order of the sections before it: a set has one peak.
    let peaks: Vec<f64> = (0..1usize << bare.len())
        .map(|set| sweep.peak(set))
        .collect();
    let natural = |set: usize| -> f64 {
        members(set).fold(peaks[set], |peak, member| peak / references[member])
    };
    let naturals: Vec<f64> = (0..peaks.len()).map(natural).collect();
    let order = best_order(&naturals, bare.len());

    let leading: f64 = bare.iter().map(Section::leading).product();
    let product = total / leading;
    let top = product.abs() * peaks[peaks.len() - 1];
    let (mut set, mut given) = (0, 1.0);
    let mut chain = Vec::with_capacity(bare.len());
    for (place, &member) in order.iter().enumerate() {
        set |= 1 << member;
        let gain = if place + 1 == order.len() {
            product / given
        } else {
            top / (peaks[set] * given)
        };
        given *= gain;
        chain.push(Section {
            gain,
            ..bare[member]
        });
    }
    Ok(chain)
}

/// What a section of gain 1 does to the middle of the pass band.
fn reference_level(section: &Section, band: Band) -> f64 {
    let level = |frequency: f64| section.at(frequency).norm();
    match band {
        Band::LowPass { .. } => level(0.0),
        Band::HighPass { .. } => level(f64::INFINITY),
        Band::BandPass { low, high } => level((low * high).sqrt()),
        Band::BandStop { .. } => (level(0.0) * level(f64::INFINITY)).sqrt(),
    }
}

/// The order whose intermediate outputs, highest first, are the lowest; the first one in the order of
/// the alphabet among equals. `peaks` by set of sections.
fn best_order(peaks: &[f64], count: usize) -> Vec<usize> {
    let mut best: Option<(Vec<i64>, Vec<usize>)> = None;
    for order in permutations(count) {
        let mut set = 0;
        let mut outputs: Vec<i64> = order[..count - 1]
            .iter()
            .map(|member| {
                set |= 1 << member;
                // In millionths of a decibel: rounding must not decide between equals.
                (20e6 * peaks[set].log10()).round() as i64
            })
            .collect();
        put_in_order(&mut outputs, |a, b| b.cmp(a));
        if best.as_ref().is_none_or(|(least, _)| outputs < *least) {
            best = Some((outputs, order));
        }
    }
    best.map(|(_, order)| order).unwrap_or_default()
}

/// All orders of the numbers below `count`, as in a dictionary.
fn permutations(count: usize) -> Vec<Vec<usize>> {
    let mut found = vec![vec![]];
    for _ in 0..count {
        let longer = |start: &Vec<usize>| -> Vec<Vec<usize>> {
            (0..count)
                .filter(|next| !start.contains(next))
                .map(|next| [start.as_slice(), &[next]].concat())
                .collect()
        };
        found = found.iter().flat_map(longer).collect();
    }
    found
}

fn members(set: usize) -> impl Iterator<Item = usize> {
    let beyond = (usize::BITS - set.leading_zeros()) as usize;
    (0..beyond).filter(move |member| set >> member & 1 == 1)
}

/// Sections with their levels on frequencies between which no resonance can hide.
struct Sweep<'a> {
    sections: &'a [Section],
    /// Ascending, from 0 to infinity.
    frequencies: Vec<f64>,
    /// |H| of every section at every frequency.
    levels: Vec<Vec<f64>>,
}

impl Sweep<'_> {
    fn new(sections: &[Section]) -> Sweep<'_> {
        let places = sections.iter().map(Section::frequency);
        let lowest = places.clone().fold(f64::INFINITY, f64::min) / 30.0;
        let highest = places.fold(0.0, f64::max) * 30.0;
        const PER_E: f64 = 25.0;
        let steps = ((highest / lowest).ln() * PER_E).ceil().max(1.0) as usize;
        let mut frequencies = vec![0.0, f64::INFINITY];
        frequencies.extend((0..=steps).map(|k| lowest * (k as f64 / PER_E).exp()));
        for section in sections {
            let half_width = 0.5 / section.q().unwrap_or(0.5).max(0.5);
            // Steps that grow with the distance, up to those of the grid.
            frequencies.extend((-60..=60).map(|k| {
                let offset = half_width * (f64::from(k) / 10.0).sinh();
                section.frequency() * offset.exp()
            }));
        }
        frequencies.retain(|f| *f == 0.0 || f.is_infinite() || (lowest..=highest).contains(f));
        frequencies.sort_by(f64::total_cmp);
        let levels = sections
            .iter()
            .map(|section| frequencies.iter().map(|&f| section.at(f).norm()).collect())
            .collect();
        Sweep {
            sections,
            frequencies,
            levels,
        }
    }

    /// The highest |H| of the product of a set of sections.
    fn peak(&self, set: usize) -> f64 {
        let levels: Vec<f64> = (0..self.frequencies.len())
            .map(|at| members(set).map(|m| self.levels[m][at]).product())
            .collect();
        let mut highest = levels.iter().copied().fold(0.0, f64::max);
        // Samples are far nearer to each crest than this.
        let worth = 0.95 * highest;
        for at in 1..levels.len() - 1 {
            let (low, high) = (self.frequencies[at - 1], self.frequencies[at + 1]);
            let crest =
                levels[at] >= worth && levels[at] >= levels[at - 1] && levels[at] >= levels[at + 1];
            // Below and above the grid the limits are the highest there is.
            if crest && low > 0.0 && high.is_finite() {
                highest = highest.max(self.crest(set, low.ln(), high.ln()));
            }
        }
        highest
    }

    /// The crest between two frequencies, given by their logarithms.
    fn crest(&self, set: usize, low: f64, high: f64) -> f64 {
        let level = |x: f64| -> f64 {
            let f = x.exp();
            members(set)
                .map(|m| self.sections[m].at(f).norm())
                .product()
        };
        // About √ε of the whole: there the crest is flat to the last digit.
        let close = 3.8e-8 * (high - low);
        -lowest(|x| -level(x), low, high, close).0
    }
}

#[cfg(test)]
mod tests {
    use super::super::{PoleShape, ZeroShape};
    use super::*;

    #[test]
    fn the_peak_of_a_resonance() {
        // Q/√(1 − 1/4Q²).
        for q in [0.8, 1.0, 5.0, 4e3] {
            let section = Section {
                pole: PoleShape::Pair { frequency: 50.0, q },
                zeros: ZeroShape::None,
                gain: 2.0,
            };
            let expected: f64 = 2.0 * q / (1.0 - 0.25 / (q * q)).sqrt();
            let found = output_peaks(&[section])[0];
            assert!((found / expected - 1.0).abs() < 1e-12, "{found} {expected}");
        }
    }

    #[test]
    fn six_orders_of_three() {
        let all = permutations(3);
        assert_eq!(all.len(), 6);
        assert_eq!(all[1], [0, 2, 1]);
    }
}
