//! Finding drills by what a coach says.
//!
//! [`DrillIndex`] finds drills by what their text says and by what the words mean (as
//! [`crate::words`] reads them), and shows both. This room computes no chances.

mod drill_index;
mod drills;
mod excerpt;
mod filter;
mod index;
mod kept;
mod meant;
mod narrowing;
mod plain;
mod query;
mod ranking;
mod scored;
mod texts;
mod typed;

pub use drill_index::{DrillIndex, LARGE_LIBRARY};
pub use drills::Question;
pub use excerpt::Excerpt;
pub use filter::{DrillFilters, Facets};
pub use index::IndexError;
pub use kept::Kept;
pub use meant::behind_shares;
pub use plain::PlainIndex;
pub use query::{
    DrillQuery, DrillQueryError, Found, Guess, Hit, MOST_QUERY_WORDS, MakesLikely, WorksOn,
};
