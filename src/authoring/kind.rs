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
}

impl EntryKind {
    /// Every sort, the one added most often first.
    pub const ALL: &'static [EntryKind] = &[
        EntryKind::Drill,
        EntryKind::Fault,
        EntryKind::Cause,
        EntryKind::Outcome,
        EntryKind::Link,
    ];

    /// `drill`, `fault`, `cause`, `outcome` or `link`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            EntryKind::Drill => "drill",
            EntryKind::Fault => "fault",
            EntryKind::Cause => "cause",
            EntryKind::Outcome => "outcome",
            EntryKind::Link => "link",
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
