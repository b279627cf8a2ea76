//! What the library says: entries, links, drills, sources; read, layered and checked.
//!
//! YAML goes in, and either a [`KnowledgeBase`] in which everything holds together comes out, or
//! every problem in it. This room depends on no other.

mod base;
mod document;
mod probability;
mod problem;
mod vocabulary;
pub mod words;

pub use base::{
    Behind, Case, Cause, Condition, ConditionKey, ConditionKind, Drill, DrillKey, KnowledgeBase,
    LayerInfo, Measure, Origin, Source, SourceKey, Treats,
};
pub use document::{
    BehindText, CaseText, CauseText, ConditionText, DoseText, DrillText, Graded, LibraryFile,
    LinkText, LookText, MeasureText, NeedsText, RanksText, SourceText, TreatsText,
};
pub use probability::{NotAProbability, Probability};
pub use problem::{Problem, Severity};
pub use vocabulary::{Level, Place, RemedyKind, Rung, Shot, Side, Stage, Status, Suits, View};
