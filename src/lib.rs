//! From what a coach saw, to why, to what to do.

pub mod inference;
pub mod knowledge;
