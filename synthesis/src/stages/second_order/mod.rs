//! Second-order low-pass, high-pass and band-pass, one op amp each.

mod mfb_band_pass;
mod mfb_high_pass;
mod mfb_low_pass;
mod sallen_key_band_pass;
mod sallen_key_high_pass;
mod sallen_key_high_pass_gain;
mod sallen_key_low_pass;
mod sallen_key_low_pass_gain;

pub use mfb_band_pass::MfbBandPass;
pub use mfb_high_pass::MfbHighPass;
pub use mfb_low_pass::MfbLowPass;
pub use sallen_key_band_pass::SallenKeyBandPass;
pub use sallen_key_high_pass::SallenKeyHighPass;
pub use sallen_key_high_pass_gain::SallenKeyHighPassGain;
pub use sallen_key_low_pass::SallenKeyLowPass;
pub use sallen_key_low_pass_gain::SallenKeyLowPassGain;
