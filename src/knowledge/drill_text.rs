//! What an entry of `drills` says, before anything in it is believed.

use super::graded::{Graded, strength};
use super::plain_values::{id, is_false, text};
use super::vocabulary::{Level, Place, RemedyKind, Rung, Shot, Stage, Status, Suits};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A remedy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DrillText {
    /// Small letters, digits and hyphens; unique in the library, never reused.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// What it is called on the lesson tee.
    #[schemars(schema_with = "text")]
    pub name: String,
    /// Other names for it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aliases: Vec<String>,
    /// What sort of remedy; left out, a drill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<RemedyKind>,
    /// What it works on, and how well.
    pub treats: Vec<TreatsText>,
    /// What it helps to live with and does not cure, such as a stiff hip by a flared foot.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub eases: Vec<String>,
    /// The stage of the motion it trains.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<Stage>,
    /// The shots it is for; left out, full swings.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shots: Vec<Shot>,
    /// How near it is to the shot as played; left out, slow with a ball.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ladder: Option<Rung>,
    /// What it is for, in one sentence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purpose: Option<String>,
    /// How to set it up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub setup: Option<String>,
    /// What to do, step by step.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<String>,
    /// What it should feel like.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub feel: Vec<String>,
    /// How the student knows that it worked, with a number in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<String>,
    /// How it goes wrong, and what to do then.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub goes_wrong: Vec<String>,
    /// How to make it easier.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub easier: Option<String>,
    /// How to make it harder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub harder: Option<String>,
    /// How much of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dose: Option<DoseText>,
    /// What it needs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs: Option<NeedsText>,
    /// Drills that come first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub after: Vec<String>,
    /// Conditions that it can make worse.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aggravates: Vec<String>,
    /// Conditions with which it must not be done: pains, injuries, limits of the body.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_with: Vec<String>,
    /// Students it is made for, or made to fit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub suits: Vec<Suits>,
    /// Students it is for and for nobody else, such as clubs sized for a child; left out, anybody.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub only_for: Vec<Suits>,
    /// Levels it is for; left out, all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub levels: Vec<Level>,
    /// A warning to give with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// Ids in `sources`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
    /// The id of an earlier layer's drill that this one takes the place of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// Whether it is on trial; left out, approved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub status: Option<Status>,
    /// Why a caution of the drill that this one takes the place of is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drops_caution: Option<String>,
    /// The drill to use instead of this one, which is kept only so that its id is never reused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retired_for: Option<String>,
}

/// What a drill works on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TreatsText {
    /// The condition.
    #[schemars(schema_with = "id")]
    pub id: String,
    /// How well it works when done as written: a word or a number; left out, fifty-fifty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(schema_with = "strength")]
    pub effect: Option<Graded>,
    /// What the effect rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// How much of a drill.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DoseText {
    /// Sets.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sets: Option<u32>,
    /// Repetitions a set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reps: Option<u32>,
    /// Minutes for all of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<f64>,
    /// Balls for all of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub balls: Option<u32>,
}

/// What a drill needs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NeedsText {
    /// Things beyond a club and a ball.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub equipment: Vec<String>,
    /// Where it can be done; left out, a range.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub place: Vec<Place>,
    /// Whether it takes a second person.
    #[serde(skip_serializing_if = "is_false")]
    pub helper: bool,
}
