//! What is kept of a student.

use super::lesson_record::LessonRecord;
use super::outcome::Outcome;
use super::student_record::Student;
use crate::knowledge::{DrillKey, KnowledgeBase};
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// A student among all, at a glance.
#[derive(Clone, Debug, PartialEq)]
pub struct StudentSummary {
    /// The student.
    pub student: Student,
    /// How many lessons are kept.
    pub lessons: usize,
    /// The day of the last.
    pub last: Option<NaiveDate>,
}

/// What is kept of a student, limits aside.
#[derive(Clone, Debug, PartialEq)]
pub struct History {
    /// The student.
    pub student: Student,
    /// Lessons, earliest day first, on one day in the order in which they were kept.
    pub lessons: Vec<LessonRecord>,
    /// Outcomes, in the order in which they were told.
    pub outcomes: Vec<Outcome>,
}

impl History {
    /// How the drills of a lesson went.
    pub fn outcomes_of(&self, lesson: i64) -> impl Iterator<Item = &Outcome> {
        self.outcomes
            .iter()
            .filter(move |outcome| outcome.lesson == Some(lesson))
    }

    /// The drills that were given, each once, in the order of the library.
    #[must_use]
    pub fn given(&self, base: &KnowledgeBase) -> Vec<DrillKey> {
        let drills = self.lessons.iter().flat_map(|lesson| &lesson.prescribed);
        let known: BTreeSet<DrillKey> = drills
            .filter_map(|given| base.find_drill(&given.drill))
            .collect();
        known.into_iter().collect()
    }

    /// Check-ups, numbers of days in between left out.
    pub fn check_ups(&self) -> impl DoubleEndedIterator<Item = &LessonRecord> {
        self.lessons.iter().filter(|lesson| !lesson.is_numbers())
    }

    /// The day of the last lesson.
    #[must_use]
    pub fn last(&self) -> Option<NaiveDate> {
        self.lessons.last().map(|lesson| lesson.day)
    }
}
