//! From what a coach saw, to why, to what to do.

pub mod causal;
pub mod inference;
pub mod knowledge;
pub mod search;
