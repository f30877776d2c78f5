//! polewright

pub mod circuit;
pub mod parts;
pub mod quantity;
pub mod response;
pub mod pick;
pub mod stages;
