//! What findings make likely, for a search that weighs remedies by it.

use super::asked::{Asked, Effort};
use super::diagnose::diagnose;
use super::observation::{Observation, State};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::Lesson;
use crate::words::ReadBy;
use std::collections::BTreeMap;

/// A finding itself counts at least this much beside what is behind it: somebody who types it
/// expects remedies that say so.
const LEAST_ITSELF: f64 = 0.15;
/// A reading that weighs less than this is taken as an unsure look.
const SURE: f64 = 0.6;

/// The conditions behind weighted findings, each with the share of what was found that it would
/// clear, from 0 to 1; the findings themselves included. Where the diagnosis gives no answer, the
/// findings stand alone.
#[must_use]
pub fn makes_likely(
    base: &KnowledgeBase,
    lesson: &Lesson,
    findings: &[(ConditionKey, f64)],
) -> Vec<(ConditionKey, f64)> {
    let asked = Asked {
        observations: findings
            .iter()
            .map(|(condition, weight)| Observation {
                given: base.condition(*condition).id.clone(),
                condition: *condition,
                state: if *weight >= SURE {
                    State::Seen
                } else {
                    State::Slight
                },
                read_by: ReadBy::Words,
                perhaps: Vec::new(),
            })
            .collect(),
        lesson: lesson.clone(),
        weights: findings.iter().copied().filter(|(_, w)| *w > 0.0).collect(),
        effort: Effort::Order,
        ..Asked::default()
    };
    let mut likely: BTreeMap<ConditionKey, f64> = diagnose(base, &asked)
        .map(|diagnosis| {
            let causes = diagnosis.causes.iter();
            causes
                .map(|cause| (cause.condition, cause.clears))
                .collect()
        })
        .unwrap_or_default();
    let alone = likely.is_empty();
    for (condition, weight) in findings {
        let least = if alone {
            *weight
        } else {
            weight * LEAST_ITSELF
        };
        let itself = likely.entry(*condition).or_default();
        *itself = itself.max(least);
    }
    likely.into_iter().collect()
}
