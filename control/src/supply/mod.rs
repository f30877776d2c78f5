//! Where a switching supply's lines fall on a plant's resonances, and which switching frequencies keep them off.
//!
//! A loop that is quiet on a linear supply may ring on a switching one: the supply's lines lie at the whole
//! multiples and fractions of its frequency, at the rates of its bursts and of its spread spectrum, and
//! wherever two converters beat. Each line is an interval here, as converters stray from their marked
//! frequencies; so is the band of each resonance. What meets is found by interval arithmetic, without
//! sampling. It says where to look, not how much is there: a supply's spectrum is measured.
//!
//! Left out: combinations of three converters, beats of bursts and of fractions, sidebands of a burst round
//! the harmonics, and the sums m·f1 + n·f2, which lie above both harmonics.

mod band;
mod check;
mod edit;
mod free;
mod hit;
mod interval;
mod line;
mod passage;
mod told;

use serde::{Deserialize, Serialize};

pub use band::{ModeBand, bands};
pub use check::check;
pub use free::free_bands;
pub use hit::{Hit, hits};
pub use line::{Line, Source, lines};
pub use passage::{Passage, Passages};
pub use told::told;

/// The converters on a board, and how far their lines are followed.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Supply {
    /// 1 to [`Supply::MOST`].
    pub converters: Vec<Converter>,
    /// Highest order of harmonics: of the switching frequency, of bursts and of the modulation; 1 or more.
    pub harmonics: u32,
    /// Largest divisor of a subharmonic: 2 for f/2 alone, 1 for none. Period doubling of current-mode control
    /// above half the duty gives f/2, and on its way into chaos f/4; f/3 lies in the chaos (Deane and Hamill,
    /// "Instability, subharmonics and chaos in power electronic systems", IEEE Trans. Power Electronics 5,
    /// 1990; from memory).
    pub divisors: u32,
    /// Highest m and n of beats |m·f1 − n·f2|; 0 for none.
    pub beats: u32,
    /// Switching frequencies among which free bands are looked for, lowest and highest, Hz.
    pub range: (f64, f64),
}

/// A switching converter.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Converter {
    /// What the user calls it; "" for its number.
    pub name: String,
    /// Switching frequency as marked, Hz.
    pub frequency: f64,
    /// Largest relative deviation from it, over boards, temperature and load; 0 to below 1.
    pub tolerance: f64,
    /// How often its bursts come at light load.
    pub burst: Option<Burst>,
    /// How its frequency is swept, where it is.
    pub spread: Option<SpreadSpectrum>,
}

/// Repetition rate of bursts (pulse skipping), as the load moves it; no tolerance is added.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Burst {
    /// Lowest, Hz.
    pub from: f64,
    /// Highest, Hz.
    pub to: f64,
}

/// The switching frequency is moved to and fro.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpreadSpectrum {
    /// By so much to either side, a fraction of the switching frequency.
    pub depth: f64,
    /// So often a second, Hz; it strays as the switching frequency does.
    pub rate: f64,
}

impl Supply {
    /// More converters than this are another board.
    pub const MOST: usize = 4;

    /// What a converter is called in sentences.
    pub fn name(&self, converter: usize) -> String {
        match self.converters.get(converter) {
            Some(known) if !known.name.trim().is_empty() => known.name.trim().to_owned(),
            _ => format!("Converter {}", converter + 1),
        }
    }

    /// What makes a line: a converter, or the two that beat.
    pub fn names(&self, source: Source) -> String {
        match source.converters() {
            (one, None) => self.name(one),
            (one, Some(other)) => format!("{} and {}", self.name(one), self.name(other)),
        }
    }
}

impl Converter {
    /// From where to where its switching frequency lies over its marked one: boards, and the spread
    /// spectrum of each.
    fn clock(&self) -> (f64, f64) {
        let depth = self.spread.map_or(0.0, |spread| spread.depth);
        (
            (1.0 - self.tolerance) * (1.0 - depth),
            (1.0 + self.tolerance) * (1.0 + depth),
        )
    }

    /// How far a moved line's sidebands reach beyond its deviation, Hz: once the modulation's rate (Carson,
    /// "Notes on the theory of modulation", Proc. IRE 10, 1922; from memory).
    fn side(&self) -> f64 {
        self.spread
            .map_or(0.0, |spread| spread.rate * (1.0 + self.tolerance))
    }
}

impl Default for Supply {
    fn default() -> Supply {
        Supply {
            converters: vec![Converter::default()],
            harmonics: 5,
            divisors: 4,
            beats: 3,
            range: (50e3, 2.2e6),
        }
    }
}

impl Default for Converter {
    fn default() -> Converter {
        Converter {
            name: String::new(),
            frequency: 500e3,
            tolerance: 0.1,
            burst: None,
            spread: None,
        }
    }
}

impl Default for Burst {
    fn default() -> Burst {
        Burst {
            from: 200.0,
            to: 20e3,
        }
    }
}

impl Default for SpreadSpectrum {
    fn default() -> SpreadSpectrum {
        SpreadSpectrum {
            depth: 0.06,
            rate: 9e3,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_supply_is_plain_data() {
        let text = serde_json::to_string(&Supply::default()).expect("JSON");
        assert_eq!(
            serde_json::from_str::<Supply>(&text).expect("a supply"),
            Supply::default()
        );
        let more = text.replacen("\"name\"", "\"colour\":1,\"name\"", 1);
        assert!(serde_json::from_str::<Supply>(&more).is_err());
    }
}
