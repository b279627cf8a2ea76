//! The graph of what brings about what: reach, chains, remedies.
//!
//! [`CausalGraph`] is a view of a checked library, so it has no cycle and no dangling end. It knows
//! strengths but computes no chances: that is the business of [`crate::inference`].

mod chain;
mod graph;

pub use chain::{Chain, Step};
pub use graph::CausalGraph;
