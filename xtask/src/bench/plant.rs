//! The demo's kind of plant, as measured, as a model, and with a loop round it.

use std::f64::consts::TAU;

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use serde_json::{Value, json};

/// Hz.
const SUSPENSION: f64 = 27.0;
/// s
const DELAY: f64 = 6e-6;
/// rms of the complex noise, relative to the response.
const NOISE: f64 = 0.005;
/// Frequency (Hz), damping ratio, residue as a share of the suspension's, as in tests/reference/demo_sweep.py.
const MODES: [(f64, f64, f64); 3] = [
    (SUSPENSION, 0.08, 1.0),
    (2350.0, 0.006, 0.21),
    (5100.0, 0.01, -0.15),
];

/// A sweep of so many rows: half of them evenly over 5 Hz to 20 kHz, the others round the two upper modes.
pub fn sweep(rows: usize) -> String {
    let near = rows / 4;
    let even = rows - 2 * near;
    let along = |k: usize, count: usize| k as f64 / (count - 1) as f64;
    let mut frequencies: Vec<f64> = (0..even)
        .map(|k| 5.0 * 4000f64.powf(along(k, even)))
        .collect();
    for (frequency, damping, _) in &MODES[1..] {
        let reach = 8.0 * damping;
        frequencies
            .extend((0..near).map(|k| frequency * (1.0 - reach + 2.0 * reach * along(k, near))));
    }
    frequencies.sort_by(f64::total_cmp);
    let mut noise = Noise(1);
    let mut text = String::from("Frequency (Hz)\tMagnitude (dB)\tPhase (deg)\n");
    for frequency in frequencies {
        let (re, im) = response(frequency);
        let (more, beside) = (1.0 + NOISE * noise.next(), NOISE * noise.next());
        let (re, im) = (re * more - im * beside, re * beside + im * more);
        let (level, phase) = (20.0 * re.hypot(im).log10(), im.atan2(re).to_degrees());
        text.push_str(&format!("{frequency:.9}\t{level:.5}\t{phase:.4}\n"));
    }
    text
}

/// Output over input at a frequency (Hz): real and imaginary part.
fn response(frequency: f64) -> (f64, f64) {
    let omega = TAU * frequency;
    let (mut re, mut im) = (0.0, 0.0);
    for (own, damping, share) in MODES {
        let (a, b) = (
            (TAU * own).powi(2) - omega * omega,
            2.0 * damping * TAU * own * omega,
        );
        let size = residue(share) / (a * a + b * b);
        (re, im) = (re + a * size, im - b * size);
    }
    let (sine, cosine) = (-omega * DELAY).sin_cos();
    (re * cosine - im * sine, re * sine + im * cosine)
}

fn residue(share: f64) -> f64 {
    share * (TAU * SUSPENSION).powi(2)
}

/// Numbers that scatter by 1/√2 rms, the same at every run: what one of two parts of a noise of 1 rms does.
struct Noise(u64);

impl Noise {
    /// Four uniform numbers' sum is near enough to normal here; xorshift64, from memory.
    fn next(&mut self) -> f64 {
        let mut uniform = || {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            (self.0 >> 11) as f64 / (1u64 << 53) as f64 - 0.5
        };
        let sum = uniform() + uniform() + uniform() + uniform();
        sum * 1.5f64.sqrt()
    }
}

/// The plant without noise, as a model.
pub fn model() -> Value {
    let modes = MODES.map(|(frequency, damping, share)| {
        json!({ "frequency": frequency, "damping": damping, "residue": residue(share), "slope": 0.0 })
    });
    json!({ "rigid": null, "modes": modes, "delay": DELAY })
}

/// A path that closes a loop on it: a PID, an amplifier and a notch.
pub fn path() -> Value {
    json!([
        { "circuit": "pid-parallel", "ask": { "family": "pid", "roll_off": 4200.0, "values":
            { "notation": "zeros", "low": 42.0, "high": 173.0, "gain": 14.0, "at": 420.0 } } },
        { "circuit": "gain-non-inverting", "ask": { "family": "gain", "gain": 19.0 } },
        { "circuit": "mfb-notch", "ask": { "family": "notch", "frequency": 2350.0, "q": 2.0 } },
    ])
}

/// A design of that path, with nothing beside; `servo` is its plant, null where there is none.
pub fn design(servo: Value, boards: u32) -> Value {
    let mut design = json!({
        "stages": path(),
        "spread": { "boards": boards },
        "view": { "compare": false, "propose": false, "blame": false },
    });
    if !servo.is_null() {
        design["servo"] = servo;
    }
    design
}

/// The page's address with this design in it.
pub fn link(address: &str, design: &Value) -> String {
    format!(
        "{address}#{}",
        BASE64_URL_SAFE_NO_PAD.encode(design.to_string())
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sweep_has_its_rows_and_its_noise() {
        let text = sweep(200);
        let rows: Vec<Vec<f64>> = text
            .lines()
            .skip(1)
            .map(|line| line.split('\t').map(|cell| cell.parse().unwrap()).collect())
            .collect();
        assert_eq!(rows.len(), 200);
        assert!(rows.windows(2).all(|pair| pair[0][0] < pair[1][0]));
        let misfit = |row: &Vec<f64>| {
            let (re, im) = response(row[0]);
            let size = 10f64.powf(row[1] / 20.0);
            let (own_re, own_im) = (
                size * row[2].to_radians().cos(),
                size * row[2].to_radians().sin(),
            );
            ((own_re - re).powi(2) + (own_im - im).powi(2)) / (re * re + im * im)
        };
        let rms = (rows.iter().map(misfit).sum::<f64>() / 200.0).sqrt();
        assert!((rms / NOISE - 1.0).abs() < 0.15, "{rms}");
    }
}
