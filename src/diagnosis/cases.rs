//! The tests a library carries: does it still give the advice they ask for?

use super::{Asked, Effort, Observation, ReadBy, State, diagnose};
use crate::knowledge::{Case, KnowledgeBase};
use crate::lesson::Lesson;

/// How one case came out.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseVerdict {
    /// The case.
    pub id: String,
    /// File and line where it was written.
    pub place: String,
    /// What is wrong, when it does not hold though it should, or holds though it is marked as a miss.
    pub complaint: Option<String>,
    /// Whether it is marked as one that the library does not meet yet, and does not hold.
    pub known_miss: bool,
}

/// Runs every case of the library, in order.
#[must_use]
pub fn run_cases(base: &KnowledgeBase) -> Vec<CaseVerdict> {
    base.cases
        .iter()
        .map(|case| {
            let missed = complaint(base, case);
            let known = case.text.known_miss.is_some();
            CaseVerdict {
                id: case.text.id.clone(),
                place: format!("{}:{}", case.origin.file, case.origin.line),
                known_miss: known && missed.is_some(),
                complaint: match (known, missed) {
                    (false, missed) => missed,
                    (true, Some(_)) => None,
                    (true, None) => Some("it holds now: take `known_miss` out".to_owned()),
                },
            }
        })
        .collect()
}

fn complaint(base: &KnowledgeBase, case: &Case) -> Option<String> {
    let report = |ids: &[String], state: State| -> Vec<Observation> {
        ids.iter()
            .filter_map(|id| {
                Some(Observation {
                    given: id.clone(),
                    condition: base.find(id)?,
                    state,
                    read_by: ReadBy::Id,
                    perhaps: Vec::new(),
                })
            })
            .collect()
    };
    let mut observations = report(&case.text.seen, State::Seen);
    observations.extend(report(&case.text.not_seen, State::NotSeen));
    let asked = Asked {
        observations,
        lesson: Lesson {
            shot: case.text.shot,
            ..Lesson::default()
        },
        effort: Effort::Order,
        ..Asked::default()
    };
    let diagnosis = match diagnose(base, &asked) {
        Ok(diagnosis) => diagnosis,
        Err(error) => return Some(error.to_string()),
    };
    let order: Vec<&str> = diagnosis
        .causes
        .iter()
        .map(|cause| base.condition(cause.condition).id.as_str())
        .collect();
    let leading = |n: usize| order.iter().take(n).copied().collect::<Vec<_>>().join(", ");
    if let Some(ranks) = &case.text.ranks {
        let found = order
            .iter()
            .take(ranks.first)
            .any(|id| ranks.any_of.iter().any(|wanted| wanted == id));
        if !found {
            return Some(format!(
                "none of {} among the first {}, which are {}",
                ranks.any_of.join(", "),
                ranks.first,
                leading(ranks.first)
            ));
        }
    }
    let first = order.first().copied().unwrap_or_default();
    case.text
        .never_first
        .iter()
        .any(|id| id == first)
        .then(|| format!("{first} comes first"))
}
