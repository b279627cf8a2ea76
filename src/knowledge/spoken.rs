//! Words of the trade as a library writes them: slang, denials, hedges, facts told in passing.
//!
//! Every list of a later layer adds to what is there, so that a coach can add a way of saying
//! something without copying anything. A library that brings none is read with the shipped ones.

use super::plain_values::{id, text};
use super::vocabulary::{Shot, Stage};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// More ways of saying an entry, beside its own aliases.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SayingText {
    /// The outcome, fault or cause that is meant.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// What people say and type for it.
    pub say: Vec<String>,
}

/// A fact that follows from another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ImpliesText {
    /// The fact that follows.
    #[schemars(schema_with = "id")]
    pub fact: String,
    /// Only for numbers below this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below: Option<f64>,
    /// Only for numbers from this on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
}

/// Words that mean the same, or each of them nothing much.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SayText {
    /// The words.
    pub say: Vec<String>,
}

/// Words that shut each other out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OppositeText {
    /// Words of one side.
    pub say: Vec<String>,
    /// Words of the other.
    pub against: Vec<String>,
}

/// Shorthand and what it stands for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShorthandText {
    /// Words or abbreviations.
    pub say: Vec<String>,
    /// What is read in their place.
    #[schemars(schema_with = "text")]
    pub means: String,
}

/// A club or a place, and the shots that it gives away.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClubText {
    /// What it is called.
    pub say: Vec<String>,
    /// The shots it is used for.
    pub shots: Vec<Shot>,
    /// Whether it is a place or a kind of shot, which says more than a club.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub place: bool,
}

/// What words of denial do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Denies {
    /// They deny what follows: `no sign of`.
    Ahead,
    /// They deny what stands before: `is gone`.
    Behind,
    /// They call what they speak of sound, which rules out every fault of it: `is fine`.
    Sound,
    /// They put what follows into the past: `used to`.
    Past,
    /// They look like a denial and are none: `not only`.
    Nothing,
}

/// Words of denial.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DenialText {
    /// What they do.
    pub denies: Denies,
    /// The words.
    pub say: Vec<String>,
}

/// A thing of which a coach says that it is sound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TopicText {
    /// What it is called: with a word of praise it is sound.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub say: Vec<String>,
    /// What says by itself that it is sound, such as `weight stays forward`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stated: Vec<String>,
    /// What is ruled out when it is sound; those of the shot at hand count.
    pub rules_out: Vec<String>,
}

/// A side of the target line, or none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Beyond the ball, away from the player's feet.
    Out,
    /// Where the player stands.
    In,
}

/// A ball flight in words of side, as an entry of the library.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FlightText {
    /// The outcome that it is.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// The side on which the ball starts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<Way>,
    /// The side to which it bends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bend: Option<Way>,
    /// The side on which it ends, when nothing else is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end: Option<Way>,
    /// Whether it flies straight.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub straight: bool,
    /// Now one side, now the other.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub both: bool,
    /// Whether it is a putt.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub putt: bool,
}

/// How a quantity that the library measures is spoken of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NumberText {
    /// The quantity of a `measure`.
    #[schemars(schema_with = "id")]
    pub quantity: String,
    /// What it is called.
    pub say: Vec<String>,
    /// Words of which one must stand in the same clause: `at the top`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<String>,
    /// Facts of which one must have been told, such as the club.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub when: Vec<String>,
    /// What the unit is called, the usual name first; a number in another unit is another quantity.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unit: Vec<String>,
    /// Words that make the number plus.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub plus: Vec<String>,
    /// Words that make it minus.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub minus: Vec<String>,
    /// Whether it has a side: left or right by the hand, the out side plus; without a side it is open.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub sided: bool,
    /// The least and the most that it can be; what lies outside is a slip.
    pub possible: [f64; 2],
}

/// What the reader does with a list of words.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum WordUse {
    /// Carries next to nothing.
    Filler,
    /// May stand inside a fixed phrase without changing it: `the`, `his`.
    Article,
    /// Carries a little: decides between two entries that are otherwise level.
    HalfFiller,
    /// Asks for a drill and says nothing about which.
    Asking,
    /// Parts one clause from the next: `but`, `leads to`.
    Parts,
    /// Joins two findings of one clause: `and`.
    Joins,
    /// Says `not` in a word.
    Negation,
    /// Stands for who is spoken of: `he`.
    Subject,
    /// Carries a denial on to what follows: `or`.
    ReachesOn,
    /// Ends what a denial reaches, unless a plain verb follows: `and`.
    Ends,
    /// Tells what somebody means to do or believes.
    Thought,
    /// What only the student or others believe: `he thinks`.
    Belief,
    /// Makes what stands right behind it slight: `small`.
    SlightBeside,
    /// A part of the body that comes in a left and a right.
    SidedPart,
    /// The second half of a word written together, such as `backfoot`.
    SecondHalf,
    /// A stage of the motion; see `stages`.
    Stage,
    /// The ball begins its flight.
    FlightStart,
    /// The ball bends.
    FlightBend,
    /// The ball ends.
    FlightEnd,
    /// The ball bends to the in side by name: `hook`.
    FlightIn,
    /// The ball bends to the out side by name: `slice`.
    FlightOut,
    /// May stand beside words of side without changing them.
    FlightBeside,
    /// Of an occasion, not of a finding: `when`, `under pressure`.
    Occasion,
    /// Says when or how often something happens, and not what: `every time`.
    HowOften,
    /// Says how bad something is, and not what: `massive`.
    HowBad,
    /// In the name of an entry, makes it one of too little of something: `lack of`.
    LackName,
    /// Says that there is little of something: `restricted`.
    Lack,
    /// Of now, against a past: `now`.
    Now,
    /// May stand between a quantity and its number: `about`.
    NumberBeside,
    /// Makes the number behind it minus.
    Minus,
    /// Makes the number behind it plus.
    Plus,
    /// Stands between two numbers of a count: `8 out of 10`.
    Count,
    /// The rest of the game, of which a coach says that it is fine.
    Rest,
}

/// A list of words with one use.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WordListText {
    /// What the words do.
    #[serde(rename = "use")]
    pub used_as: WordUse,
    /// The words.
    pub say: Vec<String>,
    /// For words of a stage: the stages that what happens there is filed under.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stages: Vec<Stage>,
}

/// All words of a library, layer by layer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LibraryWords {
    /// More ways of saying an entry.
    pub sayings: Vec<SayingText>,
    /// Words that mean the same.
    pub synonyms: Vec<SayText>,
    /// Words that shut each other out.
    pub opposites: Vec<OppositeText>,
    /// Shorthand.
    pub shorthand: Vec<ShorthandText>,
    /// Clubs and places.
    pub clubs: Vec<ClubText>,
    /// Words of denial.
    pub denials: Vec<DenialText>,
    /// Words that make a finding slight or unsure.
    pub hedges: Vec<SayText>,
    /// Things that may be called sound.
    pub topics: Vec<TopicText>,
    /// Flights by side.
    pub flights: Vec<FlightText>,
    /// Quantities.
    pub numbers: Vec<NumberText>,
    /// Other lists of words.
    pub word_lists: Vec<WordListText>,
}

impl LibraryWords {
    /// Whether there are no words by which a note could be read.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.word_lists.is_empty() && self.synonyms.is_empty() && self.shorthand.is_empty()
    }
}
