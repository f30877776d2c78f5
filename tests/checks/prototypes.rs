//! Filter approximations against SciPy (tests/reference/prototypes.py), printed tables, brute force and
//! what defines them.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use num_complex::Complex64;
use polewright::approx::{
    ApproxError, Approximation, Band, Family, PoleShape, Requirement, Roots, Section, ZeroShape,
    order, output_peaks, prototype, sections, transformed,
};
use proptest::prelude::{Just, Strategy, prop_assert, prop_oneof};
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    prototypes: Vec<Known>,
    moved: Vec<Known>,
    requirements: Vec<Asked>,
}

#[derive(Deserialize)]
struct Known {
    approximation: Approximation,
    order: usize,
    band: Option<Band>,
    zeros: Vec<Complex64>,
    poles: Vec<Complex64>,
    gain: f64,
}

#[derive(Deserialize)]
struct Asked {
    requirement: Requirement,
    answers: BTreeMap<String, Answer>,
}

#[derive(Deserialize)]
struct Answer {
    order: Option<usize>,
    edges_hz: Vec<f64>,
}

fn reference() -> Reference {
    super::reference::read("prototypes")
}

/// The largest relative distance when each root takes the nearest one left; roots at 0 must be equal.
fn set_miss(found: &[Complex64], wanted: &[Complex64]) -> f64 {
    assert_eq!(found.len(), wanted.len());
    let mut left = found.to_vec();
    let mut worst = 0.0f64;
    for w in wanted {
        let off = |r: &Complex64| (r - w).norm() / w.norm().max(f64::MIN_POSITIVE);
        let nearest = (0..left.len())
            .min_by(|&a, &b| off(&left[a]).total_cmp(&off(&left[b])))
            .expect("as many as wanted");
        worst = worst.max(off(&left.swap_remove(nearest)));
    }
    worst
}

fn conjugate_exactly(roots: &[Complex64]) -> bool {
    let count = |wanted: Complex64| roots.iter().filter(|r| **r == wanted).count();
    roots.iter().all(|r| count(*r) == count(r.conj()))
}

fn compare(known: &Known, found: &Roots) -> f64 {
    let name = format!("{:?} {} {:?}", known.approximation, known.order, known.band);
    assert!(conjugate_exactly(&found.poles), "{name}");
    assert!(conjugate_exactly(&found.zeros), "{name}");
    assert!(found.zeros.iter().all(|z| z.re == 0.0), "{name}");
    let poles = set_miss(&found.poles, &known.poles);
    let zeros = set_miss(&found.zeros, &known.zeros);
    let gain = (found.gain / known.gain - 1.0).abs();
    assert!(poles < 1e-9, "{name}: poles off by {poles}");
    assert!(zeros < 1e-9, "{name}: zeros off by {zeros}");
    assert!(gain < 1e-9, "{name}: gain off by {gain}");
    poles.max(zeros).max(gain)
}

#[test]
fn every_prototype() {
    let mut worst = 0.0f64;
    for known in &reference().prototypes {
        let found = prototype(known.approximation, known.order).expect("in range");
        let real = known.order % 2;
        assert_eq!(found.poles.iter().filter(|p| p.im == 0.0).count(), real);
        worst = worst.max(compare(known, &found));
    }
    println!("largest relative deviation of a prototype: {worst:.1e}");
}

#[test]
fn every_band() {
    let mut worst = 0.0f64;
    for known in &reference().moved {
        let low_pass = prototype(known.approximation, known.order).expect("in range");
        let found = transformed(&low_pass, known.band.expect("a band")).expect("in range");
        worst = worst.max(compare(known, &found));
    }
    println!("largest relative deviation in a band: {worst:.1e}");
}

#[test]
fn least_orders() {
    let reference = reference();
    assert!(reference.requirements.len() >= 240);
    let mut worst = 0.0f64;
    for asked in &reference.requirements {
        for family in Family::ALL {
            let name = serde_json::to_value(family).expect("plain data");
            let answer = &asked.answers[name.as_str().expect("a name")];
            let found = order(family, &asked.requirement);
            let what = format!("{family:?} {:?}: {found:?}", asked.requirement);
            let Some(expected) = answer.order else {
                let most = asked.requirement.pass.max_order();
                assert_eq!(found, Err(ApproxError::TooSteep { most }), "{what}");
                continue;
            };
            let found = found.unwrap_or_else(|e| panic!("{what}: {e}"));
            assert_eq!(found.order, expected, "{what}");
            let (low, high) = found.band.edges();
            for (edge, wanted) in [low, high].iter().zip(&answer.edges_hz) {
                let off = (edge / wanted - 1.0).abs();
                assert!(off < 1e-9, "{what}: {wanted:?}");
                worst = worst.max(off);
            }
        }
    }
    println!("largest relative deviation of an edge: {worst:.1e}");
}

/// f0 and Q of each section of a low-pass at 1 Hz, in ascending order of Q.
fn low_pass_table(approximation: Approximation, order: usize) -> Vec<(f64, Option<f64>)> {
    let band = Band::LowPass { edge: 1.0 };
    let roots = transformed(&prototype(approximation, order).unwrap(), band).unwrap();
    let mut table: Vec<_> = sections(&roots, band, 1.0)
        .unwrap()
        .iter()
        .map(|section| (section.frequency(), section.q()))
        .collect();
    table.sort_by(|a, b| a.1.partial_cmp(&b.1).unwrap());
    table
}

/// The tables of f0 and Q that handbooks print (Zumbahlen, "Linear Circuit Design Handbook", ch. 8;
/// the numbers from memory).
#[test]
fn printed_tables() {
    let chebyshev = Approximation::Chebyshev { ripple_db: 1.0 };
    type Row = (f64, Option<f64>);
    let tables: [(Approximation, &[Row]); 7] = [
        (Approximation::Bessel, &[(1.2720, Some(0.5774))]),
        (Approximation::Butterworth, &[(1.0, None), (1.0, Some(1.0))]),
        (
            Approximation::Butterworth,
            &[(1.0, Some(0.5412)), (1.0, Some(1.3066))],
        ),
        (
            Approximation::Bessel,
            &[(1.3225, None), (1.4474, Some(0.6910))],
        ),
        (
            Approximation::Bessel,
            &[(1.4301, Some(0.5219)), (1.6034, Some(0.8055))],
        ),
        (chebyshev, &[(0.4942, None), (0.9971, Some(2.0177))]),
        (chebyshev, &[(0.5286, Some(0.7846)), (0.9932, Some(3.5590))]),
    ];
    for (approximation, rows) in tables {
        let poles = rows
            .iter()
            .map(|row| 1 + usize::from(row.1.is_some()))
            .sum();
        let found = low_pass_table(approximation, poles);
        assert_eq!(found.len(), rows.len());
        for ((f, q), (wanted_f, wanted_q)) in found.iter().zip(rows) {
            let close = |a: f64, b: f64| (a / b - 1.0).abs() < 2e-4;
            assert!(close(*f, *wanted_f), "{approximation:?}: {f}");
            match (q, wanted_q) {
                (Some(q), Some(wanted)) => assert!(close(*q, *wanted), "{approximation:?}: {q}"),
                _ => assert_eq!(q, wanted_q),
            }
        }
    }
}

/// All of `moved`, with bands as they are.
fn chains() -> Vec<(String, Roots, Band, Vec<Section>)> {
    reference()
        .moved
        .iter()
        .map(|known| {
            let band = known.band.expect("a band");
            let low_pass = prototype(known.approximation, known.order).expect("in range");
            let roots = transformed(&low_pass, band).expect("in range");
            let chain = sections(&roots, band, -2.5).expect("a chain");
            let name = format!("{:?} {} {band:?}", known.approximation, known.order);
            (name, roots, band, chain)
        })
        .collect()
}

/// Frequencies from far below to far above, dense where poles are sharp.
fn dense(chain: &[Section]) -> Vec<f64> {
    let places: Vec<f64> = chain.iter().map(Section::frequency).collect();
    let lowest = places.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = places.iter().copied().fold(0.0, f64::max);
    let mut found = vec![0.0, 1e9 * highest];
    for k in 0..2000 {
        found.push(lowest / 1e3 * (1e6 * highest / lowest).powf(f64::from(k) / 1999.0));
        for section in chain {
            let q = section.q().unwrap_or(0.5).max(0.5);
            found.push(section.frequency() * (f64::from(k - 1000) / (250.0 * q)).exp());
        }
    }
    found
}

#[test]
fn sections_multiply_to_the_whole() {
    let mut worst = 0.0f64;
    for (name, roots, _, chain) in chains() {
        let top = output_peaks(&chain)[chain.len() - 1];
        for f in dense(&chain).into_iter().step_by(23) {
            let product: Complex64 = chain.iter().map(|section| section.at(f)).product();
            let wanted = roots.at(f) * -2.5;
            // At a zero only what is small beside the pass band is asked for.
            let off = (product - wanted).norm() / wanted.norm().max(1e-6 * top);
            assert!(off < 1e-9, "{name} at {f}: {product} against {wanted}");
            worst = worst.max(off);
        }
    }
    println!("largest relative deviation of a product: {worst:.1e}");
}

#[test]
fn poles_and_zeros_are_all_in_the_sections() {
    for (name, roots, _, chain) in chains() {
        let (mut poles, mut zeros) = (vec![], vec![]);
        for section in &chain {
            match section.pole {
                PoleShape::Pair { frequency, q } => {
                    let omega = TAU * frequency;
                    let half = Complex64::new(0.25 / (q * q) - 1.0, 0.0).sqrt();
                    poles.extend([half, -half].map(|h| omega * (h - 0.5 / q)));
                }
                PoleShape::Real { frequency } => poles.push(Complex64::from(-TAU * frequency)),
            }
            match section.zeros {
                ZeroShape::None => {}
                ZeroShape::Origin1 => zeros.push(Complex64::ZERO),
                ZeroShape::Origin2 => zeros.extend([Complex64::ZERO; 2]),
                ZeroShape::Imaginary { frequency } => {
                    let z = Complex64::new(0.0, TAU * frequency);
                    zeros.extend([z, z.conj()]);
                }
            }
        }
        assert!(set_miss(&poles, &roots.poles) < 1e-9, "{name}");
        assert!(set_miss(&zeros, &roots.zeros) < 1e-9, "{name}");
    }
}

#[test]
fn the_sharpest_pair_takes_the_nearest_zeros() {
    for (name, _, _, chain) in chains() {
        let mut by_q: Vec<&Section> = chain.iter().filter(|s| s.q().is_some()).collect();
        by_q.sort_by(|a, b| b.q().partial_cmp(&a.q()).unwrap());
        for (at, section) in by_q.iter().enumerate() {
            let ZeroShape::Imaginary { frequency } = section.zeros else {
                continue;
            };
            let q = section.q().unwrap();
            let pole = section.frequency()
                * Complex64::new(-0.5 / q, (1.0 - 0.25 / (q * q)).max(0.0).sqrt());
            let away = |f: f64| (Complex64::new(0.0, f) - pole).norm();
            for later in &by_q[at + 1..] {
                let ZeroShape::Imaginary { frequency: other } = later.zeros else {
                    continue;
                };
                // Mirror pairs of a band-pass are equally sharp, and either may have come first.
                if later.q().unwrap() < q * (1.0 - 1e-9) {
                    assert!(away(frequency) <= away(other) * (1.0 + 1e-9), "{name}");
                }
            }
        }
    }
}

fn permutations<T: Clone>(items: &[T]) -> Vec<Vec<T>> {
    if items.len() < 2 {
        return vec![items.to_vec()];
    }
    (0..items.len())
        .flat_map(|first| {
            let mut rest = items.to_vec();
            let head = rest.remove(first);
            permutations(&rest)
                .into_iter()
                .map(move |tail| [vec![head.clone()], tail].concat())
        })
        .collect()
}

/// The section with the gain that passes the middle of the pass band at unity.
fn natural(section: &Section, band: Band) -> Section {
    let level = |f: f64| section.at(f).norm();
    let reference = match band {
        Band::LowPass { .. } => level(0.0),
        Band::HighPass { .. } => level(f64::INFINITY),
        Band::BandPass { low, high } => level((low * high).sqrt()),
        Band::BandStop { .. } => (level(0.0) * level(f64::INFINITY)).sqrt(),
    };
    Section {
        gain: section.gain / reference,
        ..*section
    }
}

/// The highest intermediate output, by brute force over the frequencies.
fn worst_output(chain: &[&Vec<f64>]) -> f64 {
    let mut level = vec![1.0; chain[0].len()];
    let mut worst = 0.0f64;
    for section in &chain[..chain.len() - 1] {
        for (l, s) in level.iter_mut().zip(*section) {
            *l *= s;
            worst = worst.max(*l);
        }
    }
    worst
}

#[test]
fn no_other_order_has_more_headroom() {
    let mut gained = 0.0f64;
    for (name, _, band, chain) in chains() {
        let frequencies = dense(&chain);
        let levels: Vec<Vec<f64>> = chain
            .iter()
            .map(|section| {
                let section = natural(section, band);
                frequencies.iter().map(|&f| section.at(f).norm()).collect()
            })
            .collect();
        let taken = worst_output(&levels.iter().collect::<Vec<_>>());
        let all: Vec<f64> = permutations(&levels.iter().collect::<Vec<_>>())
            .iter()
            .map(|order| worst_output(order))
            .collect();
        let least = all.iter().copied().fold(f64::INFINITY, f64::min);
        // The dense sweep is short of a crest by up to 1e-5 or so.
        assert!(
            taken <= least * (1.0 + 3e-5),
            "{name}: {taken} against {least}"
        );
        gained = gained.max(all.iter().copied().fold(0.0, f64::max) / taken.max(1e-300));
    }
    println!("the worst order's output is up to {gained:.1} times as high");
}

#[test]
fn every_output_peaks_alike() {
    let mut worst = 0.0f64;
    for (name, _, _, chain) in chains() {
        let peaks = output_peaks(&chain);
        let top = dense(&chain)
            .iter()
            .map(|&f| chain.iter().map(|s| s.at(f).norm()).product::<f64>())
            .fold(0.0, f64::max);
        assert!((peaks[peaks.len() - 1] / top - 1.0).abs() < 3e-5, "{name}");
        for peak in &peaks {
            worst = worst.max((peak / peaks[peaks.len() - 1] - 1.0).abs());
        }
        assert!(worst < 1e-9, "{name}: {peaks:?}");
        // No prototype passes more than unity, and each reaches it; the chains are made for 2.5.
        assert!((peaks[0] / 2.5 - 1.0).abs() < 1e-9, "{name}: {peaks:?}");
    }
    println!("outputs peak alike within {worst:.1e}");
}

fn attenuation_db(h: Complex64) -> f64 {
    -20.0 * h.norm().log10()
}

/// The least and the most attenuation of a prototype between 0 and 1 rad/s, dB; extremes crowd towards
/// the edge, and so do the samples around which they are narrowed down.
fn ripple_extremes(roots: &Roots) -> (f64, f64) {
    let at = |x: f64| attenuation_db(roots.at_s(Complex64::new(0.0, x)));
    let count = 4000;
    let node = |k: usize| (0.5 * std::f64::consts::PI * k as f64 / count as f64).sin();
    let levels: Vec<f64> = (0..=count).map(|k| at(node(k))).collect();
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for (k, &level) in levels.iter().enumerate() {
        (least, most) = (least.min(level), most.max(level));
        for sign in [1.0, -1.0] {
            if k == 0 || k == count {
                continue;
            }
            if sign * level <= sign * levels[k - 1] && sign * level <= sign * levels[k + 1] {
                let (mut a, mut b) = (node(k - 1), node(k + 1));
                for _ in 0..60 {
                    let (c, d) = ((2.0 * a + b) / 3.0, (a + 2.0 * b) / 3.0);
                    if sign * at(c) < sign * at(d) {
                        b = d
                    } else {
                        a = c
                    }
                }
                let extreme = at(0.5 * (a + b));
                (least, most) = (least.min(extreme), most.max(extreme));
            }
        }
    }
    (least, most)
}

fn any_requirement() -> impl Strategy<Value = Requirement> {
    let kind = prop_oneof![Just(0), Just(1), Just(2), Just(3)];
    let gaps = (1.05f64..4.0, 1.05f64..4.0, 1.1f64..4.0);
    (kind, -2f64..8.0, gaps, 0.01f64..3.0, 5f64..90.0).prop_map(
        |(kind, decade, (below, above, width), ripple_db, more_db)| {
            let f = 10f64.powf(decade);
            let inner = (f, f * width);
            let outer = (f / below, f * width * above);
            let (pass, stop) = match kind {
                0 => (Band::LowPass { edge: f }, Band::LowPass { edge: f * above }),
                1 => (
                    Band::HighPass { edge: f },
                    Band::HighPass { edge: f / below },
                ),
                2 => (
                    Band::BandPass {
                        low: inner.0,
                        high: inner.1,
                    },
                    Band::BandPass {
                        low: outer.0,
                        high: outer.1,
                    },
                ),
                _ => (
                    Band::BandStop {
                        low: outer.0,
                        high: outer.1,
                    },
                    Band::BandStop {
                        low: inner.0,
                        high: inner.1,
                    },
                ),
            };
            Requirement {
                pass,
                stop,
                ripple_db,
                stop_db: ripple_db + more_db,
            }
        },
    )
}

/// Frequencies where the requirement asks for little, and where it asks for much, edges included.
fn asked_frequencies(requirement: &Requirement) -> (Vec<f64>, Vec<f64>) {
    let between = |low: f64, high: f64| -> Vec<f64> {
        (0..=300)
            .map(|k| low * (high / low).powf(f64::from(k) / 300.0))
            .collect()
    };
    let below = |edge: f64| between(edge / 100.0, edge);
    let above = |edge: f64| between(edge, edge * 100.0);
    let (p, s) = (requirement.pass.edges(), requirement.stop.edges());
    match requirement.pass {
        Band::LowPass { .. } => (below(p.0), above(s.0)),
        Band::HighPass { .. } => (above(p.0), below(s.0)),
        Band::BandPass { .. } => (between(p.0, p.1), [below(s.0), above(s.1)].concat()),
        Band::BandStop { .. } => ([below(p.0), above(p.1)].concat(), between(s.0, s.1)),
    }
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(120))]

    #[test]
    fn ripple_is_just_held(order in 1usize..=10, ripple_db in 0.01f64..4.0, more_db in 10f64..120.0) {
        for family in [Family::Chebyshev, Family::Elliptic] {
            let roots = prototype(family.with(ripple_db, ripple_db + more_db), order).unwrap();
            let (least, most) = ripple_extremes(&roots);
            prop_assert!(least.abs() < 1e-6, "{family:?}: {least} dB at best");
            prop_assert!((most - ripple_db).abs() < 1e-6, "{family:?}: {most} dB at worst");
        }
    }

    #[test]
    fn designs_hold_their_requirement(requirement in any_requirement()) {
        let (pass, stop) = asked_frequencies(&requirement);
        for family in Family::ALL {
            let Ok(designed) = order(family, &requirement) else { continue };
            let low_pass = prototype(designed.approximation, designed.order).unwrap();
            let roots = transformed(&low_pass, designed.band).unwrap();
            for &f in &pass {
                let level = attenuation_db(roots.at(f));
                prop_assert!(level < requirement.ripple_db + 1e-6, "{family:?} {level} dB at {f} Hz");
            }
            for &f in &stop {
                let level = attenuation_db(roots.at(f));
                prop_assert!(level > requirement.stop_db - 1e-6, "{family:?} {level} dB at {f} Hz");
            }
            let chain = sections(&roots, designed.band, 1.0).unwrap();
            let edge = pass[pass.len() / 2];
            let product: Complex64 = chain.iter().map(|section| section.at(edge)).product();
            prop_assert!((product / roots.at(edge) - 1.0).norm() < 1e-9);
        }
    }

    #[test]
    fn nothing_panics(order_wanted in 0usize..13, levels in (-1f64..300.0, -1f64..300.0), edges in (-1f64..1e4, -1f64..1e4)) {
        for family in Family::ALL {
            let (low, high) = edges;
            let bands = [Band::LowPass { edge: low }, Band::HighPass { edge: low }, Band::BandPass { low, high }, Band::BandStop { low, high }];
            for pass in bands {
                for stop in bands {
                    let requirement = Requirement { pass, stop, ripple_db: levels.0, stop_db: levels.1 };
                    prop_assert!(order(family, &requirement).is_err());
                }
                let made = prototype(family.with(levels.0, levels.1), order_wanted)
                    .and_then(|low_pass| transformed(&low_pass, pass))
                    .and_then(|roots| sections(&roots, pass, 1.0));
                if let Err(error) = made {
                    prop_assert!(error.to_string().ends_with('.'));
                }
            }
        }
    }
}
