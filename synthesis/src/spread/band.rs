//! The band on the curves: |H| and phase of many boards at many frequencies.
//!
//! Eight boards stand side by side in single precision. At each frequency a numerator or denominator
//! is a short sum of coefficients with weights `(jx)^k/(1 + x²)^(n/2)`, x the scaled frequency: no
//! weight exceeds 1, so nothing overflows whatever the order, and the even and odd powers make the
//! real and imaginary part. Rounding is then about 10⁻⁷ of the largest term: −130 dB at the bottom of
//! a null, far below what parts with tolerances reach.
//!
//! Quantiles come from counts in bins that are joined linearly: in power by the leading bits of its
//! floating-point pattern, which rise as its logarithm does, in phase by a fraction that rises with the angle.
//! The first block of boards tells at each frequency where the boards lie, and the bins are laid over that
//! stretch and a quarter more: some hundred of them within the band, however narrow it is.

use std::ops::Range;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use wide::{bytemuck, f32x8, f64x4, i32x8, u32x8};

use super::side_by_side;
use crate::circuit::Program;

mod counts;

pub use counts::Counts;

/// What the boards do at each frequency: extremes and quantiles.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Band {
    pub low: Vec<f64>,
    pub q05: Vec<f64>,
    pub median: Vec<f64>,
    pub q95: Vec<f64>,
    pub high: Vec<f64>,
}

/// Boards of a block, a multiple of the lanes.
pub const BLOCK: usize = 256;
const LANES: usize = 8;

/// Coefficients of a block of boards, `[coefficient][lane group]`.
#[derive(Clone, Default)]
pub struct Block {
    pub(super) num: Vec<[f32x8; GROUPS]>,
    pub(super) den: Vec<[f32x8; GROUPS]>,
}

impl Block {
    /// Space for a program's boards, padded so that both polynomials have the same length.
    pub fn new(program: &Program) -> Block {
        let length = program.degree() + 1;
        let zero = [f32x8::ZERO; GROUPS];
        Block {
            num: vec![zero; length],
            den: vec![zero; length],
        }
    }

    /// Puts the coefficients of four boards at places `4·quarter …`, each board's over a power of two: single
    /// precision reaches far less far than the products of parts do, and a board's response hangs on ratios alone.
    pub fn put(&mut self, quarter: usize, num: &[f64x4], den: &[f64x4]) {
        let unit = inverse_size(den);
        for (rows, from) in [(&mut self.num, num), (&mut self.den, den)] {
            for (row, value) in rows.iter_mut().zip(from) {
                let group = &mut row[quarter / 2];
                let half = &mut group.as_mut_array()[4 * (quarter % 2)..][..4];
                for (to, from) in half.iter_mut().zip((*value * unit).to_array()) {
                    *to = from as f32;
                }
            }
        }
    }
}

/// One over the power of two at or below each board's largest coefficient, so that nothing is rounded; 1 where there
/// is none that has one.
fn inverse_size(coefficients: &[f64x4]) -> f64x4 {
    let largest = coefficients
        .iter()
        .fold(f64x4::ZERO, |most, c| most.fast_max(c.abs()));
    const EXPONENT: u64 = 0x7ff << 52;
    let inverse = |size: f64| match f64::from_bits(size.to_bits() & EXPONENT) {
        power if power.is_normal() => 1.0 / power,
        _ => 1.0,
    };
    f64x4::new(largest.to_array().map(inverse))
}

/// Bins in power and in angle at one frequency.
const POWER_BINS: usize = 2048;
const ANGLE_BINS: usize = 1024;
/// The stretch that bins are laid over reaches this share of the first block's own beyond it at either end. Boards
/// beyond that are counted in the last bin; only a share of a thousandth or so can be.
const BIN_MARGIN: f32 = 0.25;

/// Where the bins of one frequency lie; in every lane, as weights are.
#[derive(Clone, Copy)]
struct Laid {
    /// The least and the most power that has a bin of its own, and the first one's bit pattern.
    powers: (f32x8, f32x8),
    first: u32x8,
    /// By how many bits a pattern is shortened to a bin.
    shift: u32,
    /// The first angle's fraction, and bins to a fraction of 1.
    from: f32x8,
    scale: f32x8,
}

impl Laid {
    const NOT_YET: Laid = Laid {
        powers: (f32x8::ZERO, f32x8::ZERO),
        first: u32x8::ZERO,
        shift: 0,
        from: f32x8::ZERO,
        scale: f32x8::ZERO,
    };

    /// Lays bins over these powers and fractions of angles.
    fn over((least, most): (f32, f32), (left, right): (f32, f32)) -> Laid {
        // Zero and subnormal numbers have no logarithm worth a bin; what is no number has none at all.
        const ENDS: (f32, f32) = (f32::MIN_POSITIVE, f32::MAX);
        let bits = |power: f32, nothing: f32| match power.is_nan() {
            true => nothing.to_bits(),
            false => power.clamp(ENDS.0, ENDS.1).to_bits(),
        };
        let low = bits(least, ENDS.0);
        let high = bits(most, ENDS.1).max(low);
        let beyond = ((high - low) as f32 * BIN_MARGIN) as u32 + 1;
        let first = low.saturating_sub(beyond);
        // Behind the largest number there is none to be counted.
        let length = (high + beyond).min(ENDS.1.to_bits()) - first;
        // So many bits less bring the length into the bins.
        let shift = u32::BITS - (length / POWER_BINS as u32).leading_zeros();
        let last = first + ((POWER_BINS as u32) << shift) - 1;
        let power = |bits: u32| f32x8::splat(f32::from_bits(bits.min(f32::MAX.to_bits())));
        // A few steps of single precision at least.
        let width = (right - left).max(1e-6);
        let scale = ANGLE_BINS as f32 / (width * (1.0 + 2.0 * BIN_MARGIN));
        Laid {
            powers: (power(first), power(last)),
            first: u32x8::splat(first),
            shift,
            from: f32x8::splat(left - width * BIN_MARGIN),
            scale: f32x8::splat(scale),
        }
    }

    /// The power at a place among the bins: the bits below a bin's are the fraction inside it.
    fn power(&self, place: f64) -> f64 {
        let first = f64::from(self.first.to_array()[0]);
        let bits = first + place * f64::from(1u32 << self.shift);
        f64::from(f32::from_bits(bits as u32))
    }

    /// The fraction at a place among the bins.
    fn fraction(&self, place: f64) -> f64 {
        let lane = |lanes: f32x8| f64::from(lanes.to_array()[0]);
        lane(self.from) + place / lane(self.scale)
    }
}

/// Weights of the coefficients at one frequency, in every lane: spreading a number over the lanes is a
/// loop when the code is built for size.
#[derive(Clone)]
struct Place {
    /// A list for each stage of the path.
    weights: Vec<Vec<f32x8>>,
    /// Conjugate of the nominal board's direction: phases are counted from there.
    turn: (f32x8, f32x8),
}

/// Collects blocks of boards at fixed frequencies.
#[derive(Clone)]
pub struct Sweep {
    places: Vec<Place>,
    least: Vec<f32x8>,
    most: Vec<f32x8>,
    left: Vec<f32x8>,
    right: Vec<f32x8>,
    laid: Vec<Laid>,
    powers: Vec<u32>,
    angles: Vec<u32>,
    with_counts: bool,
    boards: u64,
    is_laid: bool,
    /// Whether the first block is being added.
    is_first: bool,
}

/// The quantiles of a [`Band`].
const SHARES: [f64; 3] = [0.05, 0.5, 0.95];

/// The bins of eight powers.
#[inline(always)]
fn power_bins(power: f32x8, laid: &Laid) -> u32x8 {
    let (low, high) = laid.powers;
    let bits: u32x8 = bytemuck::cast(power.fast_min(high).fast_max(low));
    (bits - laid.first) >> laid.shift
}

/// The bins of eight fractions of angles.
#[inline(always)]
fn angle_bins(fraction: f32x8, laid: &Laid) -> i32x8 {
    const LAST: f32x8 = f32x8::new([(ANGLE_BINS - 1) as f32; LANES]);
    let place = (fraction - laid.from) * laid.scale;
    place.fast_max(f32x8::ZERO).fast_min(LAST).fast_trunc_int()
}

/// Frequencies that are counted side by side: many boards may fall into one bin, and a counter that was just
/// written must not be waited for.
const ABREAST: usize = 4;

/// The bins of a block's boards at one frequency.
#[derive(Clone, Copy)]
struct Bins {
    powers: [u32x8; GROUPS],
    angles: [i32x8; GROUPS],
}

impl Bins {
    const EMPTY: Bins = Bins {
        powers: [u32x8::ZERO; GROUPS],
        angles: [i32x8::ZERO; GROUPS],
    };

    /// Each of the first boards' bins in power and angle.
    fn each(&self, boards: usize) -> impl Iterator<Item = (&u32, &u32)> {
        let powers: &[u32] = bytemuck::cast_slice(&self.powers);
        let angles: &[u32] = bytemuck::cast_slice(&self.angles);
        powers[..boards].iter().zip(&angles[..boards])
    }
}

#[inline(always)]
fn tally(
    powers: &mut [u32; POWER_BINS],
    angles: &mut [u32; ANGLE_BINS],
    (power, angle): (&u32, &u32),
) {
    powers[(*power as usize).min(POWER_BINS - 1)] += 1;
    // Within already; this tells the compiler.
    angles[*angle as usize % ANGLE_BINS] += 1;
}

impl Sweep {
    /// `stages` are the path's, each with its program and that program's frequency scale (rad/s);
    /// `nominal` is H of the reference board at each of `frequencies` (Hz).
    ///
    /// Without `with_counts` only the extremes of |H| are collected.
    pub fn new(
        stages: &[(&Program, f64)],
        frequencies: &[f64],
        nominal: &[Complex64],
        with_counts: bool,
    ) -> Sweep {
        let places = frequencies
            .iter()
            .zip(nominal)
            .map(|(frequency, reference)| {
                let turn = reference.conj() / reference.norm().max(f64::MIN_POSITIVE);
                Place {
                    weights: stages
                        .iter()
                        .map(|&(program, omega)| weights(program.degree(), frequency / omega))
                        .collect(),
                    turn: (f32x8::splat(turn.re as f32), f32x8::splat(turn.im as f32)),
                }
            })
            .collect();
        let count = frequencies.len();
        let [least, most, left, right] = Sweep::NOTHING;
        let counts = if with_counts { count } else { 0 };
        Sweep {
            places,
            least: vec![f32x8::splat(least); count],
            most: vec![f32x8::splat(most); count],
            left: vec![f32x8::splat(left); counts],
            right: vec![f32x8::splat(right); counts],
            laid: vec![Laid::NOT_YET; counts],
            powers: vec![0; counts * POWER_BINS],
            angles: vec![0; counts * ANGLE_BINS],
            with_counts,
            boards: 0,
            is_laid: false,
            is_first: true,
        }
    }

    /// Least and most power and the ends of the angle where no board was added: beyond what a board can have.
    const NOTHING: [f32; 4] = [f32::MAX, 0.0, 3.0, -3.0];

    /// Adds the first `boards` boards of a block for each stage. Places behind them must hold copies of
    /// a board.
    pub fn add(&mut self, blocks: &[&Block], boards: usize) {
        self.is_first = !std::mem::replace(&mut self.is_laid, true);
        self.boards += boards as u64;
        let groups = boards.div_ceil(LANES);
        let mut bins = [Bins::EMPTY; ABREAST];
        for index in 0..self.places.len() {
            let place = &self.places[index];
            let mut product = Product::of_direction(place.turn);
            for (block, weights) in blocks.iter().zip(&place.weights) {
                product.take_in(block, weights, groups, self.with_counts);
            }
            if self.with_counts {
                product.square(groups);
            }
            let (mut least, mut most) = (self.least[index], self.most[index]);
            for &power in &product.power[..groups] {
                least = lesser(least, power);
                most = larger(most, power);
            }
            (self.least[index], self.most[index]) = (least, most);
            if self.with_counts {
                let abreast = index % ABREAST;
                self.place(index, &product, groups, &mut bins[abreast]);
                if abreast + 1 == ABREAST || index + 1 == self.places.len() {
                    self.count(index - abreast, &bins[..=abreast], boards);
                }
            }
        }
    }

    /// Finds the bins of a block's boards at one frequency; of the first block where bins shall lie.
    fn place(&mut self, index: usize, product: &Product, groups: usize, bins: &mut Bins) {
        let mut angles = [f32x8::ZERO; GROUPS];
        let (mut left, mut right) = (self.left[index], self.right[index]);
        let parts = product.re.iter().zip(&product.im).take(groups);
        for (angle, (&re, &im)) in angles.iter_mut().zip(parts) {
            *angle = fraction(re, im);
            left = lesser(left, *angle);
            right = larger(right, *angle);
        }
        (self.left[index], self.right[index]) = (left, right);
        if self.is_first {
            let powers = (self.least[index], self.most[index]);
            self.laid[index] = Laid::over(
                (across(powers.0, f32::min), across(powers.1, f32::max)),
                (across(left, f32::min), across(right, f32::max)),
            );
        }
        let laid = &self.laid[index];
        let powers = bins.powers.iter_mut().zip(&product.power);
        for (bin, &power) in powers.take(groups) {
            *bin = power_bins(power, laid);
        }
        for (bin, &angle) in bins.angles.iter_mut().zip(&angles).take(groups) {
            *bin = angle_bins(angle, laid);
        }
    }

    /// Counts a block's boards at frequencies in a row.
    fn count(&mut self, first: usize, bins: &[Bins], boards: usize) {
        let powers = &mut self.powers.as_chunks_mut().0[first..];
        let angles = &mut self.angles.as_chunks_mut().0[first..];
        if let ([p0, p1, p2, p3, ..], [a0, a1, a2, a3, ..], [b0, b1, b2, b3]) =
            (&mut *powers, &mut *angles, bins)
        {
            // Board by board, so that a counter that many boards in a row fall into holds nothing up.
            let places = b0.each(boards).zip(b1.each(boards));
            let places = places.zip(b2.each(boards).zip(b3.each(boards)));
            for ((place0, place1), (place2, place3)) in places {
                tally(p0, a0, place0);
                tally(p1, a1, place1);
                tally(p2, a2, place2);
                tally(p3, a3, place3);
            }
            return;
        }
        for ((powers, angles), bins) in powers.iter_mut().zip(angles).zip(bins) {
            bins.each(boards)
                .for_each(|place| tally(powers, angles, place));
        }
    }

    /// Least and largest |H| at each frequency.
    pub fn extremes(&self) -> (Vec<f64>, Vec<f64>) {
        let gains = |powers: &[f32x8], pick: fn(f32, f32) -> f32| {
            // Ends of the numbers, where a board is beyond all of them; clamped, no number would stay none.
            let gain = |lanes: &f32x8| match across(*lanes, pick) {
                power if power.is_nan() => 0.0,
                power => f64::from(power.clamp(0.0, f32::MAX)).sqrt(),
            };
            powers.iter().map(gain).collect()
        };
        (gains(&self.least, f32::min), gains(&self.most, f32::max))
    }

    /// The band of |H| in dB.
    pub fn magnitude(&self) -> Band {
        let (low, high) = self.extremes();
        let mut band = Band::default();
        for (index, counts) in self.powers.chunks_exact(POWER_BINS).enumerate() {
            let ends = (low[index].powi(2), high[index].powi(2));
            let at = |place: f64| {
                let power = self.laid[index].power(place);
                // Ends that are no numbers are no ends.
                decibel(power.max(ends.0).min(ends.1).sqrt())
            };
            let [q05, median, q95] = from_counts(counts, self.boards, SHARES, at);
            band.push([decibel(low[index]), q05, median, q95, decibel(high[index])]);
        }
        band
    }

    /// The band of the phase in degrees; `nominal` is the reference board's phase; a board less
    /// than half a turn from it is told apart, so a band may reach beyond ±180°.
    pub fn phase(&self, nominal: &[f64]) -> Band {
        let mut band = Band::default();
        for (index, counts) in self.angles.chunks_exact(ANGLE_BINS).enumerate() {
            // Of two zeros either may have come first.
            let ends = (
                f64::from(across(self.left[index], f32::min)) + 0.0,
                f64::from(across(self.right[index], f32::max)) + 0.0,
            );
            let at = |fraction: f64| nominal[index] + angle_deg(fraction.max(ends.0).min(ends.1));
            let [q05, median, q95] = from_counts(counts, self.boards, SHARES, |place| {
                at(self.laid[index].fraction(place))
            });
            band.push([at(ends.0), q05, median, q95, at(ends.1)]);
        }
        band
    }
}

/// The lesser of what is known and what is new, lane by lane; what is no number does not count, so that the order of
/// boards does not. Processors give the second of the two then, WebAssembly the first.
#[inline(always)]
fn lesser(known: f32x8, new: f32x8) -> f32x8 {
    match cfg!(target_arch = "wasm32") {
        true => known.fast_min(new),
        false => new.fast_min(known),
    }
}

/// The larger of the two, as [`lesser`].
#[inline(always)]
fn larger(known: f32x8, new: f32x8) -> f32x8 {
    match cfg!(target_arch = "wasm32") {
        true => known.fast_max(new),
        false => new.fast_max(known),
    }
}

/// The least or the most of all lanes.
fn across(lanes: f32x8, pick: fn(f32, f32) -> f32) -> f32 {
    lanes
        .to_array()
        .into_iter()
        .reduce(pick)
        .unwrap_or(f32::NAN)
}

impl Band {
    /// Adds a place: least, 5 %, median, 95 %, most.
    pub fn push(&mut self, values: [f64; 5]) {
        let columns = [
            &mut self.low,
            &mut self.q05,
            &mut self.median,
            &mut self.q95,
            &mut self.high,
        ];
        for (column, value) in columns.into_iter().zip(values) {
            column.push(value);
        }
    }
}

fn decibel(gain: f64) -> f64 {
    20.0 * gain.max(1e-9).log10()
}

/// `(jx)^k/(1 + x²)^(n/2)` without its j, for `ratio` = frequency in Hz over the scale in rad/s.
fn weights(degree: usize, ratio: f64) -> Vec<f32x8> {
    let x = std::f64::consts::TAU * ratio;
    let norm = (1.0 + x * x).powf(-(degree as f64) / 2.0);
    (0..=degree)
        .map(|k| {
            let sign = if k % 4 < 2 { 1.0 } else { -1.0 };
            f32x8::splat((sign * norm * x.powi(k as i32)) as f32)
        })
        .collect()
}

const GROUPS: usize = BLOCK / LANES;

/// |H|², or H turned by a direction, of a block's boards at one frequency, stage by stage multiplied together.
struct Product {
    power: [f32x8; GROUPS],
    re: [f32x8; GROUPS],
    im: [f32x8; GROUPS],
}

impl Product {
    fn of_direction((re, im): (f32x8, f32x8)) -> Product {
        Product {
            power: [f32x8::ONE; GROUPS],
            re: [re; GROUPS],
            im: [im; GROUPS],
        }
    }

    /// Has |H|² from H.
    fn square(&mut self, groups: usize) {
        let parts = self.re.iter().zip(&self.im);
        for (power, (&re, &im)) in self.power[..groups].iter_mut().zip(parts) {
            *power = re * re + im * im;
        }
    }

    /// Multiplies with a stage: H with phase, |H|² without.
    fn take_in(&mut self, block: &Block, weights: &[f32x8], groups: usize, with_phase: bool) {
        match weights.len() {
            1 => self.take_in_sized::<1>(block, weights, groups, with_phase),
            2 => self.take_in_sized::<2>(block, weights, groups, with_phase),
            3 => self.take_in_sized::<3>(block, weights, groups, with_phase),
            4 => self.take_in_sized::<4>(block, weights, groups, with_phase),
            5 => self.take_in_sized::<5>(block, weights, groups, with_phase),
            6 => self.take_in_sized::<6>(block, weights, groups, with_phase),
            7 => self.take_in_sized::<7>(block, weights, groups, with_phase),
            8 => self.take_in_sized::<8>(block, weights, groups, with_phase),
            _ => self.take_in_sized::<0>(block, weights, groups, with_phase),
        }
    }

    /// With `N` known the sums are unrolled; 0 stands for any length.
    fn take_in_sized<const N: usize>(
        &mut self,
        block: &Block,
        weights: &[f32x8],
        groups: usize,
        with_phase: bool,
    ) {
        let length = if N == 0 { weights.len() } else { N };
        let weights = &weights[..length];
        let (nums, dens) = (&block.num[..length], &block.den[..length]);
        for group in 0..groups.min(GROUPS) {
            let ((nr, ni), (dr, di)) = (sums(nums, weights, group), sums(dens, weights, group));
            let below = dr * dr + di * di;
            if with_phase {
                let (re, im) = (self.re[group], self.im[group]);
                // Divided, so that a long path's product neither grows nor fades away; once, because it is slow.
                let inverse = f32x8::ONE / below;
                let (hr, hi) = ((nr * dr + ni * di) * inverse, (ni * dr - nr * di) * inverse);
                self.re[group] = re * hr - im * hi;
                self.im[group] = re * hi + im * hr;
            } else {
                self.power[group] *= (nr * nr + ni * ni) / below;
            }
        }
    }
}

/// The real and the imaginary part of a polynomial: the sums of its even and of its odd terms.
#[inline(always)]
fn sums(rows: &[[f32x8; GROUPS]], weights: &[f32x8], group: usize) -> (f32x8, f32x8) {
    let term = |k: usize| rows[k][group] * weights[k];
    let (mut even, mut odd) = (f32x8::ZERO, f32x8::ZERO);
    let mut k = 0;
    while k + 1 < rows.len() {
        even += term(k);
        odd += term(k + 1);
        k += 2;
    }
    if k < rows.len() {
        even += term(k);
    }
    (even, odd)
}

/// A number in −2 … 2 that rises with the angle of (re, im) from −180° to 180°, without a tangent.
fn fraction(re: f32x8, im: f32x8) -> f32x8 {
    const LEAST: f32x8 = f32x8::new([f32::MIN_POSITIVE; LANES]);
    const TWO: f32x8 = f32x8::new([2.0; LANES]);
    // Taking a size or a sign would spread a mask over the lanes at every call when the code is built for size.
    const SIGN: f32x8 = f32x8::new([-0.0; LANES]);
    const SIZE: f32x8 = f32x8::new([f32::from_bits(0x7fff_ffff); LANES]);
    let size = (re & SIZE) + (im & SIZE);
    let q = im / size.fast_max(LEAST);
    let behind = (TWO | (im & SIGN)) - q;
    re.simd_lt(f32x8::ZERO).select(behind, q)
}

/// The angle in degrees that [`fraction`] stands for.
fn angle_deg(fraction: f64) -> f64 {
    let q = if fraction.abs() > 1.0 {
        2.0f64.copysign(fraction) - fraction
    } else {
        fraction
    };
    let x = if fraction.abs() > 1.0 {
        q.abs() - 1.0
    } else {
        1.0 - q.abs()
    };
    q.atan2(x).to_degrees()
}

/// The given quantiles of `boards` boards that are counted in bins, for what a place among the bins stands for:
/// between the sorted boards' values as NumPy takes them (Hyndman and Fan, "Sample Quantiles in Statistical Packages",
/// definition 7), each bin's boards evenly spaced in it.
fn from_counts<const N: usize>(
    counts: &[u32],
    boards: u64,
    shares: [f64; N],
    value: impl Fn(f64) -> f64,
) -> [f64; N] {
    let last = boards.saturating_sub(1) as f64;
    let (mut bin, mut below) = (0, 0.0);
    let mut sorted = |rank: f64| {
        if rank < below {
            (bin, below) = (0, 0.0);
        }
        while bin + 1 < counts.len() && below + f64::from(counts[bin]) <= rank {
            below += f64::from(counts[bin]);
            bin += 1;
        }
        value(bin as f64 + (rank - below + 0.5) / f64::from(counts[bin].max(1)))
    };
    shares.map(|share| {
        let place = share * last;
        let (low, high) = (
            sorted(place.floor()),
            sorted((place.floor() + 1.0).min(last)),
        );
        low + place.fract() * (high - low)
    })
}

/// One stage's boards for [`extremes`] and [`bands`].
pub struct Boards<'a> {
    pub program: &'a Program,
    pub scale: crate::circuit::Scale,
    /// Each board's numbers for [`Program::run`].
    pub rows: Rows<'a>,
}

/// Least and largest |H| of a path over boards at each frequency: the band's bare core. All stages have
/// the same number of boards.
pub fn extremes(stages: &[Boards], frequencies: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let nominal = vec![Complex64::ONE; frequencies.len()];
    swept(stages, frequencies, &nominal, false).extremes()
}

/// The bands of magnitude (dB) and phase (degrees) of a path over boards, as a run collects them; `nominal` is
/// H of the reference board at each of `frequencies` (Hz). All stages have the same number of boards.
pub fn bands(stages: &[Boards], frequencies: &[f64], nominal: &[Complex64]) -> (Band, Band) {
    let sweep = swept(stages, frequencies, nominal, true);
    let phases: Vec<f64> = nominal.iter().map(|h| h.arg().to_degrees()).collect();
    (sweep.magnitude(), sweep.phase(&phases))
}

/// Blocks that a thread takes at once.
const TAKEN: usize = 4;

fn swept(
    stages: &[Boards],
    frequencies: &[f64],
    nominal: &[Complex64],
    with_counts: bool,
) -> Sweep {
    let programs: Vec<(&Program, f64)> = stages
        .iter()
        .map(|stage| (stage.program, stage.scale.omega))
        .collect();
    let blocks = stages.iter().map(|stage| Block::new(stage.program));
    let mut first = Filler {
        sweep: Sweep::new(&programs, frequencies, nominal, with_counts),
        blocks: blocks.collect(),
        registers: Vec::new(),
    };
    let count = stages.first().map_or(0, |stage| stage.rows.len());
    // Bins are laid by the first block.
    first.add(stages, 0..count.min(BLOCK));
    let range = |from: usize| from as u32..count.min(from + TAKEN * BLOCK) as u32;
    let rest = (BLOCK..count).step_by(TAKEN * BLOCK).map(range);
    let rest: Vec<Range<u32>> = rest.collect();
    let mut twin = first.clone();
    twin.sweep.hand_in();
    let further = side_by_side::threads().min(rest.len()).saturating_sub(1);
    let mut fillers = vec![twin; further];
    fillers.push(first);
    side_by_side::draw(&mut fillers, rest, |filler, boards| {
        filler.add(stages, boards.start as usize..boards.end as usize);
    });
    let all = fillers.into_iter().map(|filler| filler.sweep);
    let joined = all.reduce(|mut all, mut more| {
        all.take_in(&more.hand_in());
        all
    });
    joined.unwrap_or_else(|| Sweep::new(&programs, frequencies, nominal, with_counts))
}

/// One thread's sweep over boards that are given.
#[derive(Clone)]
struct Filler {
    sweep: Sweep,
    blocks: Vec<Block>,
    registers: Vec<f64x4>,
}

impl Filler {
    fn add(&mut self, stages: &[Boards], boards: Range<usize>) {
        for first in boards.clone().step_by(BLOCK) {
            let last = (first + BLOCK).min(boards.end);
            for (stage, block) in stages.iter().zip(&mut self.blocks) {
                fill(
                    block,
                    stage,
                    stage.rows.part(first, last),
                    &mut self.registers,
                );
            }
            let blocks: Vec<&Block> = self.blocks.iter().collect();
            self.sweep.add(&blocks, last - first);
        }
    }
}

fn fill(block: &mut Block, stage: &Boards, boards: Rows, registers: &mut Vec<f64x4>) {
    let (n, d) = stage.program.sizes();
    let (mut num, mut den) = (vec![f64x4::splat(0.0); n], vec![f64x4::splat(0.0); d]);
    let mut lanes = vec![f64x4::splat(0.0); stage.program.inputs()];
    let quarters = boards.len().div_ceil(4);
    for quarter in 0..quarters {
        boards.gather(quarter, &mut lanes);
        stage
            .program
            .run(&lanes, stage.scale, registers, &mut num, &mut den);
        block.put(quarter, &num, &den);
    }
    // An odd half of the last lane group repeats the half before it.
    if quarters % 2 == 1 {
        block.put(quarters, &num, &den);
    }
}

/// Boards as rows of numbers, of which a stage's program takes a stretch.
#[derive(Clone, Copy)]
pub struct Rows<'a> {
    /// Row after row.
    pub numbers: &'a [f64],
    /// Numbers of a row.
    pub stride: usize,
    /// Where the stage's own begin in a row.
    pub first: usize,
}

impl Rows<'_> {
    /// How many boards.
    pub fn len(&self) -> usize {
        self.numbers.len() / self.stride.max(1)
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Some of them.
    pub(super) fn part(&self, first: usize, last: usize) -> Rows<'_> {
        Rows {
            numbers: &self.numbers[first * self.stride..last * self.stride],
            ..*self
        }
    }

    /// Four boards' numbers side by side; boards past the last repeat it.
    pub(super) fn gather(&self, quarter: usize, lanes: &mut [f64x4]) {
        let last = self.len() - 1;
        let row =
            |k: usize| &self.numbers[(4 * quarter + k).min(last) * self.stride + self.first..];
        let (a, b, c, d) = (row(0), row(1), row(2), row(3));
        for (at, lane) in lanes.iter_mut().enumerate() {
            *lane = f64x4::new([a[at], b[at], c[at], d[at]]);
        }
    }
}
