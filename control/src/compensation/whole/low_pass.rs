//! The low-pass in a loop: instead of notches or beside them.

use super::setting::{Setting, Way};
use crate::compensation::LowPass;
use crate::numerics::Bracket;
use crate::response::Transfer;

/// Corners over the crossover that are tried, as ratios, and how often what lies between is halved.
const CORNERS: (f64, f64) = (1.0, 1e3);
const HALVES: u32 = 18;

/// Of this order, with its corner at the crossover (Hz) times a ratio.
fn of(order: u32, crossover: f64, ratio: f64) -> LowPass {
    let mut low_pass = LowPass {
        order,
        corner: crossover * ratio,
        cost_deg: 0.0,
        loss_db: 0.0,
    };
    let there = low_pass.transfer().at(crossover);
    low_pass.cost_deg = -there.arg().to_degrees();
    low_pass.loss_db = 20.0 * there.norm().log10();
    low_pass
}

impl Setting<'_> {
    /// The low-pass that this way takes; none at all where none does. `bare` is what each peak is over its level without
    /// it, with its frequency in Hz.
    pub fn low_pass(
        &self,
        bare: &[Vec<(f64, f64)>],
        controller: &Transfer,
    ) -> Option<Option<LowPass>> {
        let crossover = self.aimed.crossover;
        match self.way {
            Way::None => Some(None),
            Way::Beside(order, ratio) => Some(Some(of(order, crossover, ratio))),
            Way::Alone(order) => self.highest(order, bare, controller).map(Some),
        }
    }

    /// The one with the highest corner that keeps all levels by itself, which costs least.
    fn highest(
        &self,
        order: u32,
        bare: &[Vec<(f64, f64)>],
        controller: &Transfer,
    ) -> Option<LowPass> {
        let crossover = self.aimed.crossover;
        let keeps = |ratio: f64| {
            let transfer = of(order, crossover, ratio).transfer();
            let taken = transfer.at(crossover).norm();
            let own = |f: f64| transfer.at(f).norm() / taken;
            let mut points = bare.iter().flatten();
            points.all(|(f, size)| size * own(*f) <= 1.0)
                && self.keeps_roll_off(&|f| controller.at(f).norm() * own(f))
        };
        let (low, high) = CORNERS;
        if keeps(high) {
            return Some(of(order, crossover, high));
        }
        if !keeps(low) {
            return None;
        }
        let mut kept = Bracket {
            holds: low,
            fails: high,
        };
        for _ in 0..HALVES {
            let middle = kept.log_middle();
            kept.learn(middle, keeps(middle));
        }
        Some(of(order, crossover, kept.holds))
    }
}
