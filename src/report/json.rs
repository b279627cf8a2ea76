//! A diagnosis for a program.

use crate::diagnosis::{Diagnosis, State};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use serde_json::{Map, Value, json};

/// The diagnosis as JSON: the keys of `docs/commands.md`, chances in full double precision.
///
/// `most` bounds how many causes are listed; the order is the diagnosis's own.
#[must_use]
pub fn why_json(base: &KnowledgeBase, diagnosis: &Diagnosis, most: usize) -> Value {
    let id = |key: ConditionKey| base.condition(key).id.as_str();
    let observations: Vec<Value> = diagnosis
        .observations
        .iter()
        .map(|seen| {
            let mut row = Map::new();
            row.insert("given".into(), json!(seen.given));
            row.insert("id".into(), json!(id(seen.condition)));
            row.insert("state".into(), json!(seen.state.as_str()));
            row.insert("read_by".into(), json!(seen.read_by));
            if !seen.perhaps.is_empty() {
                let perhaps: Vec<Value> = seen
                    .perhaps
                    .iter()
                    .map(|(key, chance)| json!({"id": id(*key), "chance": chance}))
                    .collect();
                row.insert("perhaps".into(), json!(perhaps));
            }
            match seen.state {
                State::Measured {
                    value,
                    ratio,
                    outside,
                } => {
                    row.insert("value".into(), json!(value));
                    row.insert("ratio".into(), json!(ratio));
                    row.insert("outside".into(), json!(outside));
                }
                State::Likelihood(ratio) => {
                    row.insert("ratio".into(), json!(ratio));
                }
                State::Seen | State::NotSeen | State::Slight => {}
            }
            Value::Object(row)
        })
        .collect();
    let causes: Vec<Value> = diagnosis
        .causes
        .iter()
        .take(most)
        .map(|cause| {
            let condition = base.condition(cause.condition);
            json!({
                "id": condition.id,
                "name": condition.name,
                "kind": condition.kind,
                "stage": condition.stage,
                "probability": cause.probability,
                "starts_here": cause.starts_here,
                "clears": cause.clears,
                "clears_while_held": cause.clears_while_held,
                "effect": cause.effect,
                "worth": cause.worth,
                "best_remedy_status": cause.best_remedy.map(|drill| base.drill(drill).status),
                "best_remedy": cause.best_remedy.map(|drill| base.drill(drill).id.as_str()),
                "too_close_to_next": cause.too_close_to_next,
                "treats_a_link": cause.treats_a_link,
                "from": base.layer_name(&condition.origin),
                "chains": cause
                    .explanations
                    .iter()
                    .map(|e| e.conditions.iter().copied().map(id).collect::<Vec<_>>())
                    .collect::<Vec<_>>(),
            })
        })
        .collect();
    let next_looks: Vec<Value> = diagnosis
        .next_looks
        .iter()
        .map(|look| {
            let condition = base.condition(look.condition);
            json!({
                "id": condition.id,
                "name": condition.name,
                "bits": look.bits,
                "seen_from": condition.seen_from,
                "look_for": condition.look_for,
                "raises": look.raises.iter().copied().map(id).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "observations": observations,
        "shot": diagnosis.shot,
        "cautions": super::why::cautions(base, diagnosis),
        "causes": causes,
        "next_looks": next_looks,
        "unexplained": diagnosis.unexplained.iter().copied().map(id).collect::<Vec<_>>(),
        "at_odds": {
            "score": diagnosis.at_odds.score,
            "suspect": diagnosis.at_odds.suspect.map(id),
        },
        "firmness": diagnosis.firmness,
        "ranked_by": diagnosis.ranked_by.as_str(),
        "method": if diagnosis.exact { "exact" } else { "sampled" },
        "standard_error": diagnosis.standard_error,
        "draws": diagnosis.draws,
        "effective_share": diagnosis.effective_share,
        "library": base.content_hash,
    })
}
