//! Filter approximations: from a wanted band to poles, zeros and second-order sections.
//!
//! The way leads from a [`Requirement`] by [`order`] to an [`Approximation`], its least order and the
//! band to design for; by [`prototype`] to a low-pass at 1 rad/s; by [`transformed`] to the band; by
//! [`sections`] to what a chain of op-amp stages has to make, ordered and with the gains shared.
//!
//! ```
//! use synthesis::approx::{Approximation, Band, PoleShape, prototype, sections, transformed};
//! let low_pass = Band::LowPass { edge: 1e3 };
//! let roots = transformed(&prototype(Approximation::Butterworth, 4).unwrap(), low_pass).unwrap();
//! let chain = sections(&roots, low_pass, 1.0).unwrap();
//! let PoleShape::Pair { q, .. } = chain[1].pole else { panic!() };
//! assert!((q - 1.3066).abs() < 1e-4);
//! ```

mod band;
mod error;
mod headroom;
mod jacobi;
mod order;
mod pairing;
mod prototype;
mod roots;
mod section;

pub use band::{Band, transformed};
pub use error::ApproxError;
pub use headroom::output_peaks;
pub use order::{Designed, Requirement, order};
pub use pairing::sections;
pub use prototype::{Approximation, Family, MAX_ORDER, prototype};
pub use roots::Roots;
pub use section::{PoleShape, Section, ZeroShape};
