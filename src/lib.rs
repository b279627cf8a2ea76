//! From what a coach saw, to why, to what to do.
#![allow(missing_docs)]
pub mod inference;
