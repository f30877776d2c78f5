//! The integrator with a resistor that limits its gain at DC.

use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, IntegratorAsk, Stage};

pub struct Integrator;

const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;

fn dc_gain(ask: &IntegratorAsk) -> f64 {
    10f64.powf(ask.gain_db / 20.0)
}

impl Catalogued for Integrator {
    fn id(&self) -> &'static str {
        "integrator"
    }

    fn title(&self) -> &'static str {
        "Integrator with limited DC gain"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "out")
            .capacitor("C1", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Integrator(IntegratorAsk {
            unity: 420.0,
            gain_db: 40.0,
            ..IntegratorAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for Integrator {
    fn summary(&self) -> &'static str {
        "Integrates above its pole and stands still at DC; R2 keeps offsets off the supply and takes the lowest frequencies away."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 1 and 3 (integrators)",
            "Nodal analysis, held against it in the project's tests",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 10))
            .rung(10, (0, 8), &["R1"])
            .inverting("U1", (9, 10), 16)
            .rail(8, &[2, 6, 10])
            .rung(6, (8, 16), &["C1"])
            .rung(2, (8, 16), &["R2"])
            .rail(16, &[2, 6, 11])
            .out_of((16, 11))
            .done()
    }

    /// H = −(R2/R1)/(1 + s·R2·C1); |H| is 1 at √((R2/R1)² − 1) times the pole.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Integrator(ask) = ask else { return };
        let dc = dc_gain(ask);
        let pole = std::f64::consts::TAU * ask.unity / (dc * dc - 1.0).sqrt();
        values[R2] = 1.0 / (pole * values[C1]);
        values[R1] = values[R2] / dc;
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Integrator(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "A lower gain at DC, a higher unity-gain frequency, larger capacitors or a wider range of resistors",
            small: "A lower unity-gain frequency, smaller capacitors or a wider range of resistors",
            none: "There are no capacitors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(op_amp, 2.0, own.unity));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Integrator(ask) = ask else {
            return Vec::new();
        };
        let dc = dc_gain(ask);
        let mut advice = vec![format!(
            "An input offset of 1 mV stands as {} mV at the output. It integrates from about {} on, a decade above its pole.",
            rounded(1.0 + dc, Unit::One, 2),
            rounded(10.0 * ask.unity / dc, Unit::Hertz, 2),
        )];
        if ask.gain_db > op_amp.gain_db - 20.0 {
            advice.push(format!(
                "A gain at DC of {} dB is more than a tenth of the op amp's own ({} dB) and moves with it from part to part: stay 20 dB below.",
                rounded(ask.gain_db, Unit::One, 3),
                rounded(op_amp.gain_db, Unit::One, 3),
            ));
        }
        advice
    }
}
