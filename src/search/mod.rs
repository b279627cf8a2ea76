//! Reading a coach's words, and finding drills by them.
//!
//! [`Reader`] turns what a coach types into an entry of the library, or says that the words are
//! unknown or mean several things; it never guesses in silence. This room reads the library and
//! computes no chances.

mod flight;
mod index;
mod lexicon;
mod reader;
mod term;
mod trade;

pub use flight::Handed;
pub use index::IndexError;
pub use reader::{Candidate, Circumstances, ReadBy, Reader, Reading};
