//! A library made ready to be asked.

use super::asked::Asked;
use super::observation::Observation;
use super::starts::Starts;
use super::student::Student;
use crate::causal::{CausalGraph, Rows};
use crate::knowledge::{ConditionKey, KnowledgeBase};

/// A library made ready to be asked.
pub(super) struct Model<'a> {
    pub base: &'a KnowledgeBase,
    pub rows: Rows,
}

impl<'a> Model<'a> {
    pub(super) fn new(base: &'a KnowledgeBase) -> Self {
        Self {
            base,
            rows: Rows::new(base, &CausalGraph::new(base)),
        }
    }

    /// The same with what a coach's records have moved.
    pub(super) fn asked(base: &'a KnowledgeBase, asked: &Asked) -> Self {
        let mut model = Self::new(base);
        for (key, row) in &asked.learned {
            model.rows.put(*key, row.clone());
        }
        model
    }

    pub(super) fn starts(&self, asked: &Asked, found: &[Observation]) -> Starts<'a> {
        let student = Student::new(self.base, asked, found);
        let weight = |key: ConditionKey| asked.weights.get(&key).copied().unwrap_or(1.0);
        Starts::new(self.base, &self.rows, &student, found, &weight)
    }
}
