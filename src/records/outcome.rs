//! How a drill went.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// What came of a drill.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DrillResult {
    /// It did what it was given for.
    Worked,
    /// It did some of it.
    Partly,
    /// Nothing changed.
    No,
    /// It got worse.
    Worse,
}

impl DrillResult {
    /// Every result, best first.
    pub const ALL: [DrillResult; 4] = [Self::Worked, Self::Partly, Self::No, Self::Worse];

    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Worked => "worked",
            Self::Partly => "partly",
            Self::No => "no",
            Self::Worse => "worse",
        }
    }

    /// The result with this word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|result| result.as_str() == word)
    }

    /// How much of what was hoped for came about: 1, one half, or 0.
    #[must_use]
    pub fn success(self) -> f64 {
        match self {
            Self::Worked => 1.0,
            Self::Partly => 0.5,
            Self::No | Self::Worse => 0.0,
        }
    }
}

/// How a drill went for a student, as far as it was told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Outcome {
    /// Its place among this student's outcomes, from 1 on; 0 before it is kept.
    pub number: i64,
    /// The day on which it was told.
    pub day: NaiveDate,
    /// Who wrote it; empty when that was not said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub coach: String,
    /// The lesson in which the drill was given; none where it was not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lesson: Option<i64>,
    /// The id of the drill.
    pub drill: String,
    /// What came of it.
    pub result: DrillResult,
    /// How many times it was done, where that was told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reps: Option<u32>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}
