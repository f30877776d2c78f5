//! A response wanted by its poles, zeros and gain, as a yardstick.
//!
//! Each wanted root is followed on the real response: a complex or real pair as a quadratic factor
//! with its natural frequency and Q, a single one as a corner. So a figure means the same whatever the
//! circuit is and whatever other roots the op amp adds.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

use crate::numerics::modulus;
use crate::quantity::Unit;
use crate::response::{self, Factor, Transfer, Way};
use crate::stages::yardstick::{Figure, Seen, Terms, Yardstick};

/// Whether a root is looked for in the denominator or in the numerator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    Pole,
    Zero,
}

/// What is followed, and where its figures stand.
#[derive(Clone, Debug)]
enum Feature {
    /// A quadratic factor; frequency in Hz, Q with its sign. Its figures are frequency and Q, and
    /// the two corners behind them where `split`.
    Pair {
        side: Side,
        frequency: f64,
        q: f64,
        split: bool,
    },
    /// A single corner in Hz, negative in the right half plane.
    Corner { side: Side, frequency: f64 },
    /// Zeros on the axis: figures are their frequency and the attenuation at the asked one.
    Null { frequency: f64 },
    /// Where |H| first falls to the gain less 3 dB on the way from where that is read, for information.
    Edge { way: Way },
}

impl Feature {
    fn figures(&self) -> usize {
        match self {
            Feature::Pair { split: true, .. } => 4,
            Feature::Pair { .. } | Feature::Null { .. } => 2,
            Feature::Corner { .. } | Feature::Edge { .. } => 1,
        }
    }
}

/// How much gain is wanted and where.
#[derive(Clone, Copy, Debug)]
struct Gain {
    /// Hz
    at: f64,
    /// |H| wanted.
    of: f64,
}

/// A wanted response; built by its methods, in the order in which its figures shall stand.
pub struct Shape {
    features: Vec<Feature>,
    figures: Vec<Figure>,
    terms: Terms,
    /// Limits behind each term, by feature; of a null the second is the largest |H| allowed there.
    limits: Vec<[f64; 2]>,
    gain: Gain,
    gain_limit: f64,
    gain_figure: usize,
    /// Zeros at the origin; poles where negative.
    at_origin: i32,
}

impl Shape {
    /// `at` (Hz) is where the gain is wanted to be `of` (a ratio), within the fraction `limit`.
    pub fn new(at: f64, of: f64, limit: f64, label: impl Into<String>) -> Shape {
        let db = 20.0 * of.log10();
        let figure = Figure::told(
            "gain-db",
            label,
            Unit::Decibel,
            "Magnitude of the response there.",
        );
        Shape {
            features: Vec::new(),
            figures: vec![figure.wanted(db).within(
                db + 20.0 * (1.0 - limit).log10(),
                db + 20.0 * (1.0 + limit).log10(),
            )],
            terms: Terms { groups: vec![1] },
            limits: Vec::new(),
            gain: Gain { at, of },
            gain_limit: limit,
            gain_figure: 0,
            at_origin: 0,
        }
    }

    /// Zeros (or, where negative, poles) at the origin.
    pub fn at_origin(mut self, count: i32) -> Shape {
        self.at_origin = count;
        self
    }

    /// A pole or zero pair by its natural frequency (Hz) and Q, each within a fraction.
    pub fn pair(
        mut self,
        side: Side,
        (name, q_name): (&'static str, &'static str),
        label: &str,
        (frequency, q): (f64, f64),
        (limit, q_limit): (f64, f64),
    ) -> Shape {
        self.features.push(Feature::Pair {
            side,
            frequency,
            q,
            split: false,
        });
        self.figures.push(
            Figure::told(
                name,
                format!("{label} frequency"),
                Unit::Hertz,
                "Natural frequency of the two roots: their distance from the origin, in Hz.",
            )
            .wanted(frequency)
            .within(frequency * (1.0 - limit), frequency * (1.0 + limit)),
        );
        self.figures.push(
            Figure::told(
                q_name,
                format!("{label} Q"),
                Unit::One,
                "Their distance from the origin over twice that from the axis.",
            )
            .wanted(q.abs())
            .within(q.abs() * (1.0 - q_limit), q.abs() * (1.0 + q_limit)),
        );
        self.limits.push([limit, q_limit]);
        self.terms.groups.extend([1, 1]);
        self
    }

    /// A pair of corners, both real as asked; told apart, but judged by their mean and Q, which stay
    /// smooth where the two meet.
    pub fn corners(
        self,
        side: Side,
        names: (&'static str, &'static str),
        label: &str,
        (low, high): (f64, f64),
        limits: (f64, f64),
        split: ((&'static str, &'static str), (&'static str, &'static str)),
    ) -> Shape {
        let frequency = (low * high).sqrt();
        let q = frequency / (low + high);
        let mut shape = self.pair(side, names, label, (frequency, q), limits);
        if let Some(Feature::Pair { split, .. }) = shape.features.last_mut() {
            *split = true;
        }
        for ((name, label), corner) in [(split.0, low), (split.1, high)] {
            shape.figures.push(
                Figure::told(
                    name,
                    label,
                    Unit::Hertz,
                    "A root on the real axis; where two have become a complex pair, their mean.",
                )
                .wanted(corner),
            );
        }
        shape
    }

    /// A single corner (Hz, negative in the right half plane) within a fraction.
    pub fn corner(
        mut self,
        side: Side,
        name: &'static str,
        label: &str,
        frequency: f64,
        limit: f64,
    ) -> Shape {
        self.features.push(Feature::Corner { side, frequency });
        let size = frequency.abs();
        self.figures.push(
            Figure::told(
                name,
                label,
                Unit::Hertz,
                "A root on the real axis: its distance from the origin, in Hz.",
            )
            .wanted(size)
            .within(size * (1.0 - limit), size * (1.0 + limit)),
        );
        self.limits.push([limit, 0.0]);
        self.terms.groups.push(1);
        self
    }

    /// Zeros on the frequency axis, with at least `attenuation` (dB) at the asked frequency.
    pub fn null(mut self, frequency: f64, limit: f64, attenuation: f64) -> Shape {
        let room = 10f64.powf(-attenuation / 20.0);
        self.features.push(Feature::Null { frequency });
        self.figures.push(
            Figure::told(
                "null-frequency",
                "Null frequency",
                Unit::Hertz,
                "Distance of the zeros from the origin, in Hz.",
            )
            .wanted(frequency)
            .within(frequency * (1.0 - limit), frequency * (1.0 + limit)),
        );
        self.figures.push(
            Figure::told(
                "ask-attenuation-db",
                "Attenuation at the required null",
                Unit::Decibel,
                "Attenuation at the required null frequency, from input to output.",
            )
            .at_least(attenuation),
        );
        self.limits.push([limit, room]);
        self.terms.groups.extend([1, 2]);
        self
    }

    /// Tells where |H| first falls to the gain less 3 dB, going down or up from where the gain is read.
    pub fn edge(mut self, name: &'static str, label: &str, way: Way) -> Shape {
        self.features.push(Feature::Edge { way });
        self.figures.push(Figure::told(
            name,
            label,
            Unit::Hertz,
            "Where the gain is 1/√2 of that at the required frequency, the first such frequency on this side of it.",
        ));
        self.limits.push([0.0, 0.0]);
        self
    }

    fn side(seen: &Transfer, side: Side) -> &[f64] {
        match side {
            Side::Pole => &seen.den,
            Side::Zero => &seen.num,
        }
    }

    fn followed(
        &self,
        seen: &Transfer,
        side: Side,
        frequency: f64,
        q: f64,
        hint: Option<[f64; 2]>,
    ) -> Option<Factor> {
        let scale = TAU / seen.omega;
        let asked = Factor::of(frequency * scale, q);
        let polynomial = Shape::side(seen, side);
        match hint {
            Some([f, hint_q]) if f.is_finite() && hint_q.is_finite() => {
                let near = Factor::of(f * scale, hint_q.copysign(q));
                response::factor_near(polynomial, near)
                    .or_else(|| response::factor(polynomial, asked))
            }
            _ => response::factor(polynomial, asked),
        }
    }

    fn corner_of(
        &self,
        seen: &Transfer,
        side: Side,
        frequency: f64,
        hint: Option<f64>,
    ) -> Option<f64> {
        let scale = TAU / seen.omega;
        let polynomial = Shape::side(seen, side);
        let found = match hint {
            Some(f) if f.is_finite() => {
                let near = f.copysign(frequency) * scale;
                response::corner_near(polynomial, near)
                    .or_else(|| response::corner(polynomial, frequency * scale))
            }
            _ => response::corner(polynomial, frequency * scale),
        };
        found.map(|w| w / scale)
    }

    fn gain_miss(&self, main: &Transfer) -> f64 {
        (modulus(main.at(self.gain.at)) / self.gain.of - 1.0) / self.gain_limit
    }

    /// Fills in the terms; tells the figures of each root that is followed, by their place.
    fn judge(
        &self,
        main: &Transfer,
        hint: Option<&[f64]>,
        terms: &mut [f64],
        mut tell: impl FnMut(usize, f64),
    ) {
        let unit = main.omega / TAU;
        terms[0] = self.gain_miss(main);
        let mut to = 1;
        let mut at = 1;
        for (feature, limits) in self.features.iter().zip(&self.limits) {
            let known = |place: usize| hint.map(|h| h[at + place]);
            match *feature {
                Feature::Pair {
                    side, frequency, q, ..
                } => {
                    let hint = known(0).zip(known(1)).map(|(f, q)| [f, q]);
                    (terms[to], terms[to + 1]) = (f64::NAN, f64::NAN);
                    if let Some(factor) = self.followed(main, side, frequency, q, hint) {
                        let found = factor.frequency() * unit;
                        terms[to] = (found / frequency - 1.0) / limits[0];
                        terms[to + 1] = q_miss(q * factor.u / factor.v.sqrt(), limits[1]);
                        tell(at, found);
                        tell(at + 1, factor.q() * q.signum());
                    }
                    to += 2;
                }
                Feature::Corner { side, frequency } => {
                    let found = self.corner_of(main, side, frequency, known(0));
                    let found = found.unwrap_or(f64::NAN);
                    terms[to] = (found / frequency - 1.0) / limits[0];
                    tell(at, found.abs());
                    to += 1;
                }
                Feature::Null { frequency } => {
                    let hint = known(0).map(|f| [f, 1e6]);
                    let factor = self.followed(main, Side::Zero, frequency, 1e6, hint);
                    let found = factor.map_or(f64::NAN, |f| f.frequency() * unit);
                    terms[to] = (found / frequency - 1.0) / limits[0];
                    let over = main.at(frequency) / limits[1];
                    (terms[to + 1], terms[to + 2]) = (over.re, over.im);
                    tell(at, found);
                    to += 3;
                }
                Feature::Edge { .. } => {}
            }
            at += feature.figures();
        }
    }
}

impl Yardstick for Shape {
    fn figures(&self) -> &[Figure] {
        &self.figures
    }

    fn read(&self, seen: Seen, hint: Option<&[f64]>, figures: &mut [f64]) {
        let seen = seen.main;
        let gain = modulus(seen.at(self.gain.at));
        figures[self.gain_figure] = 20.0 * gain.log10();
        let mut at = 1;
        for feature in &self.features {
            let count = feature.figures();
            let known = hint.map(|h| &h[at..at + count]);
            let place = &mut figures[at..at + count];
            place.fill(f64::NAN);
            match *feature {
                Feature::Pair {
                    side,
                    frequency,
                    q,
                    split,
                } => {
                    let hint = known.map(|k| [k[0], k[1]]);
                    if let Some(factor) = self.followed(seen, side, frequency, q, hint) {
                        let unit = seen.omega / TAU;
                        place[0] = factor.frequency() * unit;
                        place[1] = factor.q() * q.signum();
                        if split {
                            let (low, high) = factor.corners();
                            (place[2], place[3]) = (low * unit, high * unit);
                        }
                    }
                }
                Feature::Corner { side, frequency } => {
                    let found = self.corner_of(seen, side, frequency, known.map(|k| k[0]));
                    place[0] = found.map_or(f64::NAN, f64::abs);
                }
                Feature::Null { frequency } => {
                    let hint = known.map(|k| [k[0], 1e6]);
                    let factor = self.followed(seen, Side::Zero, frequency, 1e6, hint);
                    place[0] = factor.map_or(f64::NAN, |f| f.frequency() * seen.omega / TAU);
                    place[1] = -seen.magnitude_db(frequency);
                }
                Feature::Edge { way } => {
                    let (from, level) = (self.gain.at, gain * FRAC_1_SQRT_2);
                    let near = known.map(|k| k[0]);
                    let edge = response::first_crossing(seen, from, level, way, near);
                    place[0] = edge.unwrap_or(f64::NAN);
                }
            }
            at += count;
        }
    }

    fn term_shape(&self) -> &Terms {
        &self.terms
    }

    fn terms(&self, seen: Seen, hint: Option<&[f64]>, terms: &mut [f64]) {
        self.judge(seen.main, hint, terms, |_, _| {});
    }

    /// The worst of the misses for which no root is followed.
    fn least_miss(&self, seen: Seen) -> f64 {
        let main = seen.main;
        let mut least = self.gain_miss(main).abs();
        for (feature, limits) in self.features.iter().zip(&self.limits) {
            if let Feature::Null { frequency } = *feature {
                least = least.max(modulus(main.at(frequency)) / limits[1]);
            }
        }
        least
    }

    fn terms_and_hints(
        &self,
        seen: Seen,
        hint: Option<&[f64]>,
        terms: &mut [f64],
        hints: &mut [f64],
    ) {
        hints.fill(f64::NAN);
        self.judge(seen.main, hint, terms, |at, found| hints[at] = found);
    }

    fn goal(&self, sign: f64) -> Option<Transfer> {
        // Scaled to the gain's frequency, or where that is at the end of the axis to the first root's.
        let corner = self.features.iter().find_map(|feature| match feature {
            Feature::Pair { frequency, .. }
            | Feature::Corner { frequency, .. }
            | Feature::Null { frequency } => Some(frequency.abs()),
            Feature::Edge { .. } => None,
        });
        let omega = TAU
            * corner.unwrap_or(if self.gain.at > 0.0 {
                self.gain.at
            } else {
                1.0
            });
        let (mut num, mut den) = (vec![1.0], vec![1.0]);
        for feature in &self.features {
            let (side, factor) = match *feature {
                Feature::Pair {
                    side, frequency, q, ..
                } => {
                    let f = Factor::of(frequency * TAU / omega, q);
                    (side, vec![f.v, f.u, 1.0])
                }
                Feature::Null { frequency } => {
                    let x = frequency * TAU / omega;
                    (Side::Zero, vec![x * x, 0.0, 1.0])
                }
                // Positive at low frequencies, also in the right half plane.
                Feature::Corner { side, frequency } => {
                    let x = frequency.abs() * TAU / omega;
                    (side, vec![x, frequency.signum()])
                }
                Feature::Edge { .. } => continue,
            };
            let polynomial = match side {
                Side::Pole => &mut den,
                Side::Zero => &mut num,
            };
            *polynomial = response::times(polynomial, &factor);
        }
        let origin = if self.at_origin >= 0 {
            &mut num
        } else {
            &mut den
        };
        origin.splice(0..0, (0..self.at_origin.abs()).map(|_| 0.0));
        let mut goal = Transfer { num, den, omega };
        let now = modulus(goal.at(self.gain.at));
        goal.num
            .iter_mut()
            .for_each(|c| *c *= sign * self.gain.of / now);
        Some(goal)
    }
}

/// How far a Q is from the wanted one in units of its limit, which is a fraction either way, for the wanted Q over
/// the found one: 0 at 1, and ±1 exactly where the found one is on a limit.
///
/// That ratio passes through zero where the pair crosses the axis and Q is infinite, and a pair turns real without
/// its being felt. Below the wanted Q the miss is its deviation itself; above, the deviation's series in the ratio to
/// the third order, whose last term is such that it meets the limit.
fn q_miss(ratio: f64, limit: f64) -> f64 {
    let short = 1.0 - ratio;
    if short < 0.0 {
        (1.0 / ratio - 1.0) / limit
    } else {
        short * (1.0 + short * (1.0 + short * (1.0 + limit))) / limit
    }
}

#[cfg(test)]
mod tests {
    use super::q_miss;

    proptest::proptest! {
        /// On either limit a miss is 1, between them less, beyond them more, also where Q is infinite or negative;
        /// and slope and bend go on through the wanted Q.
        #[test]
        fn a_miss_of_one_is_on_the_limit(limit in 1e-4f64..0.9, inside in 1e-6f64..0.999999, beyond in 1e-6f64..50.0) {
            let of = |deviation: f64| q_miss(1.0 / (1.0 + deviation), limit);
            let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
            proptest::prop_assert!(near(of(limit), 1.0) && near(of(-limit), -1.0));
            proptest::prop_assert!(of(limit * inside) < 1.0 && of(-limit * inside) > -1.0);
            proptest::prop_assert!(of(limit * (1.0 + beyond)) > 1.0);
            proptest::prop_assert!(limit * (1.0 + beyond) >= 1.0 || of(-limit * (1.0 + beyond)) < -1.0);
            proptest::prop_assert!(q_miss(0.0, limit) > 1.0 && q_miss(-beyond, limit) > 1.0);
            let h = 1e-4;
            let [low, middle, high] = [-h, 0.0, h].map(|part| q_miss(1.0 - part, limit) * limit);
            proptest::prop_assert!(near((high - low) / (2.0 * h), 1.0 + (1.0 + limit / 2.0) * h * h));
            proptest::prop_assert!(((high - 2.0 * middle + low) / (h * h) - 2.0).abs() < 1e-3);
        }
    }
}
