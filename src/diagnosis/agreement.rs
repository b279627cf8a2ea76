//! Whether the links say the same as the shares.

use super::diagnose::DiagnosisError;
use super::observation::{Observation, State};
use super::web::Web;
use crate::knowledge::{ConditionKey, ConditionKind, KnowledgeBase};
use crate::words::ReadBy;

/// A share as the library states it, and as its links make it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreement {
    /// What is seen.
    pub finding: ConditionKey,
    /// What is worked on; the finding itself for "a habit of its own".
    pub cause: ConditionKey,
    /// The share stated, from 0 to 1.
    pub stated: f64,
    /// The share of the finding that the cause would clear by the links alone, the finding being all
    /// that is known, from 0 to 1; within about 2 points.
    pub by_links: f64,
}

impl Agreement {
    /// How far the two are apart, from 0 to 1.
    #[must_use]
    pub fn apart(&self) -> f64 {
        (self.stated - self.by_links).abs()
    }
}

/// Every share that the library states, beside what the links make of it; those furthest apart
/// first, ties by finding and cause. Takes an inference for each finding.
///
/// # Errors
///
/// As [`super::diagnose()`].
pub fn agreement(base: &KnowledgeBase) -> Result<Vec<Agreement>, DiagnosisError> {
    let mut rows = Vec::new();
    for finding in base.condition_keys() {
        let condition = base.condition(finding);
        if condition.behind.is_empty() {
            continue;
        }
        let seen = Observation {
            given: condition.id.clone(),
            condition: finding,
            state: State::Seen,
            read_by: ReadBy::Id,
            perhaps: Vec::new(),
        };
        let clears = Web::new(base, &[seen], &|_| 1.0).clears_roughly()?;
        let mut stated: Vec<(ConditionKey, f64)> = condition
            .behind
            .iter()
            .map(|behind| (behind.cause, behind.share.get()))
            .collect();
        if condition.kind != ConditionKind::Outcome {
            let rest = 1.0 - stated.iter().map(|(_, share)| share).sum::<f64>();
            stated.push((finding, rest.max(0.0)));
        }
        rows.extend(stated.into_iter().map(|(cause, stated)| Agreement {
            finding,
            cause,
            stated,
            by_links: clears[cause.0],
        }));
    }
    rows.sort_by(|a, b| {
        b.apart()
            .total_cmp(&a.apart())
            .then((a.finding, a.cause).cmp(&(b.finding, b.cause)))
    });
    Ok(rows)
}
