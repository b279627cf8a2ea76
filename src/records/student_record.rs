//! A student, by a handle.

use crate::knowledge::{Level, Suits};
use crate::lesson::Handed;
use chrono::{Months, NaiveDate};
use serde::{Deserialize, Serialize};

/// Months that a record is kept after the last lesson, where nothing else was said.
pub const KEPT_MONTHS: u32 = 36;

/// The longest handle, in letters.
const LONGEST: usize = 40;

/// What is known of a student beside lessons. What was said of the body is kept apart from this, and
/// only given when it is asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Student {
    /// What the student goes by: never a name.
    pub handle: String,
    /// The day on which the record was begun.
    pub added: NaiveDate,
    /// Which way the student plays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handed: Option<Handed>,
    /// How far along.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<Level>,
    /// What the student's body asks of a drill.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub suits: Vec<Suits>,
    /// Ids of facts of the library, the age band among them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub facts: Vec<String>,
    /// What the student is after, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub goals: Vec<String>,
    /// Months for which the record is kept after the last lesson.
    pub keep_months: u32,
}

impl Student {
    /// A student of whom nothing is known yet.
    #[must_use]
    pub fn new(handle: &str, added: NaiveDate) -> Self {
        Self {
            handle: handle.to_owned(),
            added,
            handed: None,
            level: None,
            suits: Vec::new(),
            facts: Vec::new(),
            goals: Vec::new(),
            keep_months: KEPT_MONTHS,
        }
    }

    /// The day after which the record is kept no longer, by the last lesson or, before the first, by the
    /// day it was begun.
    #[must_use]
    pub fn kept_until(&self, last: Option<NaiveDate>) -> NaiveDate {
        let from = last.map_or(self.added, |last| last.max(self.added));
        from.checked_add_months(Months::new(self.keep_months))
            .unwrap_or(NaiveDate::MAX)
    }
}

/// Whether a handle is written as one: small letters, digits and hyphens, a letter first, at most 40.
///
/// # Errors
///
/// What to write instead.
pub fn shape_of_handle(handle: &str) -> Result<(), String> {
    let fits = handle.len() <= LONGEST
        && handle.starts_with(|c: char| c.is_ascii_lowercase())
        && !handle.ends_with('-')
        && handle
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if fits {
        return Ok(());
    }
    Err(format!(
        "write small letters, digits and hyphens, a letter first, at most {LONGEST}, such as heron or reed-warbler-2"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_handle_is_a_word_and_no_name() {
        for good in ["heron", "reed-warbler-2", "h2"] {
            assert!(shape_of_handle(good).is_ok(), "{good}");
        }
        for bad in [
            "",
            "Heron",
            "J. Heron",
            "2heron",
            "heron-",
            "h\u{e9}ron",
            "../x",
            &"h".repeat(41),
        ] {
            assert!(shape_of_handle(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_record_is_kept_from_the_last_lesson_on() {
        let day = |text: &str| text.parse::<NaiveDate>().expect("a day");
        let student = Student::new("heron", day("2026-01-31"));
        assert_eq!(student.kept_until(None), day("2029-01-31"));
        assert_eq!(
            student.kept_until(Some(day("2026-08-31"))),
            day("2029-08-31")
        );
        // A clock set back makes no record older than it is.
        assert_eq!(
            student.kept_until(Some(day("2020-01-01"))),
            day("2029-01-31")
        );
    }
}
