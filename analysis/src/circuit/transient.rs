//! A circuit in time.

use nalgebra::{DVector, Dyn, LU};

use super::Equations;

/// Where the first of the method's two stages ends, as a share of a step: both stages have one matrix then.
const SHARE: f64 = 2.0 - std::f64::consts::SQRT_2;
/// Steps that differ by less have the same matrix.
const SAME: f64 = 1e-9;

/// A circuit at rest at first, its signal's input moved along straight lines, its other inputs grounded.
///
/// Method: the trapezoidal rule and then a backward difference of the second order in each step (R. Bank et al., "Transient
/// simulation of silicon devices and circuits", IEEE Trans. CAD 4(4), 1985). What is much quicker than a step fades in it
/// and does not ring.
pub struct Transient<'a> {
    of: &'a Equations<'a>,
    /// The unknowns.
    now: DVector<f64>,
    input: f64,
    /// The last step's length (s), and its matrix.
    matrix: Option<(f64, LU<f64, Dyn, Dyn>)>,
}

/// A circuit at one moment.
#[derive(Clone, Debug)]
pub struct Left {
    now: DVector<f64>,
    input: f64,
}

impl<'a> Transient<'a> {
    /// At rest.
    pub fn new(of: &'a Equations<'a>) -> Transient<'a> {
        Transient {
            now: DVector::zeros(of.size()),
            input: 0.0,
            matrix: None,
            of,
        }
    }

    /// Where a circuit was left, to go on from later; `left` is what [`Transient::leave`] gave of the same circuit.
    pub fn resume(of: &'a Equations<'a>, left: Left) -> Transient<'a> {
        Transient {
            now: left.now,
            input: left.input,
            matrix: None,
            of,
        }
    }

    /// Leaves off.
    pub fn leave(self) -> Left {
        Left {
            now: self.now,
            input: self.input,
        }
    }

    /// Lets the input jump to a voltage. `short` (s) is a time in which nothing else moves. None where the circuit has no
    /// single answer.
    pub fn jump(&mut self, to: f64, short: f64) -> Option<()> {
        let matrix = &self.of.constant + &self.of.rising / short;
        let mut known = &self.of.rising * &self.now / short;
        known[self.of.source(0)] = to;
        self.now = matrix.lu().solve(&known)?;
        self.input = to;
        Some(())
    }

    /// Moves the input along a straight line to a voltage in this time, s. None as at [`Transient::jump`].
    pub fn step(&mut self, to: f64, time: f64) -> Option<()> {
        let is_same = |(of, _): &(f64, _)| (of / time - 1.0).abs() < SAME;
        let factor = 2.0 / (SHARE * time);
        if !self.matrix.as_ref().is_some_and(is_same) {
            let matrix = &self.of.constant + &self.of.rising * factor;
            self.matrix = Some((time, matrix.lu()));
        }
        let (_, matrix) = self.matrix.as_ref()?;
        let source = self.of.source(0);
        let between = self.input + SHARE * (to - self.input);
        let mut known = &self.of.rising * &self.now * factor - &self.of.constant * &self.now;
        // The row of the source has no state: both ends stand in it.
        known[source] += self.input + between;
        let middle = matrix.solve(&known)?;
        let weighted = &middle / (SHARE * (1.0 - SHARE)) - &self.now * ((1.0 - SHARE) / SHARE);
        let mut known = &self.of.rising * weighted / time;
        known[source] += to;
        self.now = matrix.solve(&known)?;
        self.input = to;
        Some(())
    }

    /// The voltage of a node, V.
    pub fn voltage(&self, node: super::Node) -> f64 {
        node.checked_sub(1).map_or(0.0, |place| self.now[place])
    }

    /// The current out of an op amp's output pin, by its place among the op amps, A.
    pub fn current(&self, op_amp: usize) -> f64 {
        self.now[self.of.nodes + op_amp]
    }

    /// The current out of the source at the signal's input, A.
    pub fn drawn(&self) -> f64 {
        self.now[self.of.source(0)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::Netlist;

    /// 1 − exp(−t/RC) after a jump, and a lag of RC behind a ramp.
    #[test]
    fn a_low_pass_after_a_jump_and_along_a_ramp() {
        let netlist = Netlist::new("in", "out")
            .resistor("R1", "in", "out")
            .capacitor("C1", "out", "0");
        let values = [1e3, 1e-6];
        let equations = Equations::of(&netlist, &values).expect("equations");
        let mut jump = Transient::new(&equations);
        jump.jump(1.0, 1e-15).expect("an answer");
        assert!((jump.drawn() - 1e-3).abs() < 1e-9);
        let mut ramp = Transient::new(&equations);
        for step in 1..=500 {
            let time = 1e-5 * f64::from(step);
            jump.step(1.0, 1e-5).expect("an answer");
            ramp.step(1e3 * time, 1e-5).expect("an answer");
            let fading = (-time / 1e-3).exp();
            let out = netlist.output();
            assert!((jump.voltage(out) - (1.0 - fading)).abs() < 1e-5);
            let lag = 1e3 * (time - 1e-3 * (1.0 - fading));
            assert!((ramp.voltage(out) - lag).abs() < 1e-5 * lag.max(1.0));
        }
    }

    /// A capacitive divider jumps at once.
    #[test]
    fn capacitors_share_a_jump() {
        let netlist = Netlist::new("in", "out")
            .capacitor("C1", "in", "out")
            .capacitor("C2", "out", "0")
            .resistor("R1", "out", "0");
        let values = [3e-9, 1e-9, 1e6];
        let equations = Equations::of(&netlist, &values).expect("equations");
        let mut transient = Transient::new(&equations);
        transient.jump(2.0, 1e-12).expect("an answer");
        assert!((transient.voltage(netlist.output()) - 1.5).abs() < 1e-6);
        // A step a thousand times longer than all time constants leaves no ringing.
        transient.step(2.0, 10.0).expect("an answer");
        assert!(transient.voltage(netlist.output()).abs() < 1e-2);
    }
}
