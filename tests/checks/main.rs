//! The program against somebody else's method: each check names its source.

mod circuit;
mod control;
mod drawing;
mod notch;
mod parts;
mod pick;
mod prototypes;
mod reference;
mod response;
mod spine;
mod spread;
