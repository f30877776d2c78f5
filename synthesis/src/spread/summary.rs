//! A figure over all boards: quantiles and a histogram.

use std::task::Poll;

use serde::{Deserialize, Serialize};

/// Counts between equally spaced edges.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Histogram {
    pub low: f64,
    pub high: f64,
    pub counts: Vec<u32>,
}

impl Histogram {
    /// Counts `values` in `bins` bins from `low` to `high`; what lies outside is counted at the ends, and what
    /// is no number is left out.
    pub fn new(values: &[f64], low: f64, high: f64, bins: usize) -> Histogram {
        let mut histogram = Histogram::empty(low, high, bins);
        histogram.add(values);
        histogram
    }

    /// The same before any value is counted. Without any value there are no ends; 0 stands for them.
    pub fn empty(low: f64, high: f64, bins: usize) -> Histogram {
        let known = |end: f64| if end.is_finite() { end } else { 0.0 };
        Histogram {
            low: known(low),
            high: known(high),
            counts: vec![0; bins],
        }
    }

    /// Counts more values.
    pub fn add(&mut self, values: &[f64]) {
        let bins = self.counts.len();
        let finite = values.iter().filter(|v| v.is_finite());
        if self.high.partial_cmp(&self.low) != Some(std::cmp::Ordering::Greater) {
            // All alike: a bar in the middle.
            self.counts[bins / 2] += finite.count() as u32;
            return;
        }
        let scale = bins as f64 / (self.high - self.low);
        for value in finite {
            let bin = ((value - self.low) * scale).clamp(0.0, bins as f64 - 1.0);
            self.counts[bin as usize] += 1;
        }
    }
}

/// Bins of the first look at the values.
const BINS: usize = 1024;
/// Values between two questions whether to go on.
const STRETCH: usize = 16 * 1024;
/// So many values, the first, say where most lie: there the bins are narrow.
const SAMPLE: usize = 4096;

/// Quantiles at the given shares of values in any order: linear between order statistics (Hyndman and
/// Fan, "Sample quantiles in statistical packages", type 7). What is no number is left out; NaN for no
/// values.
pub fn quantiles<const N: usize>(values: &[f64], shares: [f64; N]) -> [f64; N] {
    let mut sorting = Quantiles::new(shares);
    while sorting.advance(values, &mut || true).is_pending() {}
    sorting.found()
}

/// [`quantiles`] in slices: only the bins that hold a wanted value are put in order, so a million values
/// take a few passes.
pub struct Quantiles<const N: usize> {
    shares: [f64; N],
    pass: Pass,
    /// Values of this pass that are done.
    done: usize,
    readable: usize,
    ends: (f64, f64),
    bins: Bins,
    counts: [usize; BINS],
    wanted: [bool; BINS],
    /// The sample, and then what the wanted bins hold.
    gathered: Vec<f64>,
}

#[derive(Clone, Copy, PartialEq)]
enum Pass {
    Ends,
    Counts,
    Gathering,
    Done,
}

impl<const N: usize> Quantiles<N> {
    pub fn new(shares: [f64; N]) -> Quantiles<N> {
        Quantiles {
            shares,
            pass: Pass::Ends,
            done: 0,
            readable: 0,
            ends: (f64::INFINITY, f64::NEG_INFINITY),
            bins: Bins::default(),
            counts: [0; BINS],
            wanted: [false; BINS],
            gathered: Vec::new(),
        }
    }

    /// Works on until all is found or `go_on` says no. `values` are the same every time.
    pub fn advance(&mut self, values: &[f64], go_on: &mut dyn FnMut() -> bool) -> Poll<()> {
        while self.pass != Pass::Done {
            if !go_on() {
                return Poll::Pending;
            }
            let stretch = &values[self.done..(self.done + STRETCH).min(values.len())];
            let finite = stretch.iter().copied().filter(|v| v.is_finite());
            self.take(finite);
            self.done += stretch.len();
            if self.done == values.len() {
                self.done = 0;
                self.next_pass();
            }
        }
        Poll::Ready(())
    }

    /// How many of the values are numbers.
    pub fn readable(&self) -> usize {
        self.readable
    }

    fn take(&mut self, values: impl Iterator<Item = f64>) {
        let bins = self.bins;
        match self.pass {
            Pass::Ends => {
                for value in values {
                    self.readable += 1;
                    self.ends.0 = self.ends.0.min(value);
                    self.ends.1 = self.ends.1.max(value);
                    if self.gathered.len() < SAMPLE {
                        self.gathered.push(value);
                    }
                }
            }
            Pass::Counts => values.for_each(|value| self.counts[bins.of(value)] += 1),
            Pass::Gathering => {
                let wanted = &self.wanted;
                self.gathered.extend(values.filter(|&v| wanted[bins.of(v)]));
            }
            Pass::Done => {}
        }
    }

    fn next_pass(&mut self) {
        self.pass = match self.pass {
            // All alike, or none at all.
            Pass::Ends if self.readable == 0 || self.ends.0 == self.ends.1 => Pass::Done,
            // The sample is all there is.
            Pass::Ends if self.readable <= SAMPLE => {
                self.wanted.fill(true);
                self.gathered.sort_by(f64::total_cmp);
                Pass::Done
            }
            Pass::Ends => {
                self.bins = Bins::round(std::mem::take(&mut self.gathered), self.ends);
                Pass::Counts
            }
            Pass::Counts => {
                for place in self.places() {
                    for index in [place.floor(), place.ceil()] {
                        self.wanted[bin_holding(&self.counts, index as usize)] = true;
                    }
                }
                Pass::Gathering
            }
            Pass::Gathering | Pass::Done => {
                self.gathered.sort_by(f64::total_cmp);
                Pass::Done
            }
        };
    }

    fn places(&self) -> [f64; N] {
        let last = (self.readable - 1) as f64;
        self.shares.map(|share| share.clamp(0.0, 1.0) * last)
    }

    /// The quantiles, when all is found.
    pub fn found(&self) -> [f64; N] {
        if self.readable == 0 {
            return [f64::NAN; N];
        }
        if self.ends.0 == self.ends.1 {
            return [self.ends.0; N];
        }
        // The index-th value of all is so many places further down among the gathered ones.
        let at = |index: usize| {
            let bin = bin_holding(&self.counts, index);
            let left_out: usize = (0..bin)
                .filter(|&b| !self.wanted[b])
                .map(|b| self.counts[b])
                .sum();
            self.gathered[index - left_out]
        };
        self.places().map(|place| {
            let (low, high) = (at(place.floor() as usize), at(place.ceil() as usize));
            low + place.fract() * (high - low)
        })
    }
}

/// Bins over all numbers, narrow about a centre and ever wider further out, so that a long tail does not have
/// one of them hold all the rest.
#[derive(Clone, Copy, Default)]
struct Bins {
    centre: f64,
    /// 1 over the distance within which half of the bins lie.
    scale: f64,
}

impl Bins {
    /// Narrow where the sample lies; `ends` are all values' least and largest, which differ.
    fn round(mut sample: Vec<f64>, ends: (f64, f64)) -> Bins {
        sample.sort_by(f64::total_cmp);
        let at = |share: f64| sample[(share * (sample.len() - 1) as f64) as usize];
        let (centre, quarters) = (at(0.5), at(0.75) - at(0.25));
        let all = ends.1 - ends.0;
        Bins {
            centre,
            // Where half of the values are one, the others still need bins.
            scale: 2.0 / if quarters > 0.0 { quarters } else { all },
        }
    }

    /// Rises with the value.
    fn of(self, value: f64) -> usize {
        let x = (value - self.centre) * self.scale;
        let share = 0.5 + 0.5 * x / (1.0 + x.abs());
        ((share * BINS as f64) as usize).min(BINS - 1)
    }
}

/// The bin that holds the value at this place in the order.
fn bin_holding(counts: &[usize; BINS], index: usize) -> usize {
    let mut behind = 0;
    counts
        .iter()
        .position(|count| {
            behind += count;
            behind > index
        })
        .unwrap_or(BINS - 1)
}

#[cfg(test)]
mod tests {
    use super::{Quantiles, quantiles};

    #[test]
    fn type_7_by_hand() {
        assert_eq!(
            quantiles(&[4.0, 1.0, 3.0, 2.0], [0.0, 0.5, 1.0]),
            [1.0, 2.5, 4.0]
        );
        assert_eq!(quantiles(&[7.0; 5], [0.3]), [7.0]);
        assert!(quantiles(&[], [0.5])[0].is_nan());
    }

    proptest::proptest! {
        #[test]
        fn as_by_sorting(mut values in proptest::collection::vec(-1e6f64..1e6, 1..9000), share in 0.0f64..1.0) {
            let [found] = quantiles(&values, [share]);
            values.sort_by(f64::total_cmp);
            let place = share * (values.len() - 1) as f64;
            let (low, high) = (values[place.floor() as usize], values[place.ceil() as usize]);
            let expected = low + place.fract() * (high - low);
            proptest::prop_assert!((found - expected).abs() < 1e-9 * expected.abs().max(1.0));
        }
    }

    #[test]
    fn of_a_long_tail_few_values_are_put_in_order() {
        let tail = |k: u32| 1.0 / (f64::from(k * 7919 % 100_003) + 0.5);
        let mut values: Vec<f64> = (0..100_003).map(tail).collect();
        let mut sorting = Quantiles::new([0.0, 0.05, 0.5, 0.95, 1.0]);
        while sorting.advance(&values, &mut || true).is_pending() {}
        assert!(
            sorting.gathered.len() < 10_000,
            "{}",
            sorting.gathered.len()
        );
        values.sort_by(f64::total_cmp);
        let found = sorting.found();
        assert_eq!((found[0], found[4]), (values[0], values[100_002]));
        assert!((found[2] / values[50_001] - 1.0).abs() < 1e-12);
    }
}
