//! The library once everything in it has been checked: every id leads somewhere, every strength is
//! a chance, and no chain of causes comes back to where it started.

use super::document::CaseText;
use super::drill_text::DoseText;
use super::probability::Probability;
use super::spoken::{ImpliesText, LibraryWords};
use super::vocabulary::{
    BodyRole, FaceSpot, Level, Place, Refer, RemedyKind, Rung, Shot, Side, Stage, Status, Suits,
    View, WhenSeen,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// A condition's place in [`KnowledgeBase::conditions`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ConditionKey(pub usize);

/// A drill's place in [`KnowledgeBase::drills`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DrillKey(pub usize);

/// A source's place in [`KnowledgeBase::sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SourceKey(pub usize);

/// A fact's place in [`KnowledgeBase::facts`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FactKey(pub usize);

/// Which list of a library a condition stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ConditionKind {
    /// What ball, turf, ear and body report.
    Outcome,
    /// A visible departure at a stage of the motion.
    Fault,
    /// An underlying reason that is not a position.
    Cause,
}

impl ConditionKind {
    /// `outcome`, `fault` or `cause`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            ConditionKind::Outcome => "outcome",
            ConditionKind::Fault => "fault",
            ConditionKind::Cause => "cause",
        }
    }
}

/// Where an entry, or a link, came from.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Provenance {
    /// The layer's place in [`KnowledgeBase::layers`]; 0 is read first.
    pub layer: usize,
    /// The file, relative to the layer's folder, with `/` between its parts.
    pub file: String,
    /// The line on which the entry starts, from 1.
    pub line: usize,
}

/// A direct cause of a condition.
#[derive(Clone, Debug)]
pub struct Cause {
    /// The condition that does it.
    pub cause: ConditionKey,
    /// The chance that the cause, when present, brings the effect about; strictly between 0 and 1.
    /// Where the author gave a share instead, the strength that amounts to it.
    pub strength: Probability,
    /// Of the students who show the effect, the share in which one would end up working on the cause,
    /// where the author gave that.
    pub share: Option<Probability>,
    /// One sentence that a student would understand.
    pub because: Option<String>,
    /// What the strength rests on.
    pub basis: Option<String>,
    /// Where the link was written.
    pub origin: Provenance,
}

/// A share of the students who show a finding.
#[derive(Clone, Copy, Debug)]
pub struct CauseShare {
    /// What a good teacher ends up working on.
    pub cause: ConditionKey,
    /// In what share of those students.
    pub share: Probability,
}

/// What a fact about the student does to how common a condition is.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// The fact.
    pub fact: FactKey,
    /// How many times as common; above 0.
    pub times: f64,
    /// What the number rests on.
    pub basis: Option<String>,
}

/// Something that is said of a student in passing.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// Kebab-case, unique among facts.
    pub id: String,
    /// What it means, in a few words.
    pub name: String,
    /// How people say it, over all layers; `#` stands for a number.
    pub say: Vec<String>,
    /// Facts that follow, those of all layers.
    pub implies: Vec<ImpliesText>,
    /// Whether the words that say it may say a finding as well.
    pub in_passing: bool,
    /// Where it was written first.
    pub origin: Provenance,
}

/// How a condition is measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// Kebab-case name of what is measured; several conditions may share one.
    pub quantity: String,
    /// The unit of `sound` and `error_sd`.
    pub unit: String,
    /// The sound range, lowest and highest.
    pub sound: [f64; 2],
    /// Standard deviation of the measuring error; above 0.
    pub error_sd: f64,
    /// The side of the range that shows the condition.
    pub side: Side,
    /// What the range rests on.
    pub basis: Option<String>,
}

/// The numbers of a strike that a condition shows in; all that are said must hold, and one is.
#[derive(Clone, Debug, PartialEq)]
pub struct Impact {
    /// Where the ball starts, lowest and highest, in degrees; out is plus.
    pub start: Option<[f64; 2]>,
    /// How far its spin axis leans, lowest and highest, in degrees; plus bends the ball out.
    pub tilt: Option<[f64; 2]>,
    /// Where on the face it is met.
    pub strike: Option<FaceSpot>,
    /// What the ranges rest on.
    pub basis: Option<String>,
}

/// An outcome, a fault or a cause.
#[derive(Clone, Debug)]
pub struct Condition {
    /// Kebab-case, unique in the library.
    pub id: String,
    /// Which list it stands in.
    pub kind: ConditionKind,
    /// What a coach calls it.
    pub name: String,
    /// The name as a part of a sentence, where the author gave one.
    pub phrase: Option<String>,
    /// What people say and type; one alias may belong to several conditions.
    pub aliases: Vec<String>,
    /// Where in the motion, or where else, it is met.
    pub stage: Stage,
    /// The shots it applies to; never empty.
    pub shots: Vec<Shot>,
    /// Where it can be seen from, cheapest first; may be empty.
    pub seen_from: Vec<View>,
    /// What is seen, in words a junior coach can check; may be empty.
    pub look_for: String,
    /// Share of golfers who take lessons that have it; `None` where a bare leak is given.
    pub how_common: Option<Probability>,
    /// The bare leak, where the author gave one.
    pub leak: Option<Probability>,
    /// Strokes a round it costs a club golfer.
    pub cost: Option<f64>,
    /// Where the cost comes from.
    pub cost_basis: Option<String>,
    /// Direct causes, ordered by key.
    pub causes: Vec<Cause>,
    /// What good teachers end up working on, in the author's order.
    pub behind: Vec<CauseShare>,
    /// What facts about the student do to how common it is, ordered by fact.
    pub told: Vec<Told>,
    /// What it cannot be seen together with, ordered by key; said on either side, it stands on both.
    pub opposites: Vec<ConditionKey>,
    /// Whether it is a pain or an illness, which a coach must not work against.
    pub pain: bool,
    /// Whom to send the student to, and how soon.
    pub refer: Option<Refer>,
    /// How it is measured.
    pub measure: Option<Measure>,
    /// The numbers of a strike that it shows in.
    pub impact: Option<Impact>,
    /// A warning to give with it.
    pub caution: Option<String>,
    /// Publications it leans on.
    pub sources: Vec<SourceKey>,
    /// On trial or approved.
    pub status: Status,
    /// Why a caution of the entry that this one took the place of was left out.
    pub drops_caution: Option<String>,
    /// Its successor, when it is kept only so that its id is never reused.
    pub retired_for: Option<String>,
    /// Where it was written.
    pub origin: Provenance,
}

impl Condition {
    /// Whether it applies to a lesson about `shot`; to every lesson when none is named.
    #[must_use]
    pub fn applies_to(&self, shot: Option<Shot>) -> bool {
        shot.is_none_or(|shot| self.shots.iter().any(|own| own.applies_to(shot)))
    }

    /// Whether it is something the student's body reports and a coach must not work against.
    #[must_use]
    pub fn is_pain(&self) -> bool {
        self.pain
    }
}

/// What a drill works on.
#[derive(Clone, Debug)]
pub struct Treats {
    /// The condition.
    pub condition: ConditionKey,
    /// How well the drill works when done as written.
    pub effect: Probability,
    /// What the effect rests on.
    pub basis: Option<String>,
}

/// A remedy.
#[derive(Clone, Debug)]
pub struct Drill {
    /// Kebab-case, unique in the library.
    pub id: String,
    /// What it is called on the lesson tee.
    pub name: String,
    /// Other names for it.
    pub aliases: Vec<String>,
    /// What sort of remedy.
    pub kind: RemedyKind,
    /// What it works on, best first; never empty.
    pub treats: Vec<Treats>,
    /// What it helps to live with and does not cure.
    pub eases: Vec<ConditionKey>,
    /// The stage of the motion it trains.
    pub stage: Option<Stage>,
    /// The shots it is for; never empty.
    pub shots: Vec<Shot>,
    /// How near it is to the shot as played.
    pub rung: Rung,
    /// What it is for.
    pub purpose: String,
    /// How to set it up.
    pub setup: String,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// What it should feel like.
    pub feel: Vec<String>,
    /// How the student knows that it worked.
    pub check: String,
    /// How it goes wrong, and what to do then.
    pub goes_wrong: Vec<String>,
    /// How to make it easier.
    pub easier: Option<String>,
    /// How to make it harder.
    pub harder: Option<String>,
    /// How much of it.
    pub dose: DoseText,
    /// Things beyond a club and a ball.
    pub equipment: Vec<String>,
    /// Whether it takes a second person.
    pub helper: bool,
    /// Where it can be done; never empty.
    pub places: Vec<Place>,
    /// Drills that come first.
    pub after: Vec<DrillKey>,
    /// Conditions that it can make worse.
    pub aggravates: Vec<ConditionKey>,
    /// Conditions with which it must not be done.
    pub not_with: Vec<ConditionKey>,
    /// Students it is made for, or made to fit.
    pub suits: Vec<Suits>,
    /// Students it is for and for nobody else; empty means anybody.
    pub only_for: Vec<Suits>,
    /// Levels it is for; empty means all.
    pub levels: Vec<Level>,
    /// A warning to give with it.
    pub caution: Option<String>,
    /// Publications it leans on.
    pub sources: Vec<SourceKey>,
    /// On trial or approved.
    pub status: Status,
    /// Why a caution of the drill that this one took the place of was left out.
    pub drops_caution: Option<String>,
    /// Its successor, when it is kept only so that its id is never reused.
    pub retired_for: Option<String>,
    /// Where it was written.
    pub origin: Provenance,
}

impl Drill {
    /// Whether it is for a lesson about `shot`; for every lesson when none is named.
    #[must_use]
    pub fn applies_to(&self, shot: Option<Shot>) -> bool {
        shot.is_none_or(|shot| self.shots.iter().any(|own| own.applies_to(shot)))
    }

    /// Whether it may be done by somebody of whose body nobody has yet said what it may do: set-up, or a
    /// rehearsal without a ball, and no exercise.
    #[must_use]
    pub fn is_gentle(&self) -> bool {
        let set_up = self.kind == RemedyKind::SetupChange && self.rung <= Rung::SlowWithBall;
        let rehearsal = self.rung == Rung::Rehearsal && self.dose.balls.unwrap_or(0) == 0;
        self.stage != Some(Stage::Body)
            && self.kind != RemedyKind::Referral
            && (set_up || rehearsal)
    }

    /// How well it works on a condition; 0 when it does not claim to.
    #[must_use]
    pub fn effect_on(&self, condition: ConditionKey) -> f64 {
        self.treats
            .iter()
            .find(|t| t.condition == condition)
            .map_or(0.0, |t| t.effect.get())
    }

    /// Minutes that the whole dose takes: as written, or a set of eight in two minutes.
    #[must_use]
    pub fn minutes(&self) -> f64 {
        self.dose
            .minutes
            .unwrap_or_else(|| 2.0 * f64::from(self.dose.sets.unwrap_or(3)))
    }
}

/// A publication.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Kebab-case, unique in the library.
    pub id: String,
    /// Authors (year). Title. Where.
    pub cite: String,
    /// What of it was read, or `from memory`.
    pub basis: Option<String>,
    /// Where it was written.
    pub origin: Provenance,
}

/// A test that the library carries.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// What it says.
    pub text: CaseText,
    /// Where it was written.
    pub origin: Provenance,
}

/// One folder of knowledge, or what ships inside the program.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LayerInfo {
    /// `shipped`, or the folder as the user gave it.
    pub name: String,
    /// How many conditions, drills, links and cases came from it.
    pub counts: BTreeMap<String, usize>,
}

/// A whole library, checked.
///
/// Conditions, drills and sources are each sorted by id, so that keys, and everything computed in
/// their order, do not depend on how the library is spread over files.
#[derive(Clone, Debug)]
pub struct KnowledgeBase {
    /// Every condition, sorted by id.
    pub conditions: Vec<Condition>,
    /// Every drill, sorted by id.
    pub drills: Vec<Drill>,
    /// Every source, sorted by id.
    pub sources: Vec<Source>,
    /// Every case, sorted by id.
    pub cases: Vec<Case>,
    /// Every fact, sorted by id.
    pub facts: Vec<Fact>,
    /// The words of the trade that it is read by.
    pub spoken: LibraryWords,
    /// Words about the body, sorted by id.
    pub body_words: Vec<BodyWords>,
    /// What it says of a student that something was seen at a stage, where it says more than that.
    pub when_seen: BTreeMap<Stage, WhenSeen>,
    /// The layers it was read from, first read first.
    pub layers: Vec<LayerInfo>,
    /// SHA-256 over all files of all layers, as lowercase hex: the library's version.
    pub content_hash: String,
}

impl KnowledgeBase {
    /// The condition with this id.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<ConditionKey> {
        self.conditions
            .binary_search_by(|c| c.id.as_str().cmp(id))
            .ok()
            .map(ConditionKey)
    }

    /// The drill with this id.
    #[must_use]
    pub fn find_drill(&self, id: &str) -> Option<DrillKey> {
        self.drills
            .binary_search_by(|d| d.id.as_str().cmp(id))
            .ok()
            .map(DrillKey)
    }

    /// The source with this id.
    #[must_use]
    pub fn find_source(&self, id: &str) -> Option<SourceKey> {
        self.sources
            .binary_search_by(|s| s.id.as_str().cmp(id))
            .ok()
            .map(SourceKey)
    }

    /// The fact with this id.
    #[must_use]
    pub fn find_fact(&self, id: &str) -> Option<FactKey> {
        self.facts
            .binary_search_by(|f| f.id.as_str().cmp(id))
            .ok()
            .map(FactKey)
    }

    /// The fact behind a key.
    #[must_use]
    pub fn fact(&self, key: FactKey) -> &Fact {
        &self.facts[key.0]
    }

    /// The condition behind a key.
    #[must_use]
    pub fn condition(&self, key: ConditionKey) -> &Condition {
        &self.conditions[key.0]
    }

    /// What a condition is read as: what is retired as what took its place.
    #[must_use]
    pub fn heir(&self, key: ConditionKey) -> ConditionKey {
        let heir = self.condition(key).retired_for.as_deref();
        heir.and_then(|id| self.find(id)).unwrap_or(key)
    }

    /// The drill behind a key.
    #[must_use]
    pub fn drill(&self, key: DrillKey) -> &Drill {
        &self.drills[key.0]
    }

    /// The source behind a key.
    #[must_use]
    pub fn source(&self, key: SourceKey) -> &Source {
        &self.sources[key.0]
    }

    /// Every condition key, in order.
    pub fn condition_keys(&self) -> impl Iterator<Item = ConditionKey> + use<> {
        (0..self.conditions.len()).map(ConditionKey)
    }

    /// Every drill key, in order.
    pub fn drill_keys(&self) -> impl Iterator<Item = DrillKey> + use<> {
        (0..self.drills.len()).map(DrillKey)
    }

    /// The remedies that claim to work on a condition, most effective first, ties by id.
    #[must_use]
    pub fn remedies(&self, condition: ConditionKey) -> Vec<(DrillKey, f64)> {
        let mut found: Vec<(DrillKey, f64)> = self
            .drill_keys()
            .filter_map(|key| {
                let effect = self.drill(key).effect_on(condition);
                (effect > 0.0 && self.drill(key).retired_for.is_none()).then_some((key, effect))
            })
            .collect();
        found.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        found
    }

    /// The layer's name for an origin.
    #[must_use]
    pub fn layer_name(&self, origin: &Provenance) -> &str {
        self.layers
            .get(origin.layer)
            .map_or("", |layer| layer.name.as_str())
    }
}

/// Ways of saying one thing of the body.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyWords {
    /// Kebab-case, unique among body words.
    pub id: String,
    /// How people say it, over all layers; see [`BodyWordsText`](super::BodyWordsText) for how they are written.
    pub say: Vec<String>,
    /// Whole phrases of this sort, over all layers.
    pub alike: Vec<String>,
    /// Whom to send a student to who says it.
    pub refer: Option<Refer>,
    /// What the words do to others.
    pub role: Option<BodyRole>,
    /// Ways of saying in which the words report nothing.
    pub unless: Vec<String>,
    /// Body words one of which must be said as well.
    pub with: Vec<String>,
    /// Whom to send the student to when it is long ago.
    pub when_old: Option<Refer>,
    /// Whom to send the student to when it is fresh.
    pub when_new: Option<Refer>,
    /// What is said of it.
    pub caution: Option<String>,
    /// The same for the student.
    pub to_student: Option<String>,
    /// The id of the pain that it is; of a library that this one is laid over, it may be missing.
    pub pain: Option<String>,
    /// Where it was written first.
    pub origin: Provenance,
}
