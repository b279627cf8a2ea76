//! Numbers and geometry: ball and club at impact, body points in a frame, before and after.
//!
//! Angles are in degrees, out and up are plus, and every number carries how far it may be off. No
//! finding and no threshold of the trade stands here: what a number amounts to, the library says.

pub mod arc;
mod flight;
pub mod impact;
mod number;
mod range;

pub use flight::{Club, Contradiction, Curve, Flight, FlightError, Given, Note, Spot, flight};
pub use number::{Number, possible, read_number};
pub use range::Range;
