//! What the library says: entries, links, drills, sources; read, layered and checked.
//!
//! YAML goes in, and either a [`KnowledgeBase`] in which everything holds together comes out, or
//! every problem in it. This room depends on no other.

mod base;
mod body_words;
mod circle;
mod codes;
mod conditions;
mod document;
mod dose;
mod drill_text;
mod editor_schema;
pub mod folder;
mod gaps;
mod gather;
mod graded;
mod ids;
mod layer;
mod likeness;
mod links;
mod load;
mod names;
mod nearest;
mod node;
mod packed;
mod placed_entry;
mod plain_values;
mod probability;
mod problem;
mod problem_page;
mod problems;
mod remedies;
mod resolve;
mod serial;
mod shape;
mod spoken;
mod stack;
mod standing_entries;
mod unpacked;
mod vocabulary;
mod wording;
pub mod words;
mod yaml;

pub use base::{
    BodyWords, Case, Cause, CauseShare, Condition, ConditionKey, ConditionKind, Drill, DrillKey,
    Fact, FactKey, Impact, KnowledgeBase, LayerInfo, Measure, Provenance, Source, SourceKey, Told,
    Treats,
};
pub use codes::CODES;
pub use document::{
    BehindText, BodyWordsText, CaseText, CauseText, ConditionText, ImpactText, LibraryFile,
    LinkText, LookText, MeasureText, RanksText, SourceText, StageText,
};
pub use drill_text::{DoseText, DrillText, NeedsText, TreatsText};
pub use editor_schema::schema;
pub use gather::library_file;
pub use graded::Graded;
pub use layer::{FileText, LayerText, SHIPPED_LAYER, shipped};
pub use likeness::{NEAR_COPY, near_copies};
pub use load::{Loaded, Strictness, load};
pub use nearest::nearest;
pub use probability::{NotAProbability, Probability};
pub use problem::{Problem, Severity};
pub use problem_page::{Paint, report_problems, steers};
pub use serial::library_text;
pub use spoken::{
    ClubText, DenialText, Denies, FlightText, ImpliesText, LibraryWords, NumberText, OppositeText,
    SayText, SayingText, ShorthandText, TopicText, Way, WordListText, WordUse,
};
pub use stack::{Stack, Wanted};
pub(crate) use standing_entries::to_kebab;
pub use vocabulary::{
    BodyRole, FaceSpot, Level, Place, Refer, RemedyKind, Rung, Shot, Side, Stage, Status, Suits,
    View, WhenSeen,
};
pub use yaml::same_place;
