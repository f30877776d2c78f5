//! Modes of shafts against closed forms (Den Hartog, "Mechanical Vibrations", from memory unless another
//! source stands beside them) and against transfer matrices, which know the exact waves of each segment.

use std::f64::consts::{PI, TAU};

use polewright::plant::shaft::{
    BendingEnd, MATERIALS, Material, Segment, Shaft, ShapedMode, TorsionEnd, modes,
};
use proptest::prelude::*;

const LENGTH: f64 = 0.3;

fn segment() -> Segment {
    Segment {
        length: LENGTH,
        outer_diameter: 0.02,
        inner_diameter: 0.012,
        material: Material::STEEL,
    }
}

fn area(s: &Segment) -> f64 {
    PI / 4.0 * (s.outer_diameter.powi(2) - s.inner_diameter.powi(2))
}

/// Polar second moment of area.
fn polar(s: &Segment) -> f64 {
    PI / 32.0 * (s.outer_diameter.powi(4) - s.inner_diameter.powi(4))
}

fn elastic(shaft: &Shaft, count: usize) -> Vec<f64> {
    let found = modes(shaft, count).expect("modes");
    found
        .iter()
        .filter(|mode| !mode.is_rigid())
        .map(|mode| mode.frequency)
        .collect()
}

fn compare(found: &[f64], expected: &[f64], within: f64) {
    assert!(found.len() >= expected.len(), "{found:?} {expected:?}");
    for (a, b) in found.iter().zip(expected) {
        assert!((a / b - 1.0).abs() < within, "{found:?} {expected:?}");
    }
}

fn twisted(inertias: [f64; 2], ends: [TorsionEnd; 2]) -> Shaft {
    Shaft::Torsion {
        segments: vec![segment()],
        inertias: inertias.to_vec(),
        ends,
    }
}

#[test]
fn uniform_shafts_twist_in_quarter_and_half_waves() {
    use TorsionEnd::*;
    let speed = (Material::STEEL.shear_modulus / Material::STEEL.density).sqrt();
    let quarter = speed / (4.0 * LENGTH);
    for (ends, rigid, quarters) in [
        ([Fixed, Free], 0, [1.0, 3.0, 5.0, 7.0]),
        ([Free, Fixed], 0, [1.0, 3.0, 5.0, 7.0]),
        ([Free, Free], 1, [2.0, 4.0, 6.0, 8.0]),
        ([Fixed, Fixed], 0, [2.0, 4.0, 6.0, 8.0]),
    ] {
        let shaft = twisted([0.0; 2], ends);
        let found = modes(&shaft, 4).expect("modes");
        assert_eq!(found.iter().filter(|mode| mode.is_rigid()).count(), rigid);
        compare(&elastic(&shaft, 4), &quarters.map(|n| n * quarter), 1e-4);
    }
    let all: Vec<f64> = (1..=10).map(|n| 2.0 * f64::from(n) * quarter).collect();
    compare(&elastic(&twisted([0.0; 2], [Free, Free]), 10), &all, 2e-4);
}

#[test]
fn a_disc_at_the_end() {
    // β·tan β = J_shaft/J_disc with β = ω·L/c.
    let s = segment();
    let own = s.material.density * polar(&s) * s.length;
    let speed = (s.material.shear_modulus / s.material.density).sqrt();
    for ratio in [0.01, 1.0, 30.0] {
        let expected: Vec<f64> = (0..4)
            .map(|n| {
                let low = f64::from(n) * PI;
                let residual = |b: f64| b * b.sin() - ratio * b.cos();
                root(residual, low + 1e-9, low + PI / 2.0) * speed / (TAU * s.length)
            })
            .collect();
        let shaft = twisted([0.0, own / ratio], [TorsionEnd::Fixed, TorsionEnd::Free]);
        compare(&elastic(&shaft, 4), &expected, 1e-4);
    }
}

#[test]
fn chains() {
    let chain = |inertias: &[f64], springs: &[f64], ground| Shaft::Chain {
        inertias: inertias.to_vec(),
        springs: springs.to_vec(),
        ground,
    };
    // Two inertias: ω² = k·(J1 + J2)/(J1·J2), however different they are.
    for (j1, j2, k) in [(1.0, 3.0, 2.0), (1e-15, 1e3, 1e3), (1e6, 1e-9, 1e-6)] {
        let expected = f64::sqrt(k * (j1 + j2) / (j1 * j2)) / TAU;
        compare(
            &elastic(&chain(&[j1, j2], &[k], [0.0; 2]), 1),
            &[expected],
            1e-9,
        );
    }
    // Three: J1·J2·J3·x² - (k1·J3·(J1 + J2) + k2·J1·(J2 + J3))·x + k1·k2·(J1 + J2 + J3) = 0 with x = ω².
    let (j, k): ([f64; 3], [f64; 2]) = ([2e-5, 3e-6, 7e-5], [40.0, 900.0]);
    let a = j[0] * j[1] * j[2];
    let b = k[0] * j[2] * (j[0] + j[1]) + k[1] * j[0] * (j[1] + j[2]);
    let c = k[0] * k[1] * (j[0] + j[1] + j[2]);
    let large = (b + (b * b - 4.0 * a * c).sqrt()) / (2.0 * a);
    let expected = [c / a / large, large].map(|x| x.sqrt() / TAU);
    compare(&elastic(&chain(&j, &k, [0.0; 2]), 2), &expected, 1e-10);
    // One on a spring to ground.
    compare(
        &elastic(&chain(&[2.0], &[], [8.0, 0.0]), 1),
        &[2.0 / TAU],
        1e-12,
    );
}

#[test]
fn uniform_beams() {
    use BendingEnd::*;
    let s = segment();
    let scale = (s.material.elastic_modulus * polar(&s) / 2.0 / (s.material.density * area(&s)))
        .sqrt()
        / (TAU * LENGTH * LENGTH);
    for (ends, rigid, roots) in [
        ([Clamped, Free], 0, [1.875_104, 4.694_091, 7.854_757]),
        ([Free, Clamped], 0, [1.875_104, 4.694_091, 7.854_757]),
        ([Free, Free], 2, [4.730_041, 7.853_205, 10.995_608]),
        ([Clamped, Clamped], 0, [4.730_041, 7.853_205, 10.995_608]),
        ([Pinned, Pinned], 0, [PI, 2.0 * PI, 3.0 * PI]),
        ([Clamped, Pinned], 0, [3.926_602, 7.068_583, 10.210_176]),
        ([Pinned, Free], 1, [3.926_602, 7.068_583, 10.210_176]),
        ([Free, Pinned], 1, [3.926_602, 7.068_583, 10.210_176]),
    ] {
        let shaft = Shaft::Bending {
            segments: vec![s.clone()],
            masses: vec![0.0; 2],
            ends,
        };
        let found = modes(&shaft, 3).expect("modes");
        assert_eq!(
            found.iter().filter(|mode| mode.is_rigid()).count(),
            rigid,
            "{ends:?}"
        );
        compare(
            &elastic(&shaft, 3),
            &roots.map(|b: f64| b * b * scale),
            1e-4,
        );
    }
}

/// A root between two values of different sign.
fn root(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let sign = f(low).is_sign_positive();
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if f(middle).is_sign_positive() == sign {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// The first frequencies (Hz) at which a residual changes its sign.
fn roots(residual: impl Fn(f64) -> f64, step: f64, count: usize) -> Vec<f64> {
    let mut found = Vec::new();
    let mut at = step;
    while found.len() < count {
        if residual(at).is_sign_positive() != residual(at + step).is_sign_positive() {
            found.push(root(&residual, at, at + step));
        }
        at += step;
    }
    found
}

fn stepped() -> Vec<Segment> {
    let make = |length, outer_diameter, inner_diameter, material| Segment {
        length,
        outer_diameter,
        inner_diameter,
        material,
    };
    vec![
        make(0.05, 0.010, 0.0, Material::STEEL),
        make(0.12, 0.025, 0.015, Material::ALUMINIUM),
        make(0.002, 0.040, 0.0, Material::TITANIUM),
        make(0.08, 0.006, 0.002, Material::ALUMINA),
    ]
}

/// Torque left at the right end, in N·m per rad of the left end (Holzer's method with the exact waves of each
/// segment).
fn holzer(segments: &[Segment], inertias: &[f64], f: f64) -> f64 {
    let omega = TAU * f;
    let (mut angle, mut torque) = (1.0, -omega * omega * inertias[0]);
    for (s, inertia) in segments.iter().zip(&inertias[1..]) {
        let beta = omega * (s.material.density / s.material.shear_modulus).sqrt();
        let stiff = s.material.shear_modulus * polar(s) * beta;
        let (sin, cos) = (beta * s.length).sin_cos();
        (angle, torque) = (
            cos * angle + sin / stiff * torque,
            cos * torque - stiff * sin * angle,
        );
        torque -= omega * omega * inertia * angle;
    }
    torque
}

#[test]
fn a_stepped_shaft_twists_as_by_holzer() {
    let segments = stepped();
    let inertias = vec![3e-6, 0.0, 1e-5, 0.0, 2e-7];
    let expected = roots(|f| holzer(&segments, &inertias, f), 5.0, 6);
    let shaft = Shaft::Torsion {
        segments,
        inertias,
        ends: [TorsionEnd::Free; 2],
    };
    compare(&elastic(&shaft, 6), &expected, 1e-4);
}

/// Determinant of what moment and shear are left at the right end after unit deflection and unit slope (or
/// moment and shear, where it is clamped) at the left (Pestel and Leckie, "Matrix Methods in
/// Elastomechanics", from memory).
fn beam(segments: &[Segment], masses: &[f64], clamped: bool, f: f64) -> f64 {
    let omega = TAU * f;
    let along = |mut state: [f64; 4]| {
        state[3] += omega * omega * masses[0] * state[0];
        for (s, mass) in segments.iter().zip(&masses[1..]) {
            let stiff = s.material.elastic_modulus * polar(s) / 2.0;
            let b = (omega * omega * s.material.density * area(s) / stiff).powf(0.25);
            let x = b * s.length;
            let waves = [
                (x.cosh() + x.cos()) / 2.0,
                (x.sinh() + x.sin()) / 2.0,
                (x.cosh() - x.cos()) / 2.0,
                (x.sinh() - x.sin()) / 2.0,
            ];
            // In deflection and its derivatives over x, which go round in a circle.
            let scales = [1.0, b, stiff * b * b, stiff * b.powi(3)];
            let plain: Vec<f64> = state
                .iter()
                .zip(scales)
                .map(|(y, scale)| y / scale)
                .collect();
            for (row, (y, scale)) in state.iter_mut().zip(scales).enumerate() {
                *y = scale
                    * (0..4)
                        .map(|column| waves[(column + 4 - row) % 4] * plain[column])
                        .sum::<f64>();
            }
            state[3] += omega * omega * mass * state[0];
        }
        [state[2], state[3]]
    };
    let [one, two] = if clamped {
        [along([0.0, 0.0, 1.0, 0.0]), along([0.0, 0.0, 0.0, 1.0])]
    } else {
        [along([1.0, 0.0, 0.0, 0.0]), along([0.0, 1.0, 0.0, 0.0])]
    };
    one[0] * two[1] - one[1] * two[0]
}

#[test]
fn a_stepped_shaft_bends_as_by_transfer_matrices() {
    let segments = stepped();
    let masses = vec![0.02, 0.0, 0.1, 0.0, 0.004];
    for (end, clamped) in [(BendingEnd::Free, false), (BendingEnd::Clamped, true)] {
        let expected = roots(|f| beam(&segments, &masses, clamped, f), 1.0, 5);
        let shaft = Shaft::Bending {
            segments: segments.clone(),
            masses: masses.clone(),
            ends: [end, BendingEnd::Free],
        };
        compare(&elastic(&shaft, 5), &expected, 1e-4);
    }
}

#[test]
fn shapes_are_normalised_by_the_mass() {
    // Pinned at both ends: √(2/m)·sin(nπx/L); free: √(1/J) and √(2/J)·cos(nπx/L).
    let s = segment();
    let mass = s.material.density * area(&s) * s.length;
    let inertia = s.material.density * polar(&s) * s.length;
    let near = |mode: &ShapedMode, expected: &dyn Fn(f64) -> f64, scale: f64| {
        for &(x, y) in &mode.shape {
            assert!(
                (y - expected(x)).abs() < 1e-3 * scale,
                "{x} {y} {}",
                expected(x)
            );
        }
    };
    let shaft = Shaft::Bending {
        segments: vec![s.clone()],
        masses: vec![0.0; 2],
        ends: [BendingEnd::Pinned; 2],
    };
    let scale = (2.0 / mass).sqrt();
    for (n, mode) in modes(&shaft, 3).expect("modes").iter().enumerate() {
        let turns = PI * (n + 1) as f64 / LENGTH;
        // The first large amplitude is positive.
        near(mode, &|x| scale * (turns * x).sin(), scale);
    }
    let scale = (2.0 / inertia).sqrt();
    for (n, mode) in modes(&twisted([0.0; 2], [TorsionEnd::Free; 2]), 3)
        .expect("modes")
        .iter()
        .enumerate()
    {
        let own = if n == 0 {
            inertia.recip().sqrt()
        } else {
            scale
        };
        near(mode, &|x| own * (PI * n as f64 * x / LENGTH).cos(), scale);
    }
}

fn any_segments() -> impl Strategy<Value = Vec<Segment>> {
    let one = (-3.0f64..0.0, -2.5f64..-0.9, 0.0f64..0.99, 0usize..6).prop_map(
        |(length, outer, hollow, material)| {
            let outer_diameter = 10f64.powf(outer);
            Segment {
                length: 10f64.powf(length),
                outer_diameter,
                inner_diameter: hollow * outer_diameter,
                material: MATERIALS[material].1,
            }
        },
    );
    prop::collection::vec(one, 1..13)
}

fn lumps() -> impl Strategy<Value = Vec<f64>> {
    let lump = prop_oneof![Just(0.0), (-9.0f64..1.0).prop_map(|e| 10f64.powf(e))];
    prop::collection::vec(lump, 13)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 40, ..ProptestConfig::default() })]

    /// Neither direction is the better one.
    #[test]
    fn a_shaft_turned_round_has_the_same_modes(
        segments in any_segments(),
        lumps in lumps(),
        left in 0usize..3,
        right in 0usize..3,
        count in 1usize..11,
    ) {
        use BendingEnd::*;
        let lumps = lumps[..=segments.len()].to_vec();
        let held = [Free, Pinned, Clamped];
        let fixed = [TorsionEnd::Free, TorsionEnd::Fixed, TorsionEnd::Fixed];
        let back = |list: &[f64]| list.iter().rev().copied().collect::<Vec<_>>();
        let turned: Vec<Segment> = segments.iter().rev().cloned().collect();
        for [one, other] in [
            [
                Shaft::Bending { segments: segments.clone(), masses: lumps.clone(), ends: [held[left], held[right]] },
                Shaft::Bending { segments: turned.clone(), masses: back(&lumps), ends: [held[right], held[left]] },
            ],
            [
                Shaft::Torsion { segments: segments.clone(), inertias: lumps.clone(), ends: [fixed[left], fixed[right]] },
                Shaft::Torsion { segments: turned, inertias: back(&lumps), ends: [fixed[right], fixed[left]] },
            ],
        ] {
            let (one, other) = (modes(&one, count), modes(&other, count));
            prop_assert!(one.is_ok(), "{one:?}");
            let (one, other) = (one.expect("modes"), other.expect("modes"));
            prop_assert_eq!(one.len(), other.len());
            for (a, b) in one.iter().zip(&other) {
                prop_assert!((a.frequency - b.frequency).abs() <= 1e-4 * a.frequency, "{} {}", a.frequency, b.frequency);
                let sound = a.shape.iter().all(|(x, y)| x.is_finite() && y.is_finite());
                prop_assert!(sound);
            }
        }
    }

    /// Every frequency is one at which Holzer's residual changes its sign.
    #[test]
    fn any_shaft_twists_as_by_holzer(segments in any_segments(), lumps in lumps(), count in 1usize..10) {
        let inertias = lumps[..=segments.len()].to_vec();
        let shaft = Shaft::Torsion {
            segments: segments.clone(),
            inertias: inertias.clone(),
            ends: [TorsionEnd::Free; 2],
        };
        let found = elastic(&shaft, count + 1);
        for (index, f) in found.iter().take(count).enumerate() {
            let apart = |other: Option<&f64>| other.is_none_or(|g| (g / f - 1.0).abs() > 1e-3);
            // Two that are close together change the sign twice.
            if apart(found.get(index + 1)) && (index == 0 || apart(found.get(index - 1))) {
                let [below, above] = [1.0 - 2e-4, 1.0 + 2e-4].map(|part| holzer(&segments, &inertias, f * part));
                prop_assert!(below * above <= 0.0, "{index}: {found:?} {below} {above}");
            }
        }
    }
}
