//! What a diagnosis is asked.

use super::observation::{Heard, Observation};
use crate::causal::Row;
use crate::knowledge::ConditionKey;
use crate::lesson::Lesson;
use crate::words::Complaints;
use std::collections::BTreeMap;

/// How much of the answer is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Effort {
    /// The order of the causes and nothing else.
    Order,
    /// Everything a coach reads.
    #[default]
    Lesson,
    /// The same, with every fault and cause of the library among the causes.
    All,
}

/// What was read, in the lesson that it is asked in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// The lesson, with what was told of the student in passing.
    pub lesson: Lesson,
    /// What was reported.
    pub observations: Vec<Observation>,
    /// What was said beside the findings: facts, what was not understood, what is left open.
    pub heard: Heard,
    /// What was said of the body; see [`complaints`](super::complaints).
    pub complaints: Complaints,
    /// What a finding counts for, where it is not 1; above 0.
    pub weights: BTreeMap<ConditionKey, f64>,
    /// Rows that a coach's records have moved, in the place of the library's.
    pub learned: BTreeMap<ConditionKey, Row>,
    /// How much of the answer is wanted.
    pub effort: Effort,
}
