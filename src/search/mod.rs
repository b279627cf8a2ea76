//! Finding drills by what a coach says.
//!
//! [`DrillIndex`] finds drills by what their text says and by what the words mean (as
//! [`crate::words`] reads them), and shows both. This room computes no chances.

mod drills;
mod excerpt;
mod filter;
mod index;
mod kept;
mod plain;

pub use drills::{
    DrillIndex, DrillQuery, DrillQueryError, Found, Guess, Hit, LARGE_LIBRARY, MOST_QUERY_WORDS,
    MakesLikely, Question, WorksOn, behind_shares,
};
pub use excerpt::Excerpt;
pub use filter::{DrillFilters, Facets};
pub use index::IndexError;
pub use kept::Kept;
pub use plain::PlainIndex;
