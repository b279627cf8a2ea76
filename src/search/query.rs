//! A query and its answer.

use super::excerpt::Excerpt;
use super::filter::{DrillFilters, Facets};
use super::index::IndexError;
use crate::knowledge::{ConditionKey, DrillKey};
use crate::lesson::{Lesson, LessonTrouble};
use crate::words::{Complaints, ReadAs};

/// What somebody looks for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DrillQuery {
    /// What was seen, or words of the drill itself.
    pub words: String,
    /// The lesson that it is for: it settles words that mean different things, and a drill has to fit
    /// its shot, place, student and what is at hand.
    pub lesson: Lesson,
    /// What else the drill must be.
    pub filters: DrillFilters,
    /// At most this many drills are listed.
    pub limit: usize,
}

/// Why a query could not be answered.
#[derive(Debug)]
pub enum DrillQueryError {
    /// There is no word in it.
    NoWords(String),
    /// There are more words in it than a symptom has.
    TooManyWords {
        /// How many there are.
        words: usize,
        /// How many are read.
        most: usize,
    },
    /// It is written in letters that the library does not use.
    OtherScript(String),
    /// The lesson makes no sense.
    Lesson(LessonTrouble),
    /// Minutes that are no time.
    NoTime(f64),
    /// The index failed.
    Index(IndexError),
}

impl From<IndexError> for DrillQueryError {
    fn from(error: IndexError) -> Self {
        Self::Index(error)
    }
}

/// What weighted readings make likely: conditions with a number from 0 to 1.
pub type MakesLikely<'a> = dyn Fn(&[(ConditionKey, f64)]) -> Vec<(ConditionKey, f64)> + 'a;

/// A drill that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// The drill.
    pub drill: DrillKey,
    /// From 0 to 1.
    pub score: f64,
    /// The share of the score that the meaning gave.
    pub by_meaning: f64,
    /// The share of the score that the text gave.
    pub by_text: f64,
    /// What it was lowered by because the drill can make worse what was typed; 1 for not at all.
    pub held_down: f64,
    /// What it works on that the words mean or make likely, most telling first.
    pub works_on: Vec<WorksOn>,
    /// Where the typed words stand in the drill, the most telling place; `None` when none
    /// does, and from the 51st drill on.
    pub excerpt: Option<Excerpt>,
    /// Typed conditions that the drill can make worse.
    pub aggravates: Vec<ConditionKey>,
    /// Whether the drill is still being tried out.
    pub trial: bool,
}

/// A condition that a drill works on, and why it counts here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorksOn {
    /// The condition.
    pub condition: ConditionKey,
    /// Whether the words were read as this condition, rather than making it likely.
    pub as_typed: bool,
    /// How likely the words make it, from 0 to 1.
    pub likely: f64,
    /// How well the drill works on it, from 0 to 1.
    pub effect: f64,
}

/// A typed word that nothing in the library says, and what it was taken for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guess {
    /// The word as typed.
    pub typed: String,
    /// Words that the library knows, nearest first; perhaps none.
    pub nearest: Vec<String>,
    /// Whether they were searched for in its place.
    pub taken: bool,
}

/// The answer to a query.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// What the words were read as, weightiest first.
    pub read_as: Vec<ReadAs>,
    /// The drills, best first, ties by id.
    pub drills: Vec<Hit>,
    /// How many fit, listed or not: all that say the only word, or whose score is at least a
    /// quarter of the best (half, where nothing was surely read); of a library of thousands, among the best 2,000, or among the
    /// best 10,000 when there are filters.
    pub total: usize,
    /// How many of them fit by what they do; the others only say the one word that was typed.
    pub fit: usize,
    /// How many would fit without the filters.
    pub without_filters: usize,
    /// How the drills that fit fall under each filter.
    pub facets: Facets,
    /// Words that nothing in the library says.
    pub guesses: Vec<Guess>,
    /// What the words say of the body: then there is no drill against it, only a referral, or only
    /// what is gentle.
    pub complaints: Complaints,
    /// Words of the query that were taken as filters, by what they ask for: `home`, `junior`.
    pub filters: Vec<String>,
    /// Whether there were no other words: then a drill's score is how common what it treats is, times
    /// its effect on it.
    pub by_filters_alone: bool,
}

/// More words than this are not a symptom.
pub const MOST_QUERY_WORDS: usize = 100;
