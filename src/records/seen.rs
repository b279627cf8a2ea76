//! From an answer to what is kept of it.

use super::lesson_record::{LessonRecord, MeasuredNumber, Prescribed, Ranked, Tally};
use crate::diagnosis::{Diagnosis, Observation, State};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::plan::Plan;
use chrono::NaiveDate;

/// As much of our order is kept: more than anybody looks at.
const KEPT_STARTS: usize = 15;

impl LessonRecord {
    /// What was seen and ruled out, measured, our order, and what was given.
    #[must_use]
    pub fn of(
        base: &KnowledgeBase,
        diagnosis: &Diagnosis,
        plan: Option<&Plan>,
        day: NaiveDate,
    ) -> Self {
        let mut lesson = Self {
            shot: diagnosis.lesson.shot,
            library: base.content_hash.clone(),
            ..Self::new(day)
        };
        for seen in &diagnosis.observations {
            lesson.take(base, seen);
        }
        // A number that says that something is not there is a number all the same.
        for (quantity, value) in &diagnosis.heard.numbers {
            let mut measures = base.conditions.iter().filter_map(|c| c.measure.as_ref());
            if let Some(measure) = measures.find(|measure| measure.quantity == *quantity) {
                lesson.measure(quantity, *value, &measure.unit, measure.error_sd);
            }
        }
        let ruled_out = std::mem::take(&mut lesson.ruled_out);
        let not_seen = |id: &String| !lesson.seen.contains(id);
        lesson.ruled_out = ruled_out.into_iter().filter(not_seen).collect();
        let id = |key: ConditionKey| base.condition(key).id.clone();
        let leading = diagnosis.causes.iter().filter(|cause| cause.worth > 0.0);
        let all: f64 = leading.clone().map(|cause| cause.worth).sum();
        let ranked = leading.take(KEPT_STARTS).map(|cause| Ranked {
            id: id(cause.condition),
            chance: cause.worth / all,
        });
        lesson.ranking = ranked.collect();
        let steps = plan.iter().flat_map(|plan| &plan.steps);
        let prescribed = steps.map(|step| Prescribed {
            drill: base.drill(step.drill).id.clone(),
            works_on: step.works_on.iter().map(|key| id(*key)).collect(),
        });
        lesson.prescribed = prescribed.collect();
        lesson
    }

    /// Takes a number in, unless there is one of that quantity.
    pub fn measure(&mut self, quantity: &str, value: f64, unit: &str, error_sd: f64) {
        if self.measured.iter().all(|one| one.quantity != quantity) {
            self.measured.push(MeasuredNumber {
                quantity: quantity.to_owned(),
                value,
                unit: unit.to_owned(),
                error_sd,
            });
        }
    }

    /// Takes in what was observed.
    pub fn take(&mut self, base: &KnowledgeBase, seen: &Observation) {
        let condition = base.condition(seen.condition);
        let add = |list: &mut Vec<String>| {
            if !list.contains(&condition.id) {
                list.push(condition.id.clone());
            }
        };
        if seen.state.is_finding() {
            add(&mut self.seen);
        }
        match seen.state {
            State::Slight => add(&mut self.slight),
            State::NotSeen => add(&mut self.ruled_out),
            State::Measured {
                value, error_sd, ..
            } => {
                if let Some(measure) = &condition.measure {
                    self.measure(&measure.quantity, value, &measure.unit, error_sd);
                }
            }
            State::Counted { shown, of, .. } => {
                if self.counts.iter().all(|one| one.what != condition.id) {
                    self.counts.push(Tally {
                        what: condition.id.clone(),
                        of,
                        shown,
                    });
                }
            }
            State::Seen | State::Found | State::Likelihood(_) => {}
        }
    }
}
