//! A coach's words: what they mean, and what was not understood.
//!
//! [`Reader`] turns what a coach types into an entry of the library, or says that the words are
//! unknown or mean several things; it never guesses in silence. All words of golf and all words of
//! denial and doubt stand in the library (`knowledge/words/`), none here.

mod about;
mod alike;
mod body;
mod caution;
mod clause;
mod denials;
mod exact;
mod flight;
mod free_words;
mod kernel;
pub(crate) mod lexicon;
mod listen;
mod neighbours;
mod note;
mod number;
mod phrases;
mod pieces;
mod plainly;
pub(crate) mod reader;
mod readers;
pub(crate) mod ready;
mod spans;
mod statement;
mod tables;
pub(crate) mod term;
mod tokens;
pub(crate) mod trade;
mod ways;
mod whole;

pub use body::{BodyReader, Complaint, Complaints, Limit};
pub use caution::{any_pain, cautions, on_record, to_student};
pub use listen::listen_closer;
pub use note::{Finding, Note, Override, Said, ToldFact};
pub use number::{Count, NumberSaid};
pub use reader::{Candidate, ReadAs, ReadBy, Reader, Reading};
pub use readers::Readers;
