//! The graph of what brings about what: rows by walking up the links, chains, reach.
//!
//! [`CausalGraph`] is a view of a checked library, so it has no cycle and no dangling end; [`Rows`]
//! says what stands behind each condition. What follows from several findings together is the
//! business of [`crate::inference`].

mod graph;
mod rows;

pub use graph::CausalGraph;
pub use rows::{HandedOn, HeaviestWays, Row, Rows, commonness};
