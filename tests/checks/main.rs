//! The program against somebody else's method: each check names its source.

mod circuit;
mod drawing;
mod notch;
mod notches;
mod parts;
mod pick;
mod prototypes;
mod reference;
mod response;
mod spine;
mod spread;
