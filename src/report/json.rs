//! A diagnosis for a program.

use crate::diagnosis::{
    Diagnosis, NextLook, Observation, Open, RankedCause, Standing, State, WouldChange,
};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::words::ToldFact;
use serde_json::{Map, Value, json};

/// The diagnosis as JSON: the keys of `docs/commands.md`, chances in full double precision.
///
/// `most` bounds how many causes are listed; the order is the diagnosis's own.
#[must_use]
pub fn why_json(base: &KnowledgeBase, diagnosis: &Diagnosis, most: usize) -> Value {
    let id = |key: ConditionKey| base.condition(key).id.as_str();
    let heard = &diagnosis.heard;
    let observations = diagnosis.observations.iter();
    let observations = observations.map(|seen| observation(base, seen, &heard.open));
    let causes = diagnosis.causes.iter().take(most);
    let next_looks = diagnosis.next_looks.iter();
    let would_change = diagnosis.would_change.iter();
    let at_odds = diagnosis.at_odds.iter();
    json!({
        "observations": observations.collect::<Vec<_>>(),
        "said_twice": ids(base, &diagnosis.said_twice),
        "context": heard.told.iter().map(|told| told_of(base, told)).collect::<Vec<_>>(),
        "not_understood": heard.not_understood,
        "questions": heard.open.iter().map(|open| question(base, open)).collect::<Vec<_>>(),
        "shot": diagnosis.lesson.shot,
        "cautions": crate::words::cautions(base, &diagnosis.complaints),
        "causes": causes.map(|start| cause(base, start)).collect::<Vec<_>>(),
        "next_looks": next_looks.map(|look| next_look(base, look)).collect::<Vec<_>>(),
        "standing": diagnosis.standing.map(Standing::as_str),
        "level_with": diagnosis.rival.map(id),
        "would_change": would_change.map(|change| changes(base, change)).collect::<Vec<_>>(),
        "unexplained": ids(base, &diagnosis.unexplained),
        "at_odds": at_odds.map(|(one, other)| [id(*one), id(*other)]).collect::<Vec<_>>(),
        "firmness": diagnosis.firmness,
        "library": base.content_hash,
    })
}

fn ids<'a>(base: &'a KnowledgeBase, keys: &[ConditionKey]) -> Vec<&'a str> {
    let id = |key: &ConditionKey| base.condition(*key).id.as_str();
    keys.iter().map(id).collect()
}

fn observation(base: &KnowledgeBase, seen: &Observation, open: &[Open]) -> Value {
    let id = |key: ConditionKey| base.condition(key).id.as_str();
    let mut row = Map::new();
    row.insert("given".into(), json!(seen.given));
    // What only the hand would settle is not settled on one of them.
    let open = open.iter().any(|open| {
        open.wants_hand && open.given == seen.given && open.candidates.contains(&seen.condition)
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
}

fn told_of(base: &KnowledgeBase, told: &ToldFact) -> Value {
    let fact = &base.fact(told.fact).id;
    let fact = told
        .number
        .map_or_else(|| fact.clone(), |number| format!("{fact} {number}"));
    json!({"given": told.given, "fact": fact})
}

fn question(base: &KnowledgeBase, open: &Open) -> Value {
    json!({
        "given": open.given,
        "candidates": ids(base, &open.candidates),
        "settled_by": if open.wants_hand { "hand" } else { "words" },
    })
}

fn cause(base: &KnowledgeBase, cause: &RankedCause) -> Value {
    let condition = base.condition(cause.condition);
    let remedy = cause.best_remedy.map(|drill| base.drill(drill));
    let accounts_for = cause.accounts_for.iter().map(|of| {
        let finding = &base.condition(of.finding).id;
        json!({"id": finding, "how": of.how().as_str(), "share": of.share})
    });
    let chains = cause.chains.iter();
    let chains = chains.map(|chain| ids(base, &chain.conditions));
    json!({
        "id": condition.id,
        "name": condition.name,
        "kind": condition.kind,
        "stage": condition.stage,
        "starts_here": cause.starts_here,
        "clears": cause.clears,
        "effect": cause.effect,
        "worth": cause.worth,
        "best_remedy_status": remedy.map(|drill| drill.status),
        "best_remedy": remedy.map(|drill| drill.id.as_str()),
        "accounts_for": accounts_for.collect::<Vec<_>>(),
        "on_the_way": cause.on_the_way,
        "is_link": cause.is_link(),
        "from": base.layer_name(&condition.origin),
        "chains": chains.collect::<Vec<_>>(),
    })
}

fn next_look(base: &KnowledgeBase, look: &NextLook) -> Value {
    let condition = base.condition(look.condition);
    json!({
        "id": condition.id,
        "name": condition.name,
        "how": condition.look_for,
        "seen_from": condition.seen_from,
        "chance": look.chance,
        "bits": look.bits,
        "raises": ids(base, &look.raises),
    })
}

fn changes(base: &KnowledgeBase, change: &WouldChange) -> Value {
    let id = |key: ConditionKey| base.condition(key).id.as_str();
    let answers = change.answers.iter().map(|(look, seen)| {
        let state = if *seen { State::Seen } else { State::NotSeen };
        (id(*look).to_owned(), json!(state.as_str()))
    });
    let answers: Map<String, Value> = answers.collect();
    json!({"if": answers, "first": id(change.first)})
}
