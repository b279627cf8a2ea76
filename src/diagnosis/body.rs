//! What is done with an answer when something was said of the body: one place for all commands.

use super::answer::Diagnosis;
use super::observation::Observation;
use crate::knowledge::{ConditionKey, KnowledgeBase, Refer};
use crate::words::{Complaint, Complaints};

/// Everything that was reported of the body: what was said by its words, and what else was read as a pain.
#[must_use]
pub fn complaints(
    base: &KnowledgeBase,
    said: Complaints,
    observations: &[Observation],
) -> Complaints {
    let mut found = said;
    with_observed(base, observations, &mut found);
    found
}

/// Adds the pains that were read by an id, a name or a saying of the library.
pub(super) fn with_observed(
    base: &KnowledgeBase,
    observations: &[Observation],
    complaints: &mut Complaints,
) {
    let known = complaints.there.clone();
    // What was read as a pain by its words for the body is not said twice.
    let said = |given: &str| known.iter().any(|c| given.contains(&c.words));
    for observation in observations
        .iter()
        .filter(|o| o.state.is_finding() && !said(&o.given))
    {
        for pain in pains_of(base, observation) {
            if complaints.there.iter().any(|c| c.pain == Some(pain)) {
                continue;
            }
            let condition = base.condition(pain);
            complaints.there.push(Complaint {
                words: observation.given.clone(),
                span: 0..observation.given.len(),
                refer: condition.refer.unwrap_or(Refer::Professional),
                said: condition.id.clone(),
                pain: Some(pain),
                caution: None,
            });
        }
    }
}

/// Every pain that a finding may be, when it is rather a pain than anything else: `hurts` may be any
/// of several.
fn pains_of(base: &KnowledgeBase, observation: &Observation) -> Vec<ConditionKey> {
    let pains = observation
        .meanings()
        .filter(|(key, _)| base.condition(*key).pain || base.condition(*key).refer.is_some());
    let (pains, chances): (Vec<ConditionKey>, Vec<f64>) = pains.unzip();
    if chances.iter().sum::<f64>() >= 0.5 {
        pains
    } else {
        Vec::new()
    }
}

/// Takes out of an answer what must not be said: nothing is ranked in an emergency, no drill is named
/// while something hurts, and none but a gentle one before the doctor was asked.
pub(super) fn hold_back(base: &KnowledgeBase, diagnosis: &mut Diagnosis) {
    let lesson = &diagnosis.lesson;
    match diagnosis.complaints.refer() {
        None => {}
        Some(Refer::Emergency) => {
            diagnosis.causes.clear();
            diagnosis.next_looks.clear();
            diagnosis.unexplained.clear();
            diagnosis.would_change.clear();
            diagnosis.standing = None;
            diagnosis.rival = None;
            diagnosis.firmness = None;
        }
        Some(Refer::Professional) => {
            for cause in &mut diagnosis.causes {
                cause.best_remedy = None;
            }
        }
        Some(Refer::Ask) => {
            for cause in &mut diagnosis.causes {
                cause.best_remedy = base
                    .remedies(cause.condition)
                    .into_iter()
                    .map(|(drill, _)| drill)
                    .find(|drill| {
                        let drill = base.drill(*drill);
                        drill.is_gentle() && lesson.refuses(drill).is_none()
                    });
            }
        }
    }
}
