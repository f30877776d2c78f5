//! The stages' netlists against what is published of them: frequency, Q and gain in terms of the parts,
//! and worked examples. Symbols are those of the netlists, which need not be the book's.

use polewright::parts::OpAmp;
use polewright::stages::{Ask, Model, PairAsk, Scratch, by_id};

use super::asks::Random;

/// A stage with an ideal op amp and values by name.
struct Bench {
    model: Model,
    values: Vec<f64>,
}

impl Bench {
    fn new(id: &str) -> Bench {
        let stage = by_id(id).unwrap_or_else(|| panic!("no stage {id}"));
        let model = Model::new(stage, &stage.default_ask(), &OpAmp::IDEAL).expect("a circuit");
        let values = vec![0.0; model.netlist.parts().len()];
        Bench { model, values }
    }

    fn with(mut self, parts: &[(&str, f64)]) -> Bench {
        for (name, value) in parts {
            let at = self.model.netlist.position(name);
            self.values[at.unwrap_or_else(|| panic!("no part {name}"))] = *value;
        }
        self
    }

    /// All parts drawn: 1 kΩ to 30 kΩ and 1 nF to 30 nF.
    fn drawn(id: &str, random: &mut Random) -> Bench {
        let mut bench = Bench::new(id);
        for (part, value) in bench.model.netlist.parts().iter().zip(&mut bench.values) {
            *value = match part.name.as_bytes()[0] {
                b'R' => random.between(1e3, 30e3),
                b'C' => random.between(1e-9, 30e-9),
                _ => 0.0,
            };
        }
        bench
    }

    fn part(&self, name: &str) -> f64 {
        self.values[self.model.netlist.position(name).expect("a part")]
    }

    /// Coefficients of s⁰, s¹, … of numerator and denominator, the denominator's first 1.
    fn coefficients(&self) -> (Vec<f64>, Vec<f64>) {
        let h = self.model.transfer(&self.values);
        let side = |c: &[f64]| -> Vec<f64> {
            let all = c.iter().enumerate();
            all.map(|(k, c)| c / h.den[0] / h.omega.powi(k as i32))
                .collect()
        };
        (side(&h.num), side(&h.den))
    }

    fn figure(&self, name: &str) -> f64 {
        let figures = self.model.yardstick.figures();
        let at = figures.iter().position(|f| f.name == name);
        let read = self
            .model
            .figures(&self.values, None, &mut Scratch::default());
        read[at.unwrap_or_else(|| panic!("no figure {name}"))]
    }
}

#[track_caller]
fn same(found: f64, expected: f64) {
    assert!(
        (found - expected).abs() <= 1e-10 * expected.abs(),
        "{found} for {expected}"
    );
}

/// ω0 and Q of 1 + s/(ω0·Q) + s²/ω0².
#[track_caller]
fn pair(den: &[f64], omega: f64, q: f64) {
    same(den[2], 1.0 / (omega * omega));
    // Where Q comes of a difference, what is left of it.
    assert!(
        (den[1] - 1.0 / (omega * q)).abs() < 1e-10 / omega,
        "Q {} for {q}",
        1.0 / (den[1] * omega)
    );
}

#[test]
fn sallen_key_low_pass() {
    // ω0 = 1/√(R1·C1·R2·C2) and Q = √(R1·C1·R2·C2)/(R1·C2 + R2·C2 + R1·C1·(1 − K)): Sallen and Key, 1955;
    // Franco, ch. 3 (KRC filters); from memory.
    let mut random = Random(1);
    for _ in 0..20 {
        for id in ["sallen-key-low-pass", "sallen-key-low-pass-gain"] {
            let b = Bench::drawn(id, &mut random);
            let [r1, r2, c1, c2] = ["R1", "R2", "C1", "C2"].map(|n| b.part(n));
            let k = match id {
                "sallen-key-low-pass" => 1.0,
                _ => 1.0 + b.part("R4") / b.part("R3"),
            };
            let root = (r1 * r2 * c1 * c2).sqrt();
            let (num, den) = b.coefficients();
            same(num[0], k);
            let q = root / (r1 * c2 + r2 * c2 + r1 * c1 * (1.0 - k));
            pair(&den, 1.0 / root, q);
        }
    }
}

#[test]
fn equal_parts_low_pass() {
    // Equal resistors and capacitors: f0 = 1/(2π·R·C), Q = 1/(3 − K). Franco, ch. 3 (equal-component
    // KRC); from memory. K = 1.586 is Butterworth.
    let b = Bench::new("sallen-key-low-pass-gain").with(&[
        ("R1", 10e3),
        ("R2", 10e3),
        ("C1", 10e-9),
        ("C2", 10e-9),
        ("R3", 10e3),
        ("R4", 10e3 * (2.0 - 2f64.sqrt())),
    ]);
    same(b.figure("q"), 0.5f64.sqrt());
    let f0 = 1.0 / (std::f64::consts::TAU * 10e3 * 10e-9);
    same(b.figure("pole-frequency"), f0);
    same(b.figure("gain-db"), 20.0 * (3.0 - 2f64.sqrt()).log10());
    // And the −3 dB edge of a Butterworth is its pole frequency.
    assert!((b.figure("edge-high") / f0 - 1.0).abs() < 1e-9);
}

#[test]
fn unity_gain_low_pass_of_equal_resistors() {
    // C1 = 2Q/(ω0·R), C2 = 1/(2Q·ω0·R): "Op Amps for Everyone", ch. 16; from memory.
    for q in [0.577, 0.707, 1.3, 4.0] {
        let (omega, r) = (std::f64::consts::TAU * 3e3, 6.8e3);
        let b = Bench::new("sallen-key-low-pass").with(&[
            ("R1", r),
            ("R2", r),
            ("C1", 2.0 * q / (omega * r)),
            ("C2", 1.0 / (2.0 * q * omega * r)),
        ]);
        same(b.figure("q"), q);
        same(b.figure("pole-frequency"), 3e3);
    }
}

#[test]
fn sallen_key_high_pass() {
    // ω0 = 1/√(R1·C1·R2·C2) and Q = √(R1·C1·R2·C2)/(R1·C1 + R1·C2 + R2·C2·(1 − K)): Franco, ch. 3; from
    // memory.
    let mut random = Random(2);
    for _ in 0..20 {
        for id in ["sallen-key-high-pass", "sallen-key-high-pass-gain"] {
            let b = Bench::drawn(id, &mut random);
            let [r1, r2, c1, c2] = ["R1", "R2", "C1", "C2"].map(|n| b.part(n));
            let k = match id {
                "sallen-key-high-pass" => 1.0,
                _ => 1.0 + b.part("R4") / b.part("R3"),
            };
            let root = (r1 * r2 * c1 * c2).sqrt();
            let (num, den) = b.coefficients();
            same(num[2] / den[2], k);
            assert!(num[0] == 0.0 && num[1].abs() < 1e-12 * den[1].abs().max(root));
            let q = root / (r1 * c1 + r1 * c2 + r2 * c2 * (1.0 - k));
            pair(&den, 1.0 / root, q);
        }
    }
}

#[test]
fn sallen_key_band_pass() {
    // ω0 = √(1 + R3/R1)/√(R3·C1·R4·C2) with R1 ∥ R2 for R1. For R1 = R3 = R4 = R, equal capacitors:
    // f0 = √2/(2π·R·C), Q = √2/(4 − K), gain K/(4 − K). Franco, ch. 3 (KRC band-pass); from memory.
    let mut random = Random(3);
    for _ in 0..20 {
        let b = Bench::drawn("sallen-key-band-pass", &mut random);
        let [r1, r2, r3, r4] = ["R1", "R2", "R3", "R4"].map(|n| b.part(n));
        let (c1, c2) = (b.part("C1"), b.part("C2"));
        let k = 1.0 + b.part("R5") / b.part("R6");
        let ra = r1 * r2 / (r1 + r2);
        let omega = ((1.0 + r3 / ra) / (r3 * c1 * r4 * c2)).sqrt();
        let loss = 1.0 / (r4 * c1) + 1.0 / (r4 * c2) + (1.0 / ra + (1.0 - k) / r3) / c1;
        let (num, den) = b.coefficients();
        pair(&den, omega, omega / loss);
        same(num[1] / den[2], k / (r1 * c1));
    }
    let (r, c) = (10e3, 10e-9);
    for k in [2.0, 3.0, 3.8] {
        // R1 in two halves: the gain is half of it.
        let b = Bench::new("sallen-key-band-pass").with(&[
            ("R1", 2.0 * r),
            ("R2", 2.0 * r),
            ("R3", r),
            ("R4", r),
            ("R5", (k - 1.0) * r),
            ("R6", r),
            ("C1", c),
            ("C2", c),
        ]);
        let (num, den) = b.coefficients();
        pair(&den, 2f64.sqrt() / (r * c), 2f64.sqrt() / (4.0 - k));
        same(num[1] / den[1], 0.5 * k / (4.0 - k));
    }
}

#[test]
fn multiple_feedback_low_pass() {
    // H0 = −R2/R1, ω0 = 1/√(R2·R3·C1·C2), Q = √(C1/C2)/(√(R2·R3)/R1 + √(R3/R2) + √(R2/R3)): Franco, ch. 3
    // (multiple-feedback low-pass); from memory.
    let mut random = Random(4);
    for _ in 0..20 {
        let b = Bench::drawn("mfb-low-pass", &mut random);
        let [r1, r2, r3] = ["R1", "R2", "R3"].map(|n| b.part(n));
        let (c1, c2) = (b.part("C1"), b.part("C2"));
        let (num, den) = b.coefficients();
        same(num[0], -r2 / r1);
        let spread = (r2 * r3).sqrt() / r1 + (r3 / r2).sqrt() + (r2 / r3).sqrt();
        let q = (c1 / c2).sqrt() / spread;
        pair(&den, 1.0 / (r2 * r3 * c1 * c2).sqrt(), q);
    }
}

#[test]
fn multiple_feedback_low_pass_of_a_handbook() {
    // With gain A and C1/C2 = 4·Q²·(1 + A): R2 = 1/(2·Q·ω0·C2), R1 = R2/A, R3 = R2/(1 + A). Zumbahlen,
    // ch. 8 (design table of the multiple-feedback low-pass); from memory.
    for (q, gain) in [(0.707, 1.0), (1.0, 2.0), (2.5, 0.5)] {
        let (omega, c2) = (std::f64::consts::TAU * 5e3, 1e-9);
        let r2 = 1.0 / (2.0 * q * omega * c2);
        let b = Bench::new("mfb-low-pass").with(&[
            ("R1", r2 / gain),
            ("R2", r2),
            ("R3", r2 / (1.0 + gain)),
            ("C1", 4.0 * q * q * (1.0 + gain) * c2),
            ("C2", c2),
        ]);
        let (num, den) = b.coefficients();
        same(num[0], -gain);
        pair(&den, omega, q);
    }
}

#[test]
fn multiple_feedback_high_pass() {
    // H∞ = −C1/C2, ω0 = 1/√(R1·R2·C2·C3), 1/(ω0·Q) = R1·(C1 + C2 + C3). With C1 = C3 = C and gain A = 1:
    // R1 = 1/(3·Q·ω0·C), R2 = 3·Q/(ω0·C). "Op Amps for Everyone", ch. 16; from memory.
    let mut random = Random(5);
    for _ in 0..20 {
        let b = Bench::drawn("mfb-high-pass", &mut random);
        let [c1, c2, c3] = ["C1", "C2", "C3"].map(|n| b.part(n));
        let (r1, r2) = (b.part("R1"), b.part("R2"));
        let omega = 1.0 / (r1 * r2 * c2 * c3).sqrt();
        let (num, den) = b.coefficients();
        same(num[2] / den[2], -c1 / c2);
        pair(&den, omega, 1.0 / (omega * r1 * (c1 + c2 + c3)));
    }
    let (omega, q, c) = (std::f64::consts::TAU * 100.0, 0.707, 100e-9);
    let b = Bench::new("mfb-high-pass").with(&[
        ("C1", c),
        ("C2", c),
        ("C3", c),
        ("R1", 1.0 / (3.0 * q * omega * c)),
        ("R2", 3.0 * q / (omega * c)),
    ]);
    pair(&b.coefficients().1, omega, q);
}

#[test]
fn multiple_feedback_band_pass() {
    // Equal capacitors: R3 = 2Q/(ω0·C), R1 = Q/(A·ω0·C), R2 = Q/((2Q² − A)·ω0·C). Franco, ch. 3; Zumbahlen,
    // ch. 8; from memory.
    for (q, gain) in [(1.0, 1.0), (2.0, 1.0), (5.0, 10.0), (10.0, 0.5)] {
        let (omega, c) = (std::f64::consts::TAU * 1e3, 10e-9);
        let b = Bench::new("mfb-band-pass").with(&[
            ("R1", q / (gain * omega * c)),
            ("R2", q / ((2.0 * q * q - gain) * omega * c)),
            ("R3", 2.0 * q / (omega * c)),
            ("C1", c),
            ("C2", c),
        ]);
        let (num, den) = b.coefficients();
        pair(&den, omega, q);
        same(num[1] / den[1], -gain);
    }
}

#[test]
fn third_order_butterworth_of_equal_resistors() {
    // Normalised to 1 rad/s and 1 Ω: 1.392, 3.546 and 0.2024 F; the high-pass has their reciprocals in Ω. Williams and Taylor, ch. 3 and 4 (tables of unity-gain sections, four
    // digits); from memory, and held against the polynomial by the test.
    let (omega, r) = (std::f64::consts::TAU * 1e3, 10e3);
    let c = |normal: f64| normal / (omega * r);
    let low = Bench::new("sallen-key-low-pass-3").with(&[
        ("R1", r),
        ("R2", r),
        ("R3", r),
        ("C1", c(1.392)),
        ("C2", c(3.546)),
        ("C3", c(0.2024)),
    ]);
    let c = 10e-9;
    let r = |normal: f64| 1.0 / (normal * omega * c);
    let high = Bench::new("sallen-key-high-pass-3").with(&[
        ("C1", c),
        ("C2", c),
        ("C3", c),
        ("R1", r(1.392)),
        ("R2", r(3.546)),
        ("R3", r(0.2024)),
    ]);
    for bench in [low, high] {
        let (_, den) = bench.coefficients();
        for (k, butterworth) in [1.0, 2.0, 2.0, 1.0].into_iter().enumerate() {
            let found = den[k] * omega.powi(k as i32);
            assert!((found / butterworth - 1.0).abs() < 2e-3, "s^{k}: {found}");
        }
    }
}

#[test]
fn first_order_corners_and_gains() {
    // R·C and ratios of resistors: Franco, ch. 3 (first-order active filters); from memory.
    let mut random = Random(6);
    for _ in 0..10 {
        for id in [
            "follower-low-pass",
            "non-inverting-low-pass",
            "inverting-low-pass",
            "follower-high-pass",
            "non-inverting-high-pass",
            "inverting-high-pass",
        ] {
            let b = Bench::drawn(id, &mut random);
            let (r1, c1) = (b.part("R1"), b.part("C1"));
            let (time, gain) = match id {
                "inverting-low-pass" => (b.part("R2") * c1, -b.part("R2") / r1),
                "inverting-high-pass" => (r1 * c1, -b.part("R2") / r1),
                id if id.starts_with("non") => (r1 * c1, 1.0 + b.part("R2") / b.part("R3")),
                _ => (r1 * c1, 1.0),
            };
            let (num, den) = b.coefficients();
            same(den[1], time);
            match id.ends_with("low-pass") {
                true => same(num[0], gain),
                false => same(num[1] / den[1], gain),
            }
        }
    }
}

#[test]
fn first_order_all_pass() {
    // H = (1 − s·R·C)/(1 + s·R·C) for R1 = R2: Franco, ch. 3 (phase shifters); from memory.
    let b =
        Bench::new("all-pass-1").with(&[("R1", 10e3), ("R2", 10e3), ("R3", 4.7e3), ("C1", 22e-9)]);
    let (num, den) = b.coefficients();
    same(num[0], 1.0);
    same(den[1], 4.7e3 * 22e-9);
    same(num[1], -4.7e3 * 22e-9);
    same(
        b.figure("pole-frequency"),
        1.0 / (std::f64::consts::TAU * 4.7e3 * 22e-9),
    );
}

#[test]
fn multiple_feedback_all_pass() {
    // Equal capacitors: R1 = 1/(2Q·ω0·C), R2 = 2Q/(ω0·C), and the divider passes Q²/(Q² + 1), which is the
    // gain: the band-pass core of gain −2Q², taken so that 1 − 2·band-pass is left (by hand).
    for q in [0.8, 1.0, 3.0] {
        let (omega, c) = (std::f64::consts::TAU * 1e3, 10e-9);
        let b = Bench::new("mfb-all-pass").with(&[
            ("C1", c),
            ("C2", c),
            ("R1", 1.0 / (2.0 * q * omega * c)),
            ("R2", 2.0 * q / (omega * c)),
            ("R3", 1e3),
            ("R4", 1e3 * q * q),
        ]);
        let gain = q * q / (q * q + 1.0);
        let (num, den) = b.coefficients();
        pair(&den, omega, q);
        same(num[0], gain);
        same(num[1], -gain * den[1]);
        same(num[2], gain * den[2]);
    }
}

#[test]
fn a_hundred_times_q_f0_keeps_a_sallen_key_within_a_few_per_cent() {
    // Common practice gives a unity-gain Sallen–Key low-pass a gain-bandwidth of 100·Q·f0, and the page
    // says so: here is what that buys, with parts by the ideal design equations.
    for q in [0.7, 2.0, 5.0] {
        let ask = Ask::LowPass2(PairAsk {
            frequency: 10e3,
            q,
            ..PairAsk::default()
        });
        let miss = |factor: f64| {
            let op_amp = OpAmp {
                gain_bandwidth: factor * q * 10e3,
                ..OpAmp::default()
            };
            let model = Model::new(
                by_id("sallen-key-low-pass").expect("a stage"),
                &ask,
                &op_amp,
            )
            .expect("a circuit");
            let mut values = vec![0.0; model.netlist.parts().len()];
            let at = |name: &str| model.netlist.position(name).expect("a part");
            (values[at("C1")], values[at("C2")]) = (4.8e-9 * q * q, 1e-9);
            model.stage.solve(&ask, &mut values);
            let figures = model.figures(&values, None, &mut Scratch::default());
            let named = |name: &str| {
                let all = model.yardstick.figures();
                figures[all.iter().position(|f| f.name == name).expect("a figure")]
            };
            let (f, found) = (named("pole-frequency"), named("q"));
            ((f / 10e3 - 1.0).abs(), (found / q - 1.0).abs())
        };
        let (f, found) = miss(100.0);
        assert!(f < 0.03 && found < 0.05, "Q {q}: {f} {found}");
        let (far, far_q) = miss(10.0);
        assert!(
            far > 4.0 * f && far_q > 2.0 * found,
            "Q {q}: {far} {far_q} against {f} {found}"
        );
    }
}
