//! The follower.

use super::inverting::band;
use super::reach::too_slow;
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::{Ask, Catalogued, Drawing, FollowerAsk, Grouping, Stage};

pub struct Follower;

impl Catalogued for Follower {
    fn id(&self) -> &'static str {
        "follower"
    }

    fn title(&self) -> &'static str {
        "Follower"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out").op_amp("U1", "in", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Follower(FollowerAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping::default()
    }
}

impl Stage for Follower {
    fn summary(&self) -> &'static str {
        "Gain 1 without a part that could vary, no load on its source; the op amp must be stable at gain 1."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 1 (voltage follower)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 6))
            .wire(&[(0, 6), (4, 6)])
            .op_amp("U1", (4, 4), 11)
            .wire(&[(3, 4), (3, 2), (11, 2), (11, 5)])
            .out_of((11, 5))
            .done()
    }

    /// H = 1: there is nothing to solve.
    fn solve(&self, _: &Ask, _: &mut [f64]) {}

    fn reach(&self, ask: &Ask, _: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Follower(follower) = ask else {
            return Vec::new();
        };
        too_slow(op_amp, 1.0, follower.frequency)
            .into_iter()
            .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Follower(follower) = ask else {
            return Vec::new();
        };
        let mut advice = vec![
            "All of the output is fed back: take an op amp that is stable at gain 1, and put some tens of ohms before a cable or \
             another capacitive load."
                .to_owned(),
        ];
        advice.extend(band(op_amp, 1.0, follower.frequency));
        advice
    }
}
