//! Why something typed could not be taken.

use crate::knowledge::ConditionKey;

/// More findings than this are not one student.
pub const MOST_REPORTED: usize = 100;
/// More words than this are not one note.
pub const MOST_NOTE_WORDS: usize = 400;
/// No likelihood ratio is more than this, or less than one over it: nobody is surer of a look.
pub const MOST_TYPED_RATIO: f64 = 1e6;

/// Why something typed could not be taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// There is no word in it.
    NoWords {
        /// What was typed.
        words: String,
    },
    /// There are more than [`MOST_NOTE_WORDS`] words in it.
    TooLong {
        /// The words.
        words: String,
        /// How many.
        count: usize,
    },
    /// More than [`MOST_REPORTED`] findings were reported.
    TooMany {
        /// How many.
        reported: usize,
    },
    /// No entry is meant, as far as the library knows.
    Unknown {
        /// The words.
        words: String,
        /// Entries that come nearest, best first; a guess.
        nearest: Vec<ConditionKey>,
    },
    /// Several entries may be meant, or one that not all of the words speak for.
    Several {
        /// The words.
        words: String,
        /// The entries, best first; at least one.
        candidates: Vec<ConditionKey>,
    },
    /// One condition is reported in two ways that cannot both be.
    Contradiction {
        /// The condition.
        condition: ConditionKey,
        /// The words that say one thing, and those that say the other.
        given: [String; 2],
    },
    /// A name, a sign and a value, or a fact, not written as it must be.
    Malformed {
        /// The words.
        words: String,
        /// What is wrong.
        why: Malformed,
    },
}

/// What may be typed as a name, a sign and a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pair {
    /// [`super::Reported::measured`].
    Measured,
    /// [`super::Reported::likelihood`].
    Likelihood,
    /// [`super::Reported::read`].
    Read,
}

/// What is wrong with a name, a sign and a value, or with a fact.
#[derive(Clone, Debug, PartialEq)]
pub enum Malformed {
    /// There is no sign between name and value.
    NotAPair(Pair),
    /// No fact of that name.
    Fact {
        /// The nearest there are; perhaps none.
        nearest: Vec<String>,
        /// All there are.
        known: Vec<String>,
    },
    /// No quantity of that name.
    Quantity {
        /// The nearest there are; perhaps none.
        nearest: Vec<String>,
        /// All there are; perhaps none.
        known: Vec<String>,
    },
    /// How far the number may be off is no number above 0.
    Spread {
        /// The quantity.
        quantity: String,
        /// The number.
        number: String,
    },
    /// There is no number, or none that is one.
    NoNumber {
        /// What the quantity is measured in.
        unit: String,
    },
    /// The quantity is measured in something else.
    Unit {
        /// The quantity.
        quantity: String,
        /// The number.
        number: String,
        /// What it is measured in.
        unit: String,
    },
    /// A ratio is no number from one over [`MOST_TYPED_RATIO`] to that.
    Ratio,
    /// What [`crate::measure`] says of the number.
    Number(String),
}
