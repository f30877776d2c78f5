//! Asks at random for the checks that go over the whole catalogue.

use polewright::stages::{Ask, Place, Stage};

/// A fixed sequence of numbers that look random (Steele, Lea and Flood, "Fast Splittable Pseudorandom
/// Number Generators", 2014: SplitMix64).
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to 1.
    pub fn part(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Between two numbers, alike in every decade.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.part())
    }

    pub fn one_of(&mut self, list: &[f64]) -> f64 {
        list[(self.next() % list.len() as u64) as usize]
    }
}

/// Entries of families that this does not draw: corners that must stand in an order, and second inputs. Any other that
/// it does not know is a mistake.
const NOT_DRAWN: [&str; 17] = [
    "at",
    "gain_db",
    "lag_pole",
    "lag_zero",
    "lead_pole",
    "lead_zero",
    "pole",
    "pole_high",
    "pole_low",
    "roll_off",
    "second",
    "td",
    "ti",
    "unity",
    "zero",
    "zero_high",
    "zero_low",
];

/// The stage's default ask with its numbers drawn anew: 100 Hz to 20 kHz, Q 0.6 to 5, and a gain of 1 or
/// from 0.5 to 5; none for families that it does not draw, which
/// tests/checks/control.rs does.
pub fn vary(stage: &dyn Stage, random: &mut Random) -> Option<Ask> {
    let ask = stage.default_ask();
    let mut json = serde_json::to_value(&ask).expect("an ask as JSON");
    let frequency = random.between(100.0, 20e3);
    for entry in ask.asked().entries() {
        if entry.place != Place::Ask {
            continue;
        }
        let value = match entry.name {
            "frequency" => frequency,
            "corner" => frequency * random.between(0.5, 2.0),
            "q" => random.between(0.6, 5.0),
            "gain" if random.part() < 0.5 => 1.0,
            // Near 1, but not at it, a follower is within the limit without being exact.
            "gain" => match random.between(0.5, 5.0) {
                near if (near - 1.0).abs() < 0.1 => 1.0,
                gain => gain,
            },
            "null" => {
                let apart = random.between(1.25, 2.5);
                frequency
                    * if random.part() < 0.5 {
                        apart
                    } else {
                        1.0 / apart
                    }
            }
            "depth" => continue,
            name if NOT_DRAWN.contains(&name) || name.starts_with("values/") => return None,
            name => panic!("{}: nothing is drawn for “{name}”", stage.id()),
        };
        json[entry.name] = value.into();
    }
    // Its gain is not free.
    if stage.id() == "bainter-uneven-notch" {
        let at = |name: &str| json[name].as_f64().expect("a number");
        json["gain"] = (at("null") / at("frequency")).powi(2).into();
    }
    Some(serde_json::from_value(json).expect("an ask from JSON"))
}

/// The same ask with another gain.
pub fn with_gain(ask: &Ask, gain: f64) -> Ask {
    let mut json = serde_json::to_value(ask).expect("an ask as JSON");
    json["gain"] = gain.into();
    serde_json::from_value(json).expect("an ask from JSON")
}
