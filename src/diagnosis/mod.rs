//! From observations to ranked root causes, with reasons, next looks and doubts.

mod answer;
mod observation;

pub use answer::{AtOdds, Diagnosis, Explanation, NextLook, RankedBy, RankedCause};
pub use observation::{Observation, ReadBy, State};
