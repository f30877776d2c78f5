//! Preferred numbers of IEC 60063:2015: E3 to E192.

use serde::{Deserialize, Serialize};

/// A series of preferred values; its number is how many values stand in a decade.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Series {
    E3,
    E6,
    E12,
    E24,
    E48,
    E96,
    E192,
}

/// E24, whose values are historical and not rounded powers (IEC 60063, table 1); E12, E6 and E3
/// are every second, fourth and eighth of them.
const E24: [u16; 24] = [
    100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560,
    620, 680, 750, 820, 910,
];

impl Series {
    pub const ALL: [Series; 7] = [
        Series::E3,
        Series::E6,
        Series::E12,
        Series::E24,
        Series::E48,
        Series::E96,
        Series::E192,
    ];

    /// As IEC 60063 writes it, and as a design saves it.
    pub fn name(self) -> &'static str {
        match self {
            Series::E3 => "E3",
            Series::E6 => "E6",
            Series::E12 => "E12",
            Series::E24 => "E24",
            Series::E48 => "E48",
            Series::E96 => "E96",
            Series::E192 => "E192",
        }
    }

    /// Values in a decade.
    pub fn per_decade(self) -> i32 {
        match self {
            Series::E3 => 3,
            Series::E6 => 6,
            Series::E12 => 12,
            Series::E24 => 24,
            Series::E48 => 48,
            Series::E96 => 96,
            Series::E192 => 192,
        }
    }

    /// The `index`-th value, counted from 1.00 at index 0 through all decades, negative ones too.
    ///
    /// ```
    /// use synthesis::parts::Series;
    /// assert_eq!(Series::E96.value(0), 1.0);
    /// assert_eq!(Series::E24.value(24 * 3 + 16), 4700.0);
    /// assert_eq!(Series::E6.value(-6 * 9), 1e-9);
    /// ```
    pub fn value(self, index: i32) -> f64 {
        let decade = index.div_euclid(self.per_decade());
        let hundredths = f64::from(self.hundredths(index.rem_euclid(self.per_decade())));
        // One multiplication or division by an exact power of ten, so that 4.7 k is exactly 4700.
        let power = decade - 2;
        if power >= 0 {
            hundredths * 10f64.powi(power)
        } else {
            hundredths / 10f64.powi(-power)
        }
    }

    /// A value of the first decade in hundredths (100 to 988).
    fn hundredths(self, place: i32) -> u16 {
        let place = place as usize;
        match self {
            Series::E3 | Series::E6 | Series::E12 | Series::E24 => {
                E24[place * 24 / self.per_decade() as usize]
            }
            // IEC 60063, 3.1: rounded to three digits, with the one exception 9.20 (not 9.19).
            Series::E192 if place == 185 => 920,
            _ => (100.0 * 10f64.powf(place as f64 / f64::from(self.per_decade()))).round() as u16,
        }
    }

    /// The index of the largest value that is not above `value` (which must be positive and finite).
    pub fn floor(self, value: f64) -> i32 {
        let guess = (value.log10() * f64::from(self.per_decade())).floor() as i32 + 1;
        // Rounding of the series moves a value by less than one place.
        let mut index = guess + 1;
        while self.value(index) > value {
            index -= 1;
        }
        index
    }

    /// The index of the value nearest by ratio.
    ///
    /// ```
    /// use synthesis::parts::Series;
    /// let e96 = Series::E96;
    /// assert_eq!(e96.value(e96.nearest(4681.03)), 4640.0);
    /// ```
    pub fn nearest(self, value: f64) -> i32 {
        let below = self.floor(value);
        let (low, high) = (self.value(below), self.value(below + 1));
        if value / low <= high / value {
            below
        } else {
            below + 1
        }
    }

    /// The next value in the direction of `steps` (±), counted from `value`, which need not be in
    /// the series: from between two values one step leads to the neighbour on that side.
    pub fn step(self, value: f64, steps: i32) -> f64 {
        let below = self.floor(value);
        let between = self.value(below) != value;
        let index = if steps < 0 && between {
            below + 1
        } else {
            below
        };
        self.value(index + steps)
    }

    /// All values from `lowest` to `highest`, both included, rising.
    pub fn between(self, lowest: f64, highest: f64) -> Vec<f64> {
        let mut index = self.floor(lowest);
        let mut values = Vec::new();
        loop {
            let value = self.value(index);
            if value > highest {
                return values;
            }
            if value >= lowest {
                values.push(value);
            }
            index += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_what_is_saved() {
        for series in Series::ALL {
            assert_eq!(serde_json::json!(series), series.name());
        }
    }

    #[test]
    fn the_irregular_value() {
        assert_eq!(Series::E192.value(185), 9.20);
        assert_eq!(Series::E96.value(95), 9.76);
        assert_eq!(Series::E48.value(47), 9.53);
    }

    #[test]
    fn stepping_from_on_and_between_values() {
        assert_eq!(Series::E12.step(4700.0, 1), 5600.0);
        assert_eq!(Series::E12.step(4700.0, -1), 3900.0);
        assert_eq!(Series::E12.step(5000.0, 1), 5600.0);
        assert_eq!(Series::E12.step(5000.0, -1), 4700.0);
        assert_eq!(Series::E6.step(1e-9, -1), 680e-12);
    }

    #[test]
    fn a_range_includes_its_ends() {
        let values = Series::E96.between(100.0, 1e6);
        assert_eq!(values.len(), 4 * 96 + 1);
        assert_eq!((values[0], values[384]), (100.0, 1e6));
        assert_eq!(Series::E6.between(100e-12, 100e-9).len(), 19);
    }
}
