//! Quantities as people write them: IEC 60062 codes (`4k7`, `2n2`, `R47`), SI notation
//! (`4.7 kΩ`, `3,4 kHz`) in; engineering notation out.
//!
//! Values are SI numbers everywhere else in the program; only this file knows prefixes.
//! Sources: IEC 60062:2016, clause 4 (letter in place of the decimal sign); SI Brochure, table 7 (prefixes).

use crate::circuit::Kind;
use crate::json;
use serde::{Deserialize, Serialize};

/// What a number measures. Decides the symbol printed, and whether SI prefixes are used.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unit {
    Ohm,
    Farad,
    Hertz,
    Second,
    Volt,
    Ampere,
    Watt,
    /// Spectral density of a voltage's noise, V/√Hz.
    VoltPerRootHertz,
    /// Spectral density of a current's noise, A/√Hz.
    AmperePerRootHertz,
    /// Volts per second; written and read as V/µs: `1e6` is `1 V/µs`.
    VoltPerMicrosecond,
    VoltPerKelvin,
    Celsius,
    /// A ratio of amplitudes, `20·log10`.
    Decibel,
    Degree,
    Kelvin,
    /// A fraction, written as per cent: `0.01` is `1 %`.
    Percent,
    /// A fraction per kelvin, written in millionths: `50e-6` is `50 ppm/K`.
    PpmPerKelvin,
    /// A plain number.
    One,
}

/// Why a text is not a quantity. `Display` is a sentence for the user, without the field's name.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    #[error("is empty; write {0}")]
    Empty(&'static str),
    #[error("cannot be read from “{text}”; write {accepted}")]
    Unreadable {
        text: String,
        accepted: &'static str,
    },
    #[error("is given in “{found}”, which is not a unit of this field; write {accepted}")]
    WrongUnit {
        found: String,
        accepted: &'static str,
    },
    /// A comma may be a decimal sign or part thousands: before three digits both can be meant.
    #[error("is “{text}”, which may mean {decimal} or {thousands}; write one of them")]
    Ambiguous {
        text: String,
        decimal: String,
        thousands: String,
    },
}

const PREFIXES: [(char, i32); 12] = [
    ('f', -15),
    ('p', -12),
    ('n', -9),
    ('u', -6),
    ('µ', -6),
    ('μ', -6),
    ('m', -3),
    ('k', 3),
    ('K', 3),
    ('M', 6),
    ('G', 9),
    ('T', 12),
];

impl Unit {
    /// Every unit.
    pub const ALL: [Unit; 18] = [
        Unit::Ohm,
        Unit::Farad,
        Unit::Hertz,
        Unit::Second,
        Unit::Volt,
        Unit::Ampere,
        Unit::Watt,
        Unit::VoltPerRootHertz,
        Unit::AmperePerRootHertz,
        Unit::VoltPerMicrosecond,
        Unit::VoltPerKelvin,
        Unit::Celsius,
        Unit::Decibel,
        Unit::Degree,
        Unit::Kelvin,
        Unit::Percent,
        Unit::PpmPerKelvin,
        Unit::One,
    ];

    /// The unit of a part's value; none for an op amp, which has several.
    pub fn of(kind: Kind) -> Option<Unit> {
        match kind {
            Kind::Resistor { .. } => Some(Unit::Ohm),
            Kind::Capacitor { .. } => Some(Unit::Farad),
            Kind::OpAmp { .. } => None,
        }
    }

    /// The symbol as printed after the number; empty for a plain number.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Ohm => "Ω",
            Unit::Farad => "F",
            Unit::Hertz => "Hz",
            Unit::Second => "s",
            Unit::Volt => "V",
            Unit::Ampere => "A",
            Unit::Watt => "W",
            Unit::VoltPerRootHertz => "V/√Hz",
            Unit::AmperePerRootHertz => "A/√Hz",
            Unit::VoltPerMicrosecond => "V/µs",
            Unit::VoltPerKelvin => "V/K",
            Unit::Celsius => "°C",
            Unit::Decibel => "dB",
            Unit::Degree => "°",
            Unit::Kelvin => "K",
            Unit::Percent => "%",
            Unit::PpmPerKelvin => "ppm/K",
            Unit::One => "",
        }
    }

    /// What a field of this unit accepts, for an error sentence.
    pub fn accepted(self) -> &'static str {
        match self {
            Unit::Ohm => "a resistance such as 4k7, 4.7 kΩ or 4700",
            Unit::Farad => "a capacitance such as 2n2, 2.2 nF or 10 nF",
            Unit::Hertz => "a frequency such as 3.4 kHz, 3k4 or 3400",
            Unit::Second => "a time such as 6 µs or 0.2 ms",
            Unit::Volt => "a voltage such as 1.5, 15 V or 200 µV",
            Unit::Watt => "a power such as 0.5 W or 200 mW",
            Unit::Ampere => "a current such as 20 mA or 50 nA",
            Unit::VoltPerRootHertz => "a noise density such as 5n or 5 nV/√Hz",
            Unit::AmperePerRootHertz => "a noise density such as 0.5p or 0.5 pA/√Hz",
            Unit::VoltPerMicrosecond => "a slew rate such as 10 or 10 V/µs",
            Unit::VoltPerKelvin => "a drift such as 2u or 2 µV/K",
            Unit::Celsius => "a temperature such as 25 or 25 °C",
            Unit::Decibel => "a number of decibels such as 40 or 40 dB",
            Unit::Degree => "an angle such as 45 or 45°",
            Unit::Kelvin => "a number of kelvins such as 20 or 20 K",
            Unit::Percent => "a percentage such as 1 or 1 %",
            Unit::PpmPerKelvin => "a coefficient such as 50 or 50 ppm/K",
            Unit::One => "a number such as 2 or 0.7",
        }
    }

    fn symbols(self) -> &'static [&'static str] {
        match self {
            Unit::Ohm => &["Ω", "Ω", "ohms", "ohm", "Ohm", "R"],
            Unit::Farad => &["F"],
            Unit::Hertz => &["Hz", "hz", "HZ"],
            Unit::Second => &["s"],
            Unit::Volt => &["V"],
            Unit::Ampere => &["A"],
            Unit::Watt => &["W"],
            Unit::VoltPerRootHertz => &["V/√Hz", "V/rtHz", "V/sqrt(Hz)", "V"],
            Unit::AmperePerRootHertz => &["A/√Hz", "A/rtHz", "A/sqrt(Hz)", "A"],
            Unit::VoltPerMicrosecond => &["V/µs", "V/μs", "V/us"],
            Unit::VoltPerKelvin => &["V/K", "V/°C"],
            Unit::Celsius => &["°C", "C"],
            Unit::Decibel => &["dB", "db", "DB"],
            Unit::Degree => &["°", "deg"],
            Unit::Kelvin => &["K"],
            Unit::Percent => &["%"],
            Unit::PpmPerKelvin => &["ppm/K", "ppm/°C", "ppm"],
            Unit::One => &[],
        }
    }

    fn takes_prefixes(self) -> bool {
        self.shows_prefixes() || self == Unit::One
    }

    fn shows_prefixes(self) -> bool {
        matches!(
            self,
            Unit::Ohm
                | Unit::Farad
                | Unit::Hertz
                | Unit::Second
                | Unit::Volt
                | Unit::Ampere
                | Unit::Watt
                | Unit::VoltPerRootHertz
                | Unit::AmperePerRootHertz
                | Unit::VoltPerKelvin
        )
    }

    /// Powers of ten between the SI value and the number printed.
    fn shift(self) -> i32 {
        match self {
            Unit::Percent => -2,
            Unit::PpmPerKelvin => -6,
            Unit::VoltPerMicrosecond => 6,
            _ => 0,
        }
    }
}

/// Reads a quantity of the given unit; the answer is in SI units (a fraction for [`Unit::Percent`]).
///
/// The decimal sign may be a point, a comma, or the prefix itself (`4k7`); spaces, and the unit's
/// symbol, are optional. A comma before exactly three digits may part thousands and is asked about. The number is rounded once: `4k7` is exactly the `f64` `4700.0`.
///
/// ```
/// use synthesis::quantity::{parse, Unit};
/// assert_eq!(parse("4k7", Unit::Ohm), Ok(4700.0));
/// assert_eq!(parse("4,7 kΩ", Unit::Ohm), Ok(4700.0));
/// assert_eq!(parse("R47", Unit::Ohm), Ok(0.47));
/// assert_eq!(parse("2n2", Unit::Farad), Ok(2.2e-9));
/// assert_eq!(parse("5 %", Unit::Percent), Ok(0.05));
/// assert!(parse("2.3 parsecs", Unit::Hertz).is_err());
/// assert!(parse("2,350 Hz", Unit::Hertz).is_err());
/// ```
///
/// # Errors
/// [`QuantityError`] when the text is empty, not a number, carries another unit, or can be read in two ways.
pub fn parse(text: &str, unit: Unit) -> Result<f64, QuantityError> {
    let accepted = unit.accepted();
    let unreadable = || QuantityError::Unreadable {
        text: text.trim().to_owned(),
        accepted,
    };
    let body = text.trim();
    if body.is_empty() {
        return Err(QuantityError::Empty(accepted));
    }
    let (sign, body) = match body.strip_prefix(['-', '−']) {
        Some(rest) => ("-", rest.trim_start()),
        None => ("", body.strip_prefix('+').unwrap_or(body)),
    };
    if let Some((decimal, thousands)) = either_way(body) {
        return Err(QuantityError::Ambiguous {
            text: text.trim().to_owned(),
            decimal: format!("{sign}{decimal}"),
            thousands: format!("{sign}{thousands}"),
        });
    }
    let compact: String = body
        .chars()
        .filter(|c| !c.is_whitespace())
        .map(|c| if c == ',' { '.' } else { c })
        .collect();

    let (number, tail) = split_number(&compact);
    let (mantissa, exponent) = number;
    let (prefix, after) = split_prefix(tail, unit);
    let (fraction, symbol) = split_digits(after);

    let mut digits = mantissa.to_owned();
    if !fraction.is_empty() {
        // The prefix or the unit's letter stands where the decimal sign would.
        if mantissa.contains('.') || exponent != 0 || tail.is_empty() {
            return Err(unreadable());
        }
        digits.push('.');
        digits.push_str(fraction);
    }
    if !digits.bytes().any(|b| b.is_ascii_digit()) {
        return Err(unreadable());
    }
    if !symbol.is_empty() && !unit.symbols().contains(&symbol) {
        return Err(QuantityError::WrongUnit {
            found: tail.to_owned(),
            accepted,
        });
    }
    let power = exponent.saturating_add(prefix).saturating_add(unit.shift());
    json::number(&format!("{sign}{digits}e{power}")).ok_or_else(unreadable)
}

/// `"2,350 Hz"` → `("2.350 Hz", "2350 Hz")`: one to three digits that do not begin with a zero, a comma, and three more.
fn either_way(body: &str) -> Option<(String, String)> {
    let (whole, rest) = body.split_once(',')?;
    let is_number = |digits: &str| digits.bytes().all(|byte| byte.is_ascii_digit());
    let is_first = (1..=3).contains(&whole.len()) && is_number(whole) && !whole.starts_with('0');
    let (_, behind) = rest
        .split_at_checked(3)
        .filter(|(three, _)| is_number(three))?;
    let is_last = !behind.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',');
    (is_first && is_last).then(|| (format!("{whole}.{rest}"), format!("{whole}{rest}")))
}

/// `"4.7e3kΩ"` → `(("4.7", 3), "kΩ")`. An `e` counts only with digits behind it.
fn split_number(text: &str) -> ((&str, i32), &str) {
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || c == '.'))
        .unwrap_or(text.len());
    let (mantissa, tail) = text.split_at(end);
    if let Some(rest) = tail.strip_prefix(['e', 'E']) {
        let signed = rest.strip_prefix(['-', '+', '−']).unwrap_or(rest);
        let digits = signed
            .find(|c: char| !c.is_ascii_digit())
            .unwrap_or(signed.len());
        if digits > 0 && !mantissa.is_empty() {
            let magnitude: i32 = signed[..digits].parse().unwrap_or(i32::MAX / 4);
            let negative = rest.starts_with(['-', '−']);
            let exponent = if negative { -magnitude } else { magnitude };
            return ((mantissa, exponent), &signed[digits..]);
        }
    }
    ((mantissa, 0), tail)
}

/// Takes an SI prefix, or the unit's own letter used as a decimal sign (`4R7`), off the front.
fn split_prefix(tail: &str, unit: Unit) -> (i32, &str) {
    if unit.takes_prefixes() {
        let Some(first) = tail.chars().next() else {
            return (0, tail);
        };
        if let Some((_, power)) = PREFIXES.iter().find(|(letter, _)| *letter == first) {
            return (*power, &tail[first.len_utf8()..]);
        }
        let rest = &tail[first.len_utf8()..];
        let letter_is_point =
            (unit == Unit::Ohm && first == 'R') || (unit == Unit::Farad && first == 'F');
        if letter_is_point && rest.starts_with(|c: char| c.is_ascii_digit()) {
            return (0, rest);
        }
    }
    (0, tail)
}

fn split_digits(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(text.len());
    text.split_at(end)
}

/// Engineering notation with every digit that the value has: parses back to the same `f64`.
///
/// ```
/// use synthesis::quantity::{exact, Unit};
/// assert_eq!(exact(4700.0, Unit::Ohm), "4.7 kΩ");
/// assert_eq!(exact(0.05, Unit::Percent), "5 %");
/// ```
pub fn exact(value: f64, unit: Unit) -> String {
    engineering(&format!("{value:e}"), unit)
}

/// Engineering notation rounded to `digits` significant digits (at least one), without trailing zeros.
///
/// ```
/// use synthesis::quantity::{rounded, Unit};
/// assert_eq!(rounded(4681.03, Unit::Ohm, 3), "4.68 kΩ");
/// assert_eq!(rounded(9.996e-9, Unit::Farad, 3), "10 nF");
/// assert_eq!(rounded(2.267e-8, Unit::One, 3), "2.27e−8");
/// ```
pub fn rounded(value: f64, unit: Unit, digits: usize) -> String {
    engineering(&format!("{value:.*e}", digits.max(1) - 1), unit)
}

/// The code that is printed on a part, every digit of its value: a letter stands in place of the decimal sign.
/// At least two characters besides it, as is usual (`1K0`, `47R`). None for other units than Ω and F, and where no
/// letter is near enough.
///
/// ```
/// use synthesis::quantity::{code, Unit};
/// assert_eq!(code(4700.0, Unit::Ohm).as_deref(), Some("4K7"));
/// assert_eq!(code(1e-8, Unit::Farad).as_deref(), Some("10n"));
/// assert_eq!(code(0.47, Unit::Ohm).as_deref(), Some("R47"));
/// ```
pub fn code(value: f64, unit: Unit) -> Option<String> {
    let letters: &[(i32, &str)] = match unit {
        Unit::Ohm => &[(0, "R"), (3, "K"), (6, "M"), (9, "G"), (12, "T")],
        Unit::Farad => &[(-12, "p"), (-9, "n"), (-6, "µ"), (-3, "m"), (0, "F")],
        _ => return None,
    };
    if !(value.is_finite() && value > 0.0) {
        return None;
    }
    let text = format!("{value:e}");
    let (mantissa, exponent) = text.split_once('e')?;
    let exponent: i32 = exponent.parse().ok()?;
    let near = |power: i32| (0..3).contains(&(exponent - power));
    // Below the first letter the code begins with it: `R47`.
    let first = letters
        .first()
        .filter(|(power, _)| (-3..0).contains(&(exponent - power)));
    let (power, letter) = letters.iter().find(|(power, _)| near(*power)).or(first)?;
    let digits: String = mantissa.chars().filter(|c| *c != '.').collect();
    let number = place_point(&digits, exponent - power);
    let (whole, fraction) = number.split_once('.').unwrap_or((&number, ""));
    let whole = if whole == "0" { "" } else { whole };
    let filled = if whole.len() + fraction.len() < 2 {
        "0"
    } else {
        ""
    };
    Some(format!("{whole}{letter}{fraction}{filled}"))
}

/// The number with so many significant digits (at least one): what a tool works out and a person reads on and edits.
///
/// ```
/// use synthesis::quantity::to_digits;
/// assert_eq!(to_digits(176.050_88, 4), 176.1);
/// ```
pub fn to_digits(value: f64, digits: usize) -> f64 {
    let text = format!("{value:.*e}", digits.max(1) - 1);
    json::number(&text).unwrap_or(value)
}

/// Turns Rust's `d.ddde±x` into a mantissa in [1, 1000) and a prefix, moving the point as text so
/// that no digit changes.
fn engineering(scientific: &str, unit: Unit) -> String {
    let Some((mantissa, exponent)) = scientific.split_once('e') else {
        return scientific.to_owned(); // "inf", "NaN"
    };
    let exponent: i32 = exponent.parse().unwrap_or(0);
    let (sign, mantissa) = match mantissa.strip_prefix('-') {
        Some(rest) => ("−", rest),
        None => ("", mantissa),
    };
    let digits: String = mantissa.chars().filter(|c| *c != '.').collect();
    let is_zero = digits.bytes().all(|b| b == b'0');
    let exponent = if is_zero { 0 } else { exponent - unit.shift() };

    let (power, prefix) = if unit.shows_prefixes() && !is_zero {
        let power = (exponent.div_euclid(3) * 3).clamp(-15, 12);
        let letter = match power {
            -15 => "f",
            -12 => "p",
            -9 => "n",
            -6 => "µ",
            -3 => "m",
            3 => "k",
            6 => "M",
            9 => "G",
            12 => "T",
            _ => "",
        };
        (power, letter)
    } else {
        (0, "")
    };
    // Without a prefix a row of zeros would have to be counted.
    let number = match exponent - power {
        far if !(-6..=12).contains(&far) => {
            let sign = if far < 0 { "−" } else { "" };
            format!("{}e{sign}{}", place_point(&digits, 0), far.unsigned_abs())
        }
        near => place_point(&digits, near),
    };
    let symbol = unit.symbol();
    let space = if prefix.is_empty() && (symbol.is_empty() || symbol == "°") {
        ""
    } else {
        " "
    };
    format!("{sign}{number}{space}{prefix}{symbol}")
}

/// The digits `d1 d2 d3 …` read as `d1.d2d3… × 10^exponent`, written without an exponent.
fn place_point(digits: &str, exponent: i32) -> String {
    let point = exponent + 1;
    let text = if point <= 0 {
        format!("0.{}{digits}", "0".repeat(point.unsigned_abs() as usize))
    } else if point as usize >= digits.len() {
        format!("{digits}{}", "0".repeat(point as usize - digits.len()))
    } else {
        let (whole, fraction) = digits.split_at(point as usize);
        format!("{whole}.{fraction}")
    };
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_and_si_notation() {
        // IEC 60062:2016, clause 4 gives R47, 4R7, 4K7, 4M7 and p33, 3p3, 3n3, 3µ3 (from memory).
        let ohm = |t| parse(t, Unit::Ohm);
        for text in [
            "4k7", "4K7", "4.7k", "4,7 kΩ", "4700", "4.7e3", "4700 ohm", "4.7 kohm", "+4k7",
        ] {
            assert_eq!(ohm(text), Ok(4700.0), "{text}");
        }
        assert_eq!(ohm("R47"), Ok(0.47));
        assert_eq!(ohm("4R7"), Ok(4.7));
        assert_eq!(ohm("4M7"), Ok(4.7e6));
        let farad = |t| parse(t, Unit::Farad);
        assert_eq!(farad("2n2"), Ok(2.2e-9));
        assert_eq!(farad("2.2 nF"), Ok(2.2e-9));
        assert_eq!(farad("p33"), Ok(0.33e-12));
        for micro in ["3µ3", "3μ3", "3u3", "3.3 uF"] {
            assert_eq!(farad(micro), Ok(3.3e-6), "{micro}");
        }
        let hertz = |t| parse(t, Unit::Hertz);
        assert_eq!(hertz("3.4 kHz"), Ok(3400.0));
        assert_eq!(hertz("3k4"), Ok(3400.0));
        assert_eq!(parse("-3 dB", Unit::Decibel), Ok(-3.0));
        assert_eq!(parse("50 ppm/K", Unit::PpmPerKelvin), Ok(50e-6));
        for text in ["5n", "5 nV/√Hz", "5nV/rtHz", "5e-9"] {
            assert_eq!(parse(text, Unit::VoltPerRootHertz), Ok(5e-9), "{text}");
        }
        assert_eq!(parse("13 V/us", Unit::VoltPerMicrosecond), Ok(13e6));
        assert_eq!(parse("-40 °C", Unit::Celsius), Ok(-40.0));
    }

    #[test]
    fn codes_of_parts() {
        // IEC 60062:2016, clause 4 (from memory).
        for (value, expected) in [
            (0.1, "R10"),
            (0.15, "R15"),
            (1.0, "1R0"),
            (10.0, "10R"),
            (332.0, "332R"),
            (590.0, "590R"),
            (1e3, "1K0"),
            (59.04e3, "59K04"),
            (1e5, "100K"),
            (1e6, "1M0"),
            (3.32e9, "3G32"),
        ] {
            assert_eq!(code(value, Unit::Ohm).as_deref(), Some(expected));
        }
        for (value, expected) in [
            (0.33e-12, "p33"),
            (3.3e-12, "3p3"),
            (330e-12, "330p"),
            (1e-9, "1n0"),
            (59e-9, "59n"),
            (4.7e-6, "4µ7"),
        ] {
            assert_eq!(code(value, Unit::Farad).as_deref(), Some(expected));
        }
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-5, 1e16] {
            assert_eq!(code(value, Unit::Ohm), None, "{value}");
        }
        assert_eq!(code(1e3, Unit::Hertz), None);
    }

    #[test]
    fn what_is_not_a_quantity_says_what_would_be() {
        assert!(matches!(
            parse("  ", Unit::Hertz),
            Err(QuantityError::Empty(_))
        ));
        for text in ["2.3 parsecs", "4 V", "3 kF"] {
            let error = parse(text, Unit::Hertz).unwrap_err();
            assert!(
                matches!(error, QuantityError::WrongUnit { .. }),
                "{text}: {error}"
            );
        }
        // Both are meant somewhere in the world.
        for text in ["2,350", "12,500 Hz", "-100,000", "1,000 kHz", "5,000e3"] {
            let error = parse(text, Unit::Hertz).unwrap_err();
            assert!(
                matches!(error, QuantityError::Ambiguous { .. }),
                "{text}: {error}"
            );
        }
        for (text, value) in [
            ("0,350", 0.35),
            ("2,35", 2.35),
            ("2,3500", 2.35),
            ("2350,125", 2350.125),
            ("2.350", 2.35),
        ] {
            assert_eq!(parse(text, Unit::Hertz), Ok(value), "{text}");
        }
        for text in ["abc", "1.2.3", "4.7k7", "k", "-", "1e999", "--3"] {
            assert!(parse(text, Unit::Ohm).is_err(), "{text}");
        }
    }

    #[test]
    fn printed_in_engineering_notation() {
        assert_eq!(exact(2350.0, Unit::Hertz), "2.35 kHz");
        assert_eq!(exact(100e-9, Unit::Farad), "100 nF");
        assert_eq!(exact(0.0, Unit::Ohm), "0 Ω");
        assert_eq!(exact(-0.5, Unit::Decibel), "−0.5 dB");
        assert_eq!(rounded(999.96, Unit::Ohm, 4), "1 kΩ");
        assert_eq!(rounded(45.0, Unit::Degree, 3), "45°");
        assert_eq!(exact(5e-9, Unit::VoltPerRootHertz), "5 nV/√Hz");
        assert_eq!(exact(13e6, Unit::VoltPerMicrosecond), "13 V/µs");
        assert_eq!(exact(2e-6, Unit::VoltPerKelvin), "2 µV/K");
    }

    proptest::proptest! {
        #[test]
        fn a_code_parses_back(exponent in -14.0f64..14.9) {
            let value = 10f64.powf(exponent);
            for unit in [Unit::Ohm, Unit::Farad] {
                if let Some(code) = code(value, unit) {
                    proptest::prop_assert_eq!(parse(&code, unit), Ok(value), "{}", code);
                }
            }
        }

        #[test]
        fn what_is_printed_parses_back(bits in proptest::num::f64::NORMAL | proptest::num::f64::ZERO) {
            for unit in Unit::ALL {
                let printed = exact(bits, unit);
                // A value within one shift of the largest f64 cannot be written as a percentage.
                if bits.abs() < 1e300 {
                    proptest::prop_assert_eq!(parse(&printed, unit), Ok(bits), "{}", printed);
                }
            }
        }
    }
}
