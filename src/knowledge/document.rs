//! What a library file says, before anything in it is believed.
//!
//! These structs mirror the YAML one to one (see `docs/format.md`); the editor schema is generated
//! from them. Unknown keys are refused, so that a misspelt key cannot silently do nothing.

use super::drill_text::DrillText;
use super::graded::{Graded, commonness, leak, strength};
use super::plain_values::{id, is_false, text};
use super::spoken::{
    ClubText, DenialText, FlightText, ImpliesText, NumberText, OppositeText, SayText, SayingText,
    ShorthandText, TopicText, WordListText,
};
use super::vocabulary::{BodyRole, FaceSpot, Refer, Shot, Side, Stage, Status, View, WhenSeen};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};

fn share(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "number", "exclusiveMinimum": 0, "maximum": 1 })
}

fn link_share(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1 })
}

fn strokes(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "number", "minimum": 0 })
}

fn above_zero(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "number", "exclusiveMinimum": 0 })
}

/// One file of a library: any of the lists, in any order.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct LibraryFile {
    /// What ball, turf, ear and body report.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub outcomes: Vec<ConditionText>,
    /// Visible departures at a stage of the motion, set-up and grip included.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<ConditionText>,
    /// Underlying reasons that are not positions: body, club, concept, tempo, habit.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub causes: Vec<ConditionText>,
    /// Remedies: drills, set-up changes, feels, club checks, referrals.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub drills: Vec<DrillText>,
    /// Publications that entries lean on.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<SourceText>,
    /// Links between entries that this layer does not own.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub links: Vec<LinkText>,
    /// What is said of a student in passing: age, build, clubs, occasion, what was tried.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub facts: Vec<FactText>,
    /// How people speak of pain, injury and illness, and of golf in the same words.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub body_words: Vec<BodyWordsText>,
    /// What it says of a student that something was seen at a stage; a later layer's word counts.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stages: Vec<StageText>,
    /// The library's own tests.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cases: Vec<CaseText>,
    /// More ways of saying an entry that may stand elsewhere.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sayings: Vec<SayingText>,
    /// Words that mean the same.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub synonyms: Vec<SayText>,
    /// Words that shut each other out.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub opposites: Vec<OppositeText>,
    /// Shorthand and what it stands for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub shorthand: Vec<ShorthandText>,
    /// Clubs and places, with the shots that they give away.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub clubs: Vec<ClubText>,
    /// Words of denial.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub denials: Vec<DenialText>,
    /// Words that make a finding slight or unsure.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub hedges: Vec<SayText>,
    /// Things of which a coach says that they are sound.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub topics: Vec<TopicText>,
    /// Ball flights in words of side.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub flights: Vec<FlightText>,
    /// How measured quantities are spoken of.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub numbers: Vec<NumberText>,
    /// Other words that the reader goes by.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub word_lists: Vec<WordListText>,
}

impl LibraryFile {
    /// The id of every entry that has one, list by list; links have none.
    pub fn ids(&self) -> impl Iterator<Item = &str> {
        let conditions = [&self.outcomes, &self.faults, &self.causes];
        conditions
            .into_iter()
            .flatten()
            .map(|entry| &entry.id)
            .chain(self.drills.iter().map(|drill| &drill.id))
            .chain(self.sources.iter().map(|source| &source.id))
            .chain(self.cases.iter().map(|case| &case.id))
            .chain(self.facts.iter().map(|fact| &fact.id))
            .chain(self.body_words.iter().map(|words| &words.id))
            .map(String::as_str)
    }
}

/// An outcome, a fault or a cause.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ConditionText {
    /// Small letters, digits and hyphens; unique in the library, never reused.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// What a coach calls it.
    #[schemars(schema_with = "text")]
    pub name: String,
    /// The name as a part of a sentence, such as `the ball is too far forward`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phrase: Option<String>,
    /// What people say and type.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aliases: Vec<String>,
    /// What people say for this, and for something else too; the program asks which is meant.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ambiguous_aliases: Vec<String>,
    /// Where in the motion, or where else, it is met.
    pub stage: Stage,
    /// The shots it applies to; left out, full swings.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shots: Vec<Shot>,
    /// What to look for, and from where.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub look: Option<LookText>,
    /// Share of golfers who take lessons that have it: a word or a number between 0 and 1; left out, 0.1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(schema_with = "commonness")]
    pub how_common: Option<Graded>,
    /// The bare alternative to `how_common`: the chance that it is there with no known cause.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(schema_with = "leak")]
    pub leak: Option<Graded>,
    /// Strokes a round it costs a club golfer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(schema_with = "strokes")]
    pub cost: Option<f64>,
    /// Where the cost comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost_basis: Option<String>,
    /// Direct causes: nothing listed in the library lies in between.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub caused_by: Vec<CauseText>,
    /// Of the students who show this, the share in which a good teacher ends up working on each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub behind: Vec<BehindText>,
    /// How much more or less common it is among students of whom a fact is said.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told: Vec<ToldText>,
    /// What it cannot be seen together with, such as too strong a grip with too weak a one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opposite: Option<String>,
    /// Whether it is a pain or an illness: it leads every answer, and no drill is set against it.
    #[serde(default, skip_serializing_if = "is_false")]
    pub pain: bool,
    /// Whom to send the student to, and how soon.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refer: Option<Refer>,
    /// How it is measured, where the trade measures it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measure: Option<MeasureText>,
    /// The numbers of a strike that it shows in, where several together are needed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub impact: Option<ImpactText>,
    /// A warning to give with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// Ids in `sources`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
    /// The id of an earlier layer's entry that this one takes the place of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// Whether it is on trial; left out, approved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub status: Option<Status>,
    /// Why a caution of the entry that this one takes the place of is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drops_caution: Option<String>,
    /// The entry to use instead of this one, which is kept only so that its id is never reused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retired_for: Option<String>,
}

/// What to look for, and from where.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LookText {
    /// Where it can be seen from.
    #[serde(default)]
    pub from: Vec<View>,
    /// What is seen, in words a junior coach can check. The first sentence says by itself where to look
    /// and what is there when it is: it is put to the coach alone. What is sound, and how to make sure,
    /// follow.
    #[serde(rename = "for")]
    pub what: String,
}

/// One direct cause of the entry it stands in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CauseText {
    /// The cause.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// The chance that the cause, when present, brings the effect about: a word or a number.
    #[schemars(schema_with = "strength")]
    pub strength: Graded,
    /// One sentence that a student would understand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// What the strength rests on: `common practice`, or a source.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// A share of the students who show a finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BehindText {
    /// What a good teacher ends up working on.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// In what share of those students, from 0 to 1; what is left over is a habit of its own.
    #[schemars(schema_with = "share")]
    pub share: f64,
}

/// A stage of the motion, or another place where things are met.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StageText {
    /// The stage.
    pub id: Stage,
    /// Its place in the order of the motion, for the reader of the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order: Option<u32>,
    /// What it says of a student that something was seen there; left out, nothing more than that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub when_seen: Option<WhenSeen>,
}

/// What a fact about the student does to how common a condition is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToldText {
    /// The fact.
    #[schemars(schema_with = "id")]
    pub fact: String,
    /// How many times as common it is among students of whom the fact is said; below 1 when rarer.
    #[schemars(schema_with = "above_zero")]
    pub times: f64,
    /// What the number rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// Something that is said of a student in passing. A later layer that names a fact which is there
/// already adds to its ways of saying.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FactText {
    /// Small letters, digits and hyphens; unique among facts.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// What it means, in a few words; left out, the id.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// How people say it; `#` stands for a number, which is then told as well.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub say: Vec<String>,
    /// Facts that follow, always or for some numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub implies: Vec<ImpliesText>,
    /// Whether the words that say it may say a finding as well, as `squeezes the grip` does.
    #[serde(default, skip_serializing_if = "is_false")]
    pub in_passing: bool,
}

/// Ways of saying one thing of the body. A later layer that names words which are there already adds to
/// their ways of saying, and changes nothing else of them.
///
/// A way of saying is words in their order, capitals and punctuation aside: `a/b` is one or the other,
/// `<id>` any way of saying the body words of that id, `abc*` every word that starts so, `#` a number,
/// `####` one of four digits, `...` up to three words of any sort. Words of the role `filler` may stand
/// between any two.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BodyWordsText {
    /// Small letters, digits and hyphens; unique among body words.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// How people say it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub say: Vec<String>,
    /// Whole phrases of this sort. A clause in which no way of saying is met is read by what it comes
    /// nearest to, among these, those of the roles `trade` (golf, nobody's body) and `over` (well again),
    /// and the names of the library.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub alike: Vec<String>,
    /// Whom to send a student to who says it, and how soon; left out, the words are for use in others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refer: Option<Refer>,
    /// What the words do to others, where they report nothing themselves.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub role: Option<BodyRole>,
    /// Ways of saying in which the words report nothing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unless: Vec<String>,
    /// Body words one of which must be said as well for these to report anything.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<String>,
    /// Whom to send the student to instead when it is said to be long ago.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub when_old: Option<Refer>,
    /// Whom to send the student to instead when it is said to be fresh.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub when_new: Option<Refer>,
    /// What is said of it, beside what is said of all that is referred alike.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// The same for the student's page, in short words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_student: Option<String>,
    /// The pain of the library that it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pain: Option<String>,
}

impl BodyWordsText {
    /// Body words with nothing but an id.
    #[must_use]
    pub fn named(id: &str) -> Self {
        Self {
            id: id.to_owned(),
            say: Vec::new(),
            alike: Vec::new(),
            refer: None,
            role: None,
            unless: Vec::new(),
            with: Vec::new(),
            when_old: None,
            when_new: None,
            caution: None,
            to_student: None,
            pain: None,
        }
    }
}

/// How a condition is measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasureText {
    /// Name, in small letters and hyphens, of what is measured; several conditions may share one.
    #[schemars(schema_with = "id")]
    pub quantity: String,
    /// The unit a value is given in.
    pub unit: String,
    /// The sound range, lowest and highest; never a target for one golfer.
    pub sound: [f64; 2],
    /// Standard deviation of the measuring error, in the same unit.
    #[schemars(schema_with = "above_zero")]
    pub error_sd: f64,
    /// The side of the range that shows the condition; left out, either.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// What the range rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// The numbers of a strike that a condition shows in: all that are said must hold.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ImpactText {
    /// Where the ball starts, lowest and highest, in degrees from the target line; out is plus.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start: Option<[f64; 2]>,
    /// How far its spin axis leans, lowest and highest, in degrees; plus bends the ball out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tilt: Option<[f64; 2]>,
    /// Where on the face it is met.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strike: Option<FaceSpot>,
    /// What the ranges rest on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// A publication.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SourceText {
    /// Small letters, digits and hyphens; unique in the library.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// Authors (year). Title. Where.
    #[schemars(schema_with = "text")]
    pub cite: String,
    /// What of it was read, or `from memory`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// A link between entries that this layer need not own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkText {
    /// What brings it about.
    pub cause: String,
    /// What is brought about.
    pub effect: String,
    /// The chance that the cause, when present, brings the effect about: a word or a number. This or
    /// `share`, not both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(schema_with = "strength")]
    pub strength: Option<Graded>,
    /// Of the students who show the effect, the share in which one would end up working on the cause.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(schema_with = "link_share")]
    pub share: Option<f64>,
    /// One sentence that a student would understand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// What the strength or share rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// A test that a library carries, so that changed knowledge cannot quietly change advice.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CaseText {
    /// Small letters, digits and hyphens; unique among cases.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// The shot the lesson is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shot: Option<Shot>,
    /// What was seen.
    pub seen: Vec<String>,
    /// What was looked for and not seen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_seen: Vec<String>,
    /// What must rank high.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ranks: Option<RanksText>,
    /// What must not come first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub never_first: Vec<String>,
    /// Why a coach would agree.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// What the expectation rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
    /// Why the library does not meet it yet; such a case is counted, not enforced.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub known_miss: Option<String>,
}

/// One of `any_of` must be among the `first` causes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RanksText {
    /// How far down the list is good enough.
    pub first: usize,
    /// Ids of which one is enough.
    pub any_of: Vec<String>,
}
