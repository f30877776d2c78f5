//! What a stage can be asked for: families of asks, each of which several circuits may answer.

mod all_pass;
mod control;
mod entry;
mod first_order;
mod gain;
mod notch;
pub(super) mod passband;
mod pid;
mod second_order;
mod shape;
mod third_order;
mod uneven_notch;

pub use all_pass::{AllPass1Ask, AllPass2Ask};
pub use control::{
    DifferentiatorAsk, IntegratorAsk, LeadLagAsk, Order, PdAsk, PiAsk, PoleZeroAsk, TypeThreeAsk,
    TypeTwoAsk,
};
pub use entry::{Choice, Entry, Place, Step};
pub use first_order::CornerAsk;
pub use gain::{DifferenceAsk, FollowerAsk, GainAsk, SumAsk};
pub use notch::{Depth, NotchAsk};
pub use pid::{PidAsk, PidValues};
pub use second_order::PairAsk;
pub use shape::{Shape, Side};
pub use third_order::TripleAsk;
pub use uneven_notch::UnevenNotchAsk;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};

use crate::tagged;

use super::yardstick::Yardstick;

/// What every family of asks can tell.
pub trait Asked {
    /// The frequency (Hz) round which everything about this ask happens.
    fn frequency(&self) -> f64;
    /// The lowest and the highest frequency (Hz) at which something is asked.
    fn span(&self) -> (f64, f64) {
        (self.frequency(), self.frequency())
    }
    /// What a user can set.
    fn entries(&self) -> Vec<Entry>;
    /// Choices among several that a user can make.
    fn choices(&self) -> Vec<Choice> {
        Vec::new()
    }
    /// Entries that do not fit each other: (name, sentence).
    fn conflicts(&self) -> Vec<(&'static str, String)> {
        Vec::new()
    }
}

/// What responses are held against. Apart from [`Asked`], so that the page, which shows what is asked, does not hold
/// what reads responses.
trait Measured {
    type Yardstick: Yardstick + 'static;

    fn yardstick(&self) -> Box<Self::Yardstick>;
}

impl<T: Measured> Measured for &T {
    type Yardstick = T::Yardstick;

    fn yardstick(&self) -> Box<T::Yardstick> {
        (**self).yardstick()
    }
}

impl<T: Asked + ?Sized> Asked for &T {
    fn frequency(&self) -> f64 {
        (**self).frequency()
    }
    fn span(&self) -> (f64, f64) {
        (**self).span()
    }
    fn entries(&self) -> Vec<Entry> {
        (**self).entries()
    }
    fn choices(&self) -> Vec<Choice> {
        (**self).choices()
    }
    fn conflicts(&self) -> Vec<(&'static str, String)> {
        (**self).conflicts()
    }
}

/// What is wanted, with how far it may stray. One variant a family.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "family", rename_all = "kebab-case")]
pub enum Ask {
    Notch(NotchAsk),
    /// A notch whose gains below and above differ: low-pass notch or high-pass notch.
    UnevenNotch(UnevenNotchAsk),
    LowPass1(CornerAsk),
    HighPass1(CornerAsk),
    LowPass2(PairAsk),
    HighPass2(PairAsk),
    BandPass(PairAsk),
    LowPass3(TripleAsk),
    HighPass3(TripleAsk),
    AllPass1(AllPass1Ask),
    AllPass2(AllPass2Ask),
    Integrator(IntegratorAsk),
    Differentiator(DifferentiatorAsk),
    Pi(PiAsk),
    Pd(PdAsk),
    Pid(PidAsk),
    Lead(PoleZeroAsk),
    Lag(PoleZeroAsk),
    LeadLag(LeadLagAsk),
    TypeTwo(TypeTwoAsk),
    TypeThree(TypeThreeAsk),
    Gain(GainAsk),
    Sum(SumAsk),
    Difference(DifferenceAsk),
    Follower(FollowerAsk),
}

/// How it is read: see [`tagged::outside`].
#[derive(Deserialize)]
#[serde(remote = "Ask", rename_all = "kebab-case")]
enum Outside {
    Notch(NotchAsk),
    UnevenNotch(UnevenNotchAsk),
    LowPass1(CornerAsk),
    HighPass1(CornerAsk),
    LowPass2(PairAsk),
    HighPass2(PairAsk),
    BandPass(PairAsk),
    LowPass3(TripleAsk),
    HighPass3(TripleAsk),
    AllPass1(AllPass1Ask),
    AllPass2(AllPass2Ask),
    Integrator(IntegratorAsk),
    Differentiator(DifferentiatorAsk),
    Pi(PiAsk),
    Pd(PdAsk),
    Pid(PidAsk),
    Lead(PoleZeroAsk),
    Lag(#[serde(deserialize_with = "control::LagAsk::deserialize")] PoleZeroAsk),
    LeadLag(LeadLagAsk),
    TypeTwo(TypeTwoAsk),
    TypeThree(TypeThreeAsk),
    Gain(GainAsk),
    Sum(SumAsk),
    Difference(DifferenceAsk),
    Follower(FollowerAsk),
}

impl<'de> Deserialize<'de> for Ask {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Ask, D::Error> {
        let tree = tagged::outside(deserializer, "family")?;
        Outside::deserialize(&tree).map_err(D::Error::custom)
    }
}

/// Which side of a response is let through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pass {
    Low,
    High,
    Band,
}

/// Makes the same of every family's own data.
macro_rules! each {
    ($ask:expr, $own:ident => $made:expr) => {
        match $ask {
            Ask::Notch($own) => $made,
            Ask::UnevenNotch($own) => $made,
            Ask::LowPass1(ask) => {
                let $own = (Pass::Low, ask);
                $made
            }
            Ask::HighPass1(ask) => {
                let $own = (Pass::High, ask);
                $made
            }
            Ask::LowPass2(ask) => {
                let $own = (Pass::Low, ask);
                $made
            }
            Ask::HighPass2(ask) => {
                let $own = (Pass::High, ask);
                $made
            }
            Ask::BandPass(ask) => {
                let $own = (Pass::Band, ask);
                $made
            }
            Ask::LowPass3(ask) => {
                let $own = (Pass::Low, ask);
                $made
            }
            Ask::HighPass3(ask) => {
                let $own = (Pass::High, ask);
                $made
            }
            Ask::AllPass1($own) => $made,
            Ask::AllPass2($own) => $made,
            Ask::Integrator($own) => $made,
            Ask::Differentiator($own) => $made,
            Ask::Pi($own) => $made,
            Ask::Pd($own) => $made,
            Ask::Pid($own) => $made,
            Ask::Lead(ask) => {
                let $own = (Order::Lead, ask);
                $made
            }
            Ask::Lag(ask) => {
                let $own = (Order::Lag, ask);
                $made
            }
            Ask::LeadLag($own) => $made,
            Ask::TypeTwo($own) => $made,
            Ask::TypeThree($own) => $made,
            Ask::Gain($own) => $made,
            Ask::Sum($own) => $made,
            Ask::Difference($own) => $made,
            Ask::Follower($own) => $made,
        }
    };
}

impl Ask {
    /// The family's own data.
    pub fn asked(&self) -> Box<dyn Asked + '_> {
        each!(self, own => Box::new(own))
    }

    /// What responses are held against.
    pub fn yardstick(&self) -> Box<dyn Yardstick> {
        each!(self, own => own.yardstick())
    }

    /// What the trade calls this family.
    pub fn family(&self) -> &'static str {
        match self {
            Ask::Notch(_) => "Notches",
            Ask::UnevenNotch(_) => "Low-pass and high-pass notches",
            Ask::LowPass1(_) => "Low-pass, first order",
            Ask::HighPass1(_) => "High-pass, first order",
            Ask::LowPass2(_) => "Low-pass, second order",
            Ask::HighPass2(_) => "High-pass, second order",
            Ask::BandPass(_) => "Band-pass",
            Ask::LowPass3(_) => "Low-pass, third order",
            Ask::HighPass3(_) => "High-pass, third order",
            Ask::AllPass1(_) => "All-pass, first order",
            Ask::AllPass2(_) => "All-pass, second order",
            Ask::Integrator(_) => "Integrators",
            Ask::Differentiator(_) => "Differentiators",
            Ask::Pi(_) => "PI",
            Ask::Pd(_) => "PD",
            Ask::Pid(_) => "PID",
            Ask::Lead(_) => "Lead",
            Ask::Lag(_) => "Lag",
            Ask::LeadLag(_) => "Lead–lag",
            Ask::TypeTwo(_) => "Two-pole compensators (type II)",
            Ask::TypeThree(_) => "Three-pole compensators (type III)",
            Ask::Gain(_) => "Proportional",
            Ask::Sum(_) => "Summing",
            Ask::Difference(_) => "Difference",
            Ask::Follower(_) => "Follower",
        }
    }

    /// See [`Asked::frequency`].
    pub fn frequency(&self) -> f64 {
        self.asked().frequency()
    }

    /// This ask with another choice taken, all else meaning the same.
    ///
    /// # Errors
    /// A sentence, when the same cannot be said that way.
    pub fn choose(&self, name: &str, value: &str) -> Result<Ask, String> {
        match (self, name) {
            (Ask::Pid(pid), PidAsk::NOTATION) => Ok(Ask::Pid(pid.in_notation(value)?)),
            _ => Err(format!("There is no choice “{name}” here.")),
        }
    }

    /// Whether both ask for the same kind of thing.
    pub fn is_like(&self, other: &Ask) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other)
    }
}
