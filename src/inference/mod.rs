//! The engine: probabilities over a causal network of binary conditions. Numbers and indices only.

mod answer;
mod elimination;
#[cfg(test)]
mod enumeration;
mod evidence;
mod exact;
mod factor;
mod firmness;
mod measurement;
mod network;
mod origins;
mod twin;
mod worlds;

pub use answer::{
    Answer, AtOdds, Budget, Leading, Method, NodeAnswer, Query, QueryError, Removal, answer,
};
pub use evidence::{Evidence, EvidenceError, Report};
pub use exact::{Exact, Refusal};
pub use firmness::{JUDGEMENT, Shakes, firmness, origins_firmness};
pub use measurement::{
    MOST_RATIO, Measurement, MeasurementError, Side, chance_outside, likelihood_ratio,
};
pub use network::{Base, Link, Network, NetworkBuilder, NetworkError, Node, Overclaim, noisy_or};
pub use origins::{
    FindingAnswer, Given, Origin, OriginAnswer, Origins, OriginsAnswer, OriginsError,
};
pub use worlds::{Draws, Estimate, Look, Worlds};
