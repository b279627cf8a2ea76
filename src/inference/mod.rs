//! The engine: two layers of binary conditions, answered exactly; measurements as likelihood ratios; noise on
//! chances. Numbers and indices only.

mod clears;
mod elimination;
#[cfg(test)]
mod enumeration;
mod evidence;
mod explained_table;
mod given;
mod measurement;
mod noise;
mod origins;

pub use evidence::{Evidence, EvidenceError, Node, Report};
pub use given::Given;
pub use measurement::{
    MOST_RATIO, Measurement, MeasurementError, Side, chance_outside, likelihood_ratio,
    ratio_of_count,
};
pub use noise::{noisy_or, shake};
pub use origins::{FindingAnswer, Origin, OriginAnswer, Origins, OriginsAnswer, OriginsError};
