//! From what a coach saw, to why, to what to do.
pub mod authoring;
pub mod causal;
pub mod cli;
pub mod diagnosis;
pub mod inference;
pub mod knowledge;
pub mod plan;
pub mod report;
pub mod search;
