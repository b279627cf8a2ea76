//! Reading a coach's words, and finding drills by them.
//!
//! [`Reader`] turns what a coach types into an entry of the library, or says that the words are
//! unknown or mean several things; it never guesses in silence. [`DrillIndex`] finds drills by what
//! their text says and by what the words mean, and shows both. This room reads the library and
//! computes no chances.

mod drills;
mod exact;
mod excerpt;
mod filter;
mod flight;
mod index;
mod kept;
mod lexicon;
mod plain;
mod reader;
mod term;
mod trade;

pub use drills::{
    DrillIndex, DrillQuery, DrillQueryError, Found, Guess, Hit, LARGE_LIBRARY, MOST_QUERY_WORDS,
    MakesLikely, Question, WorksOn, behind_shares,
};
pub use excerpt::Excerpt;
pub use filter::{DrillFilters, Facets};
pub use flight::Handed;
pub use index::IndexError;
pub use kept::Kept;
pub use plain::PlainIndex;
pub use reader::{Candidate, Circumstances, ReadAs, ReadBy, Reader, Reading};
