//! Noise of a circuit's own parts: thermal noise of its resistors, voltage and current noise of its op amps.

use num_complex::Complex64;

use super::nodal::Nodal;
use super::{Kind, Netlist};

/// Boltzmann's constant, J/K: exact since the SI of 2019 (CODATA 2018).
const BOLTZMANN: f64 = 1.380_649e-23;

/// Noise of an op amp at its inputs, as data sheets tell it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OpAmpNoise {
    /// Between the inputs, V/√Hz, where it is white.
    pub voltage: f64,
    /// Where its 1/f part is as large, Hz.
    pub voltage_corner: f64,
    /// Into each input, A/√Hz, where it is white; both are taken for independent.
    pub current: f64,
    /// Where its 1/f part is as large, Hz.
    pub current_corner: f64,
}

/// Where noise comes from: a part by its place in the netlist.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// A resistor's thermal noise.
    Thermal(usize),
    /// An op amp's voltage noise.
    Voltage(usize),
    /// Its current noise at the plus and at the minus input.
    Plus(usize),
    Minus(usize),
}

/// All origins of a netlist's noise, in the order of its parts.
pub fn origins(netlist: &Netlist) -> Vec<Origin> {
    let parts = netlist.parts().iter().enumerate();
    parts
        .flat_map(|(place, part)| match part.kind {
            Kind::Resistor { .. } => vec![Origin::Thermal(place)],
            Kind::Capacitor { .. } => Vec::new(),
            Kind::OpAmp { .. } => {
                vec![
                    Origin::Voltage(place),
                    Origin::Plus(place),
                    Origin::Minus(place),
                ]
            }
        })
        .collect()
}

/// Noise at a circuit's output at one frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputNoise {
    /// Power spectral densities, V²/Hz, one for each of [`origins`].
    pub densities: Vec<f64>,
    /// The response from each of the netlist's inputs, V/V.
    pub gains: Vec<Complex64>,
}

/// Power spectral densities at the output, V²/Hz, one for each of [`origins`]: see [`output_noise`].
pub fn densities(
    netlist: &Netlist,
    values: &[f64],
    op_amp: impl Fn(usize) -> OpAmpNoise,
    frequency: f64,
    temperature: f64,
) -> Option<Vec<f64>> {
    let found = output_noise(netlist, values, op_amp, frequency, temperature)?;
    Some(found.densities)
}

/// Noise at the output, at a frequency (Hz, above 0) and a
/// temperature (K). The inputs are grounded: a source's own noise is the source's. `values` are those of [`Nodal::at`];
/// `op_amp` tells each op amp's noise by its place in the netlist. None where the circuit has no single answer.
///
/// Thermal noise is `4kT/R` of current beside a resistor (H. Nyquist, Phys. Rev. 32, 1928); an op amp's densities are
/// `e²·(1 + f_c/f)` (Op Amps for Everyone, ch. 10).
pub fn output_noise(
    netlist: &Netlist,
    values: &[f64],
    op_amp: impl Fn(usize) -> OpAmpNoise,
    frequency: f64,
    temperature: f64,
) -> Option<OutputNoise> {
    let nodal = Nodal::at(netlist, values, std::f64::consts::TAU * frequency)?;
    let influence = nodal.influence(netlist.output())?;
    let flicker = |white: f64, corner: f64| white * white * (1.0 + corner / frequency);
    let mut first = 0;
    let mut found = Vec::new();
    for (place, part) in netlist.parts().iter().enumerate() {
        match part.kind {
            Kind::Resistor { a, b } => {
                let density = 4.0 * BOLTZMANN * temperature / values[first];
                found.push(influence.of_current(a, b).norm_sqr() * density);
            }
            Kind::Capacitor { .. } => {}
            Kind::OpAmp { plus, minus, .. } => {
                let own = op_amp(place);
                let of_voltage = nodal.op_amps().iter().position(|at| *at == place)?;
                let voltage = flicker(own.voltage, own.voltage_corner);
                let current = flicker(own.current, own.current_corner);
                found.push(influence.of_input(of_voltage).norm_sqr() * voltage);
                found.push(influence.of_current(0, plus).norm_sqr() * current);
                found.push(influence.of_current(0, minus).norm_sqr() * current);
            }
        }
        first += part.kind.inputs();
    }
    let inputs = 0..netlist.inputs().len();
    Some(OutputNoise {
        densities: found,
        gains: inputs.map(|input| influence.of_source(input)).collect(),
    })
}

/// The integral of a density over frequency by the trapezoidal rule on logarithms: exact for every power of the frequency
/// between two points. Points rise; densities are above 0 or 0.
pub fn integrated(frequencies: &[f64], densities: &[f64]) -> f64 {
    let points = frequencies.iter().zip(densities);
    let pairs = points.clone().zip(points.skip(1));
    pairs
        .map(|((f, s), (g, t))| {
            if *s <= 0.0 || *t <= 0.0 {
                return 0.5 * (s + t) * (g - f);
            }
            let steps = (g / f).ln();
            let slope = (t / s).ln() / steps + 1.0;
            // s·f·∫ exp(slope·u) du, from 0 to ln(g/f).
            let x = slope * steps;
            let mean = if x.abs() < 1e-6 {
                1.0 + x / 2.0
            } else {
                x.exp_m1() / x
            };
            s * f * steps * mean
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: f64 = 298.15;

    fn sum(netlist: &Netlist, values: &[f64], noise: OpAmpNoise, frequency: f64) -> f64 {
        let all = densities(netlist, values, |_| noise, frequency, ROOM).expect("densities");
        assert_eq!(all.len(), origins(netlist).len());
        all.iter().sum()
    }

    fn is_close(a: f64, b: f64, within: f64) {
        assert!((a / b - 1.0).abs() < within, "{a} {b}");
    }

    /// 4kTR of the parallel resistance: 1 kΩ at 25 °C has 4.06 nV/√Hz.
    #[test]
    fn a_divider_has_the_noise_of_its_parallel_resistance() {
        let netlist = Netlist::new("in", "out")
            .resistor("R1", "in", "out")
            .resistor("R2", "out", "0");
        let density = sum(&netlist, &[2e3, 2e3], OpAmpNoise::default(), 1e3);
        is_close(density, 4.0 * BOLTZMANN * ROOM * 1e3, 1e-12);
        is_close(density.sqrt(), 4.06e-9, 1e-3);
    }

    /// kT/C, whatever the resistor: over all frequencies.
    #[test]
    fn a_capacitor_holds_kt_over_c() {
        let netlist = Netlist::new("in", "out")
            .resistor("R1", "in", "out")
            .capacitor("C1", "out", "0");
        for resistance in [10.0, 1e3, 1e6] {
            let corner = 1.0 / (std::f64::consts::TAU * resistance * 1e-9);
            let frequencies: Vec<f64> = (-600..=600)
                .map(|k| corner * 10f64.powf(f64::from(k) / 100.0))
                .collect();
            let values = [resistance, 1e-9];
            let densities: Vec<f64> = frequencies
                .iter()
                .map(|f| sum(&netlist, &values, OpAmpNoise::default(), *f))
                .collect();
            let total = integrated(&frequencies, &densities);
            is_close(total, BOLTZMANN * ROOM / 1e-9, 1e-4);
        }
    }

    /// Inverting and non-inverting amplifiers in closed form (Op Amps for Everyone, ch. 10; Franco, ch. 7).
    #[test]
    fn amplifiers_in_closed_form() {
        let noise = OpAmpNoise {
            voltage: 5e-9,
            voltage_corner: 100.0,
            current: 1e-12,
            current_corner: 1000.0,
        };
        let (r1, r2, f) = (1e3, 10e3, 50.0);
        let thermal = |resistance: f64| 4.0 * BOLTZMANN * ROOM * resistance;
        let (e, i) = (25e-18 * (1.0 + 100.0 / f), 1e-24 * (1.0 + 1000.0 / f));
        let gain: f64 = 1.0 + r2 / r1;
        let inverting = Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "0", "minus", "out");
        let closed = e * gain.powi(2) + thermal(r1) * (r2 / r1).powi(2) + thermal(r2) + i * r2 * r2;
        let values = [r1, r2, 0.0, 0.0, 0.0];
        is_close(sum(&inverting, &values, noise, f), closed, 1e-12);
        // A resistor at the plus input adds its own noise and that of the current through it.
        let r3 = 4.7e3;
        let other = Netlist::new("in", "out")
            .resistor("R3", "in", "plus")
            .resistor("R1", "0", "minus")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "plus", "minus", "out");
        let closed = closed + (thermal(r3) + i * r3 * r3) * gain.powi(2);
        let values = [r3, r1, r2, 0.0, 0.0, 0.0];
        is_close(sum(&other, &values, noise, f), closed, 1e-12);
    }

    #[test]
    fn powers_of_the_frequency_are_integrated_exactly() {
        let frequencies = [1.0, 10.0, 1000.0];
        for power in [-2.0, -1.0, 0.0, 1.0] {
            let densities = frequencies.map(|f: f64| f.powf(power));
            let closed = match power {
                -1.0 => 1000f64.ln(),
                _ => (1000f64.powf(power + 1.0) - 1.0) / (power + 1.0),
            };
            is_close(integrated(&frequencies, &densities), closed, 1e-12);
        }
    }
}
