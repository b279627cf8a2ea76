//! The sorts of entry that a coach adds.

use crate::knowledge::ConditionKind;

/// What is added: one of the lists of a library file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EntryKind {
    /// Something to do about a fault or a cause.
    Drill,
    /// A visible departure at a stage of the motion.
    Fault,
    /// An underlying reason that is not a position.
    Cause,
    /// What ball, turf, ear and body report.
    Outcome,
    /// One entry bringing about another.
    Link,
    /// A publication that entries lean on.
    Source,
    /// A test of the library's own.
    Case,
}

impl EntryKind {
    /// Every sort that is added by itself, the one added most often first.
    pub const ALL: &'static [EntryKind] = &[
        EntryKind::Drill,
        EntryKind::Fault,
        EntryKind::Cause,
        EntryKind::Outcome,
        EntryKind::Link,
    ];

    /// Every sort that is found by its name, changed and taken out: sources and cases come with what they
    /// are about, in one file.
    pub const FOUND: &'static [EntryKind] = &[
        EntryKind::Drill,
        EntryKind::Fault,
        EntryKind::Cause,
        EntryKind::Outcome,
        EntryKind::Link,
        EntryKind::Source,
        EntryKind::Case,
    ];

    /// `drill`, `fault`, `cause`, `outcome`, `link`, `source` or `case`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            EntryKind::Drill => "drill",
            EntryKind::Fault => "fault",
            EntryKind::Cause => "cause",
            EntryKind::Outcome => "outcome",
            EntryKind::Link => "link",
            EntryKind::Source => "source",
            EntryKind::Case => "case",
        }
    }

    /// The list of a library file that it stands in, which is also the folder it is saved in.
    #[must_use]
    pub fn list(self) -> &'static str {
        match self {
            EntryKind::Drill => "drills",
            EntryKind::Fault => "faults",
            EntryKind::Cause => "causes",
            EntryKind::Outcome => "outcomes",
            EntryKind::Link => "links",
            EntryKind::Source => "sources",
            EntryKind::Case => "cases",
        }
    }
}

impl From<ConditionKind> for EntryKind {
    fn from(kind: ConditionKind) -> Self {
        match kind {
            ConditionKind::Outcome => EntryKind::Outcome,
            ConditionKind::Fault => EntryKind::Fault,
            ConditionKind::Cause => EntryKind::Cause,
        }
    }
}
