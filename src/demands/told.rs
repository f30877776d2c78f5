//! Demands in words.

use super::{Demand, Quantity};
use crate::quantity::{Unit, rounded};

/// What an op amp must have at least, as a list in a sentence: "gain-bandwidth 3.2 MHz, slew rate 0.5 V/µs".
pub fn listed(demands: &[Demand]) -> String {
    let one = |demand: &Demand| {
        let needed = rounded(demand.needed, demand.quantity.unit(), 3);
        match demand.quantity {
            Quantity::OutputCurrent => format!("output current ±{needed}"),
            Quantity::OutputSwing => format!("output swing ±{needed}"),
            quantity => format!("{} {needed}", quantity.title()),
        }
    };
    let all: Vec<String> = demands.iter().map(one).collect();
    all.join(", ")
}

/// What is missing, as a sentence; none where all hold.
pub fn missing(demands: &[Demand]) -> Option<String> {
    let short = demands.iter().filter(|demand| !demand.holds());
    let one = |demand: &Demand| {
        let unit = demand.quantity.unit();
        format!(
            "{} is {} where {} is needed",
            demand.quantity.title(),
            rounded(demand.has, unit, 3),
            rounded(demand.needed, unit, 3)
        )
    };
    let all: Vec<String> = short.map(one).collect();
    (!all.is_empty()).then(|| format!("Falls short: {}.", all.join("; ")))
}

/// So many times the signal that the demands belong to.
pub fn times(allowed: f64) -> String {
    match allowed < 1.0 {
        true => format!("{} of this signal", rounded(allowed, Unit::Percent, 2)),
        false => format!("{} times this signal", rounded(allowed, Unit::One, 2)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demands::When;

    #[test]
    fn demands_are_listed_and_what_is_missing_is_said() {
        let demand = |quantity, needed, has| Demand {
            quantity,
            needed,
            has,
            when: When::Always,
        };
        let all = [
            demand(Quantity::SlewRate, 2e6, 1e6),
            demand(Quantity::OutputCurrent, 1e-3, 1e-2),
        ];
        assert_eq!(listed(&all), "slew rate 2 V/µs, output current ±1 mA");
        assert_eq!(
            missing(&all).as_deref(),
            Some("Falls short: slew rate is 1 V/µs where 2 V/µs is needed.")
        );
        assert_eq!(missing(&all[1..]), None);
        assert_eq!(times(0.0061), "0.61 % of this signal");
        assert_eq!(times(1.84), "1.8 times this signal");
    }
}
