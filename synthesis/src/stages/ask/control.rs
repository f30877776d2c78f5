//! Integrator, differentiator, PI, PD, lead, lag, lead–lag, and compensators of two and three poles.

use serde::{Deserialize, Serialize};

use super::{Asked, Entry, Measured, Shape, Side};
use crate::quantity::Unit;

/// An integrator whose gain at DC is limited.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct IntegratorAsk {
    /// Where the gain is 1, Hz.
    pub unity: f64,
    /// Gain at DC, dB.
    pub gain_db: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for IntegratorAsk {
    fn default() -> IntegratorAsk {
        IntegratorAsk {
            unity: 100.0,
            gain_db: 60.0,
            frequency_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

/// A differentiator whose gain stops rising at its roll-off.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DifferentiatorAsk {
    /// Where the gain would be 1 without the roll-off, Hz.
    pub unity: f64,
    /// Corner of the roll-off, Hz.
    pub roll_off: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for DifferentiatorAsk {
    fn default() -> DifferentiatorAsk {
        DifferentiatorAsk {
            unity: 100.0,
            roll_off: 5000.0,
            frequency_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

/// Proportional and integral action: gain·(1 + ω/s).
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PiAsk {
    /// Proportional gain, a ratio without its sign.
    pub gain: f64,
    /// Where both actions are equal, Hz.
    pub zero: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for PiAsk {
    fn default() -> PiAsk {
        PiAsk {
            gain: 1.0,
            zero: 40.0,
            frequency_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

/// Proportional and derivative action with a roll-off: gain·(1 + Td·s/(1 + s/ω)).
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PdAsk {
    /// Proportional gain, a ratio without its sign.
    pub gain: f64,
    /// Derivative time, s.
    pub td: f64,
    /// Corner of the roll-off, Hz.
    pub roll_off: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for PdAsk {
    fn default() -> PdAsk {
        PdAsk {
            gain: 1.0,
            td: 1e-3,
            roll_off: 4000.0,
            frequency_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

/// One zero and one pole: a lead where the zero is lower, a lag where the pole is.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PoleZeroAsk {
    /// Gain at DC, a ratio without its sign.
    pub gain: f64,
    /// Corner of the zero, Hz.
    pub zero: f64,
    /// Corner of the pole, Hz.
    pub pole: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for PoleZeroAsk {
    fn default() -> PoleZeroAsk {
        PoleZeroAsk {
            gain: 1.0,
            zero: 150.0,
            pole: 1200.0,
            frequency_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

impl PoleZeroAsk {
    /// What a lag opens with.
    pub fn lag() -> PoleZeroAsk {
        PoleZeroAsk {
            gain: 10.0,
            pole: 15.0,
            ..PoleZeroAsk::default()
        }
    }
}

/// How a lag's ask is read: what it leaves out is a lag's, not a lead's.
#[derive(Deserialize)]
#[serde(
    remote = "PoleZeroAsk",
    deny_unknown_fields,
    default = "PoleZeroAsk::lag"
)]
pub(super) struct LagAsk {
    gain: f64,
    zero: f64,
    pole: f64,
    frequency_limit: f64,
    gain_limit: f64,
}

/// A lag below and a lead above.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LeadLagAsk {
    /// Gain at DC, a ratio without its sign.
    pub gain: f64,
    /// Lower pole, Hz.
    pub lag_pole: f64,
    /// Lower zero, Hz.
    pub lag_zero: f64,
    /// Upper zero, Hz.
    pub lead_zero: f64,
    /// Upper pole, Hz.
    pub lead_pole: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for LeadLagAsk {
    fn default() -> LeadLagAsk {
        LeadLagAsk {
            gain: 5.0,
            lag_pole: 5.0,
            lag_zero: 25.0,
            lead_zero: 200.0,
            lead_pole: 1500.0,
            frequency_limit: 0.1,
            q_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

/// An integrator, a zero and a pole.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TypeTwoAsk {
    /// Gain at `at`, a ratio without its sign.
    pub gain: f64,
    /// Where the gain is wanted, Hz.
    pub at: f64,
    /// Corner of the zero, Hz.
    pub zero: f64,
    /// Corner of the pole, Hz.
    pub pole: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for TypeTwoAsk {
    fn default() -> TypeTwoAsk {
        TypeTwoAsk {
            gain: 1.0,
            at: 420.0,
            zero: 100.0,
            pole: 1800.0,
            frequency_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

/// An integrator, two zeros and two poles.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TypeThreeAsk {
    /// Gain at `at`, a ratio without its sign.
    pub gain: f64,
    /// Where the gain is wanted, Hz.
    pub at: f64,
    /// Lower zero, Hz.
    pub zero_low: f64,
    /// Upper zero, Hz.
    pub zero_high: f64,
    /// Lower pole, Hz.
    pub pole_low: f64,
    /// Upper pole, Hz.
    pub pole_high: f64,
    /// Corners may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for TypeThreeAsk {
    fn default() -> TypeThreeAsk {
        TypeThreeAsk {
            gain: 1.0,
            at: 420.0,
            zero_low: 90.0,
            zero_high: 140.0,
            pole_low: 1500.0,
            pole_high: 4000.0,
            frequency_limit: 0.1,
            q_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

/// The entries that limit corners and gain.
fn limits() -> [Entry; 2] {
    [
        Entry::limit(
            "frequency_limit",
            "Corners ±",
            "A board with a larger deviation of a corner fails.",
        ),
        Entry::limit(
            "gain_limit",
            "Gain ±",
            "A board with a larger deviation of the gain fails.",
        ),
    ]
}

fn q_limit() -> Entry {
    Entry::limit(
        "q_limit",
        "Spacing of pairs ±",
        "A board with a larger deviation of √(low·high)/(low + high) of two corners fails.",
    )
}

/// Both of what is lowest and what is highest.
fn ends(corners: &[f64]) -> (f64, f64) {
    let low = corners.iter().copied().fold(f64::INFINITY, f64::min);
    (low, corners.iter().copied().fold(0.0, f64::max))
}

impl Asked for IntegratorAsk {
    fn frequency(&self) -> f64 {
        self.unity
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::frequency("unity", "Unity-gain frequency", "Where the gain is 1."),
            Entry::ask(
                "gain_db",
                "Gain at DC",
                Unit::Decibel,
                (6.0, 120.0),
                "Where integration ends at the low side: without it, an offset runs into the supply.",
            ),
        ];
        entries.extend(limits());
        entries
    }
}

impl Measured for IntegratorAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let dc = 10f64.powf(self.gain_db / 20.0);
        let pole = self.unity / (dc * dc - 1.0).sqrt();
        Box::new(
            Shape::new(
                self.unity,
                1.0,
                self.gain_limit,
                "Gain at the unity-gain frequency",
            )
            .corner(
                Side::Pole,
                "pole-frequency",
                "Pole",
                pole,
                self.frequency_limit,
            ),
        )
    }
}

impl Asked for DifferentiatorAsk {
    fn frequency(&self) -> f64 {
        self.unity
    }

    fn span(&self) -> (f64, f64) {
        ends(&[self.unity, self.roll_off])
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::frequency(
                "unity",
                "Unity-gain frequency",
                "Where the gain is 1, but for the roll-off.",
            ),
            Entry::frequency("roll_off", "Roll-off", "Where the gain stops rising."),
        ];
        entries.extend(limits());
        entries
    }
}

impl Measured for DifferentiatorAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let of = 1.0 / (1.0 + (self.unity / self.roll_off).powi(2)).sqrt();
        Box::new(
            Shape::new(
                self.unity,
                of,
                self.gain_limit,
                "Gain at the unity-gain frequency",
            )
            .at_origin(1)
            .corner(
                Side::Pole,
                "pole-frequency",
                "Roll-off",
                self.roll_off,
                self.frequency_limit,
            ),
        )
    }
}

impl Asked for PiAsk {
    fn frequency(&self) -> f64 {
        self.zero
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::gain(
                "gain",
                "Proportional gain",
                "Gain far above the zero, without its sign.",
            ),
            Entry::frequency(
                "zero",
                "Zero",
                "Where integral and proportional action are equal.",
            ),
        ];
        entries.extend(limits());
        entries
    }
}

impl Measured for PiAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        const ABOVE: f64 = 10.0;
        let of = self.gain * (1.0 + ABOVE.powi(-2)).sqrt();
        Box::new(
            Shape::new(
                ABOVE * self.zero,
                of,
                self.gain_limit,
                "Gain at 10 zero frequencies",
            )
            .at_origin(-1)
            .corner(
                Side::Zero,
                "zero-frequency",
                "Zero",
                self.zero,
                self.frequency_limit,
            ),
        )
    }
}

impl PdAsk {
    /// The zero that proportional and derivative action make together, Hz.
    pub fn zero(&self) -> f64 {
        1.0 / (std::f64::consts::TAU * self.td + 1.0 / self.roll_off)
    }
}

impl Asked for PdAsk {
    fn frequency(&self) -> f64 {
        (self.zero() * self.roll_off).sqrt()
    }

    fn span(&self) -> (f64, f64) {
        ends(&[self.zero(), self.roll_off])
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::gain("gain", "Proportional gain", "Gain at DC, without its sign."),
            Entry::ask(
                "td",
                "Derivative time",
                Unit::Second,
                (1e-8, 100.0),
                "Derivative action over proportional action.",
            ),
            Entry::frequency(
                "roll_off",
                "Roll-off",
                "Where derivative action stops rising.",
            ),
        ];
        entries.extend(limits());
        entries
    }
}

impl Measured for PdAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        Box::new(
            Shape::new(0.0, self.gain, self.gain_limit, "Gain at DC")
                .corner(
                    Side::Zero,
                    "zero-frequency",
                    "Zero",
                    self.zero(),
                    self.frequency_limit,
                )
                .corner(
                    Side::Pole,
                    "pole-frequency",
                    "Roll-off",
                    self.roll_off,
                    self.frequency_limit,
                ),
        )
    }
}

impl Asked for (Order, &PoleZeroAsk) {
    fn frequency(&self) -> f64 {
        (self.1.zero * self.1.pole).sqrt()
    }

    fn span(&self) -> (f64, f64) {
        ends(&[self.1.zero, self.1.pole])
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::gain("gain", "Gain at DC", "Without its sign."),
            Entry::frequency("zero", "Zero", "Corner of the zero."),
            Entry::frequency("pole", "Pole", "Corner of the pole."),
        ];
        entries.extend(limits());
        entries
    }

    fn conflicts(&self) -> Vec<(&'static str, String)> {
        let ratio = self.1.pole / self.1.zero;
        match self.0 {
            Order::Lead if ratio < 1.05 => vec![(
                "pole",
                "Pole of a lead must lie above its zero, by 5 % or more.".to_owned(),
            )],
            Order::Lag if ratio > 0.95 => vec![(
                "pole",
                "Pole of a lag must lie below its zero, by 5 % or more.".to_owned(),
            )],
            _ => Vec::new(),
        }
    }
}

impl Measured for (Order, &PoleZeroAsk) {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let ask = self.1;
        Box::new(
            Shape::new(0.0, ask.gain, ask.gain_limit, "Gain at DC")
                .corner(
                    Side::Zero,
                    "zero-frequency",
                    "Zero",
                    ask.zero,
                    ask.frequency_limit,
                )
                .corner(
                    Side::Pole,
                    "pole-frequency",
                    "Pole",
                    ask.pole,
                    ask.frequency_limit,
                ),
        )
    }
}

/// Which of zero and pole comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    Lead,
    Lag,
}

impl Asked for LeadLagAsk {
    fn frequency(&self) -> f64 {
        (self.lag_pole * self.lead_pole).sqrt()
    }

    fn span(&self) -> (f64, f64) {
        ends(&[self.lag_pole, self.lead_pole])
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::gain("gain", "Gain at DC", "Without its sign."),
            Entry::frequency("lag_pole", "Lag pole", "Where the gain begins to fall."),
            Entry::frequency("lag_zero", "Lag zero", "Where it is level again."),
            Entry::frequency("lead_zero", "Lead zero", "Where it begins to rise."),
            Entry::frequency("lead_pole", "Lead pole", "Where it is level again."),
        ];
        entries.extend(limits());
        entries.push(q_limit());
        entries
    }

    fn conflicts(&self) -> Vec<(&'static str, String)> {
        let rising = [self.lag_pole, self.lag_zero, self.lead_zero, self.lead_pole];
        let names = ["lag_pole", "lag_zero", "lead_zero", "lead_pole"];
        let labels = ["Lag pole", "Lag zero", "Lead zero", "Lead pole"];
        let wrong = |k: &usize| rising[*k] > 0.95 * rising[*k + 1];
        let told = (0..3).filter(wrong).map(|k| {
            let sentence = format!(
                "{} must lie above {}, by 5 % or more.",
                labels[k + 1],
                labels[k].to_ascii_lowercase()
            );
            (names[k + 1], sentence)
        });
        told.collect()
    }
}

impl Measured for LeadLagAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let limits = (self.frequency_limit, self.q_limit);
        Box::new(
            Shape::new(0.0, self.gain, self.gain_limit, "Gain at DC")
                .corners(
                    Side::Pole,
                    ("pole-frequency", "pole-q"),
                    "Pole pair",
                    (self.lag_pole, self.lead_pole),
                    limits,
                    (("lag-pole", "Lag pole"), ("lead-pole", "Lead pole")),
                )
                .corners(
                    Side::Zero,
                    ("zero-frequency", "zero-q"),
                    "Zero pair",
                    (self.lag_zero, self.lead_zero),
                    limits,
                    (("lag-zero", "Lag zero"), ("lead-zero", "Lead zero")),
                ),
        )
    }
}

impl Asked for TypeTwoAsk {
    fn frequency(&self) -> f64 {
        self.at
    }

    fn span(&self) -> (f64, f64) {
        ends(&[self.at, self.zero, self.pole])
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::gain("gain", "Gain", "At the frequency below, without its sign."),
            Entry::frequency(
                "at",
                "Gain specified at",
                "The loop's crossover, for example.",
            ),
            Entry::frequency("zero", "Zero", "Below the crossover."),
            Entry::frequency("pole", "Pole", "Above the crossover."),
        ];
        entries.extend(limits());
        entries
    }

    fn conflicts(&self) -> Vec<(&'static str, String)> {
        if self.pole < 1.05 * self.zero {
            return vec![(
                "pole",
                "Pole must lie above the zero, by 5 % or more.".to_owned(),
            )];
        }
        Vec::new()
    }
}

impl Measured for TypeTwoAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let label = "Gain at the required frequency";
        Box::new(
            Shape::new(self.at, self.gain, self.gain_limit, label)
                .at_origin(-1)
                .corner(
                    Side::Zero,
                    "zero-frequency",
                    "Zero",
                    self.zero,
                    self.frequency_limit,
                )
                .corner(
                    Side::Pole,
                    "pole-frequency",
                    "Pole",
                    self.pole,
                    self.frequency_limit,
                ),
        )
    }
}

impl Asked for TypeThreeAsk {
    fn frequency(&self) -> f64 {
        self.at
    }

    fn span(&self) -> (f64, f64) {
        ends(&[
            self.at,
            self.zero_low,
            self.zero_high,
            self.pole_low,
            self.pole_high,
        ])
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            Entry::gain("gain", "Gain", "At the frequency below, without its sign."),
            Entry::frequency(
                "at",
                "Gain specified at",
                "The loop's crossover, for example.",
            ),
            Entry::frequency("zero_low", "Lower zero", "Below the crossover."),
            Entry::frequency("zero_high", "Upper zero", "Below the crossover."),
            Entry::frequency("pole_low", "Lower pole", "Above the crossover."),
            Entry::frequency("pole_high", "Upper pole", "Above the crossover."),
        ];
        entries.extend(limits());
        entries.push(q_limit());
        entries
    }

    fn conflicts(&self) -> Vec<(&'static str, String)> {
        let mut conflicts = Vec::new();
        if self.zero_high < self.zero_low {
            conflicts.push((
                "zero_high",
                "Upper zero must not lie below the lower zero.".to_owned(),
            ));
        }
        if self.pole_high < self.pole_low {
            conflicts.push((
                "pole_high",
                "Upper pole must not lie below the lower pole.".to_owned(),
            ));
        }
        if self.pole_low < 1.05 * self.zero_high {
            conflicts.push((
                "pole_low",
                "Lower pole must lie above the upper zero, by 5 % or more.".to_owned(),
            ));
        }
        conflicts
    }
}

impl Measured for TypeThreeAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let limits = (self.frequency_limit, self.q_limit);
        let label = "Gain at the required frequency";
        Box::new(
            Shape::new(self.at, self.gain, self.gain_limit, label)
                .at_origin(-1)
                .corners(
                    Side::Zero,
                    ("zero-frequency", "zero-q"),
                    "Zero pair",
                    (self.zero_low, self.zero_high),
                    limits,
                    (("zero-low", "Lower zero"), ("zero-high", "Upper zero")),
                )
                .corners(
                    Side::Pole,
                    ("pole-frequency", "pole-q"),
                    "Pole pair",
                    (self.pole_low, self.pole_high),
                    limits,
                    (("pole-low", "Lower pole"), ("pole-high", "Upper pole")),
                ),
        )
    }
}
