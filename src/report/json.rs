//! A diagnosis for a program.

use crate::diagnosis::{Diagnosis, Standing, State};
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
            // What only the hand would settle is not settled on one of them.
            let open = diagnosis.heard.open.iter().any(|open| {
                open.wants_hand
                    && open.given == seen.given
                    && open.candidates.contains(&seen.condition)
            });
            let own = (!open).then(|| id(seen.condition));
            row.insert("id".into(), json!(own));
            row.insert("state".into(), json!(seen.state.as_str()));
            row.insert("read_by".into(), json!(seen.read_by));
            if !seen.perhaps.is_empty() {
                let perhaps: Vec<Value> = seen
                    .meanings()
                    .skip(usize::from(!open))
                    .map(|(key, chance)| json!({"id": id(key), "chance": chance}))
                    .collect();
                row.insert("perhaps".into(), json!(perhaps));
            }
            match seen.state {
                State::Measured {
                    value,
                    error_sd,
                    ratio,
                    outside,
                } => {
                    row.insert("value".into(), json!(value));
                    row.insert("error_sd".into(), json!(error_sd));
                    row.insert("ratio".into(), json!(ratio));
                    row.insert("outside".into(), json!(outside));
                }
                State::Counted { shown, of, ratio } => {
                    row.insert("shown".into(), json!(shown));
                    row.insert("of".into(), json!(of));
                    row.insert("ratio".into(), json!(ratio));
                    row.insert("outside".into(), json!(seen.state.is_finding()));
                }
                State::Likelihood(ratio) => {
                    row.insert("ratio".into(), json!(ratio));
                }
                State::Found => {
                    row.insert("asked".into(), json!(true));
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
                "starts_here": cause.starts_here,
                "clears": cause.clears,
                "effect": cause.effect,
                "worth": cause.worth,
                "best_remedy_status": cause.best_remedy.map(|drill| base.drill(drill).status),
                "best_remedy": cause.best_remedy.map(|drill| base.drill(drill).id.as_str()),
                "accounts_for": cause
                    .accounts_for
                    .iter()
                    .map(|of| json!({"id": id(of.finding), "how": of.how().as_str(), "share": of.share}))
                    .collect::<Vec<_>>(),
                "on_the_way": cause.on_the_way,
                "is_link": cause.is_link(),
                "from": base.layer_name(&condition.origin),
                "chains": cause
                    .chains
                    .iter()
                    .map(|chain| chain.conditions.iter().copied().map(id).collect::<Vec<_>>())
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
                "how": condition.look_for,
                "seen_from": condition.seen_from,
                "chance": look.chance,
                "bits": look.bits,
                "raises": look.raises.iter().copied().map(id).collect::<Vec<_>>(),
            })
        })
        .collect();
    let context: Vec<Value> = diagnosis
        .heard
        .told
        .iter()
        .map(|told| {
            let fact = &base.fact(told.fact).id;
            let fact = told
                .number
                .map_or_else(|| fact.clone(), |number| format!("{fact} {number}"));
            json!({"given": told.given, "fact": fact})
        })
        .collect();
    let questions: Vec<Value> = diagnosis
        .heard
        .open
        .iter()
        .map(|open| {
            json!({
                "given": open.given,
                "candidates": open.candidates.iter().copied().map(id).collect::<Vec<_>>(),
                "settled_by": if open.wants_hand { "hand" } else { "words" },
            })
        })
        .collect();
    let would_change: Vec<Value> = diagnosis
        .would_change
        .iter()
        .map(|change| {
            let answers: Map<String, Value> = change
                .answers
                .iter()
                .map(|(look, seen)| {
                    let state = if *seen { State::Seen } else { State::NotSeen };
                    (id(*look).to_owned(), json!(state.as_str()))
                })
                .collect();
            json!({"if": answers, "first": id(change.first)})
        })
        .collect();
    let pairs: Vec<[&str; 2]> = diagnosis
        .at_odds
        .iter()
        .map(|(one, other)| [id(*one), id(*other)])
        .collect();
    json!({
        "observations": observations,
        "said_twice": diagnosis.said_twice.iter().copied().map(id).collect::<Vec<_>>(),
        "context": context,
        "not_understood": diagnosis.heard.not_understood,
        "questions": questions,
        "shot": diagnosis.lesson.shot,
        "cautions": crate::words::cautions(base, &diagnosis.complaints),
        "causes": causes,
        "next_looks": next_looks,
        "standing": diagnosis.standing.map(Standing::as_str),
        "level_with": diagnosis.rival.map(id),
        "would_change": would_change,
        "unexplained": diagnosis.unexplained.iter().copied().map(id).collect::<Vec<_>>(),
        "at_odds": pairs,
        "firmness": diagnosis.firmness,
        "library": base.content_hash,
    })
}
