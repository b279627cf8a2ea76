//! A plan for a program.

use super::json::why_json;
use crate::diagnosis::Diagnosis;
use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase};
use crate::plan::{Plan, Practice, Priority, RULES, Session, rules};
use serde_json::{Value, json};

/// The diagnosis as [`why_json`] gives it, and the plan under `plan`.
///
/// `most` bounds how many causes are listed. Minutes are numbers, chances in full double precision.
#[must_use]
pub fn plan_json(base: &KnowledgeBase, diagnosis: &Diagnosis, plan: &Plan, most: usize) -> Value {
    let mut json = why_json(base, diagnosis, most);
    json["plan"] = plan_alone(base, plan);
    json
}

/// A number of minutes, whole where it is whole.
fn minutes(minutes: f64) -> Value {
    if minutes.fract() == 0.0 && minutes.abs() < 1e9 {
        // Whole, and far inside what an integer holds.
        #[allow(clippy::cast_possible_truncation)]
        let whole = minutes as i64;
        json!(whole)
    } else {
        json!(minutes)
    }
}

fn plan_alone(base: &KnowledgeBase, plan: &Plan) -> Value {
    let id = |key: &ConditionKey| base.condition(*key).id.as_str();
    let ids = |keys: &[ConditionKey]| keys.iter().map(id).collect::<Vec<_>>();
    let drill = |key: &DrillKey| base.drill(*key).id.as_str();
    let drills = |keys: &[DrillKey]| keys.iter().map(drill).collect::<Vec<_>>();
    json!({
        "minutes": plan.minutes,
        "used": minutes(plan.used),
        "free": minutes(plan.free),
        "look_first": plan.look_first.as_ref().map(id),
        "place": plan.place.as_str(),
        "place_given": plan.place_given,
        "frame": {
            "warm_up": minutes(plan.frame.warm_up),
            "baseline": minutes(plan.frame.baseline),
            "work": minutes(plan.frame.work),
            "retest": minutes(plan.frame.retest),
        },
        "refer": plan.refer,
        "referral": plan.referral.as_ref().map(|referral| json!({
            "pains": ids(&referral.pains),
            "remedies": drills(&referral.remedies),
            "minutes": minutes(referral.minutes),
        })),
        "priorities": plan.priorities.iter().map(|p| id(&p.condition)).collect::<Vec<_>>(),
        "why": plan.priorities.iter().map(|p| priority(base, p)).collect::<Vec<_>>(),
        "expected_to_clear": plan.expected_to_clear,
        "baseline": plan.baseline,
        "steps": steps(base, plan),
        "retest": ids(&plan.retest),
        "left_out": plan.left_out.iter().map(|left| json!({
            "drill": drill(&left.drill),
            "for": id(&left.for_condition),
            "reason": left.reason,
            "why": left.why,
        })).collect::<Vec<_>>(),
        "out_of_reach": plan.out_of_reach.iter().map(|out| json!({
            "id": id(&out.condition),
            "clears": out.clears,
            "remedies": out.remedies.iter().map(|(key, why)| json!({"drill": drill(key), "why": why})).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "not_before": plan.not_before.iter().map(|wait| json!({
            "waits": id(&wait.waits),
            "until": id(&wait.until),
            "chain": ids(&wait.chain),
        })).collect::<Vec<_>>(),
        "more_time": {
            "minutes": plan.more_time.minutes,
            "expected_to_clear": plan.more_time.expected_to_clear,
            "adds": drills(&plan.more_time.adds),
        },
        "to_hand": plan.to_hand,
        "cautions": plan.cautions,
        "nothing": plan.nothing.map(|nothing| json!({"reason": nothing.code(), "says": nothing.words()})),
        "look_instead": plan.look_instead.iter().map(|look| id(&look.condition)).collect::<Vec<_>>(),
        "practice": weeks(base, &plan.practice),
        "practice_notes": {
            "tasks": drills(&plan.practice.tasks),
            "rest_seconds": plan.practice.rest_seconds,
            "stop": plan.practice.stop_rules,
            "film": plan.practice.film,
            "bring": plan.practice.bring,
            "too_early_to_judge": plan.practice.too_early_to_judge,
            "rules": RULES.iter().map(|rule| json!({
                "name": rule.name, "says": rule.says, "source": rule.source,
                "basis": rule.basis, "but": rule.but,
            })).collect::<Vec<_>>(),
        },
    })
}

/// Referrals first, then the drills in order.
fn steps(base: &KnowledgeBase, plan: &Plan) -> Vec<Value> {
    let ids = |keys: &[ConditionKey]| {
        keys.iter()
            .map(|key| base.condition(*key).id.clone())
            .collect::<Vec<_>>()
    };
    let referrals = plan.referral.iter().flat_map(|referral| {
        let each = referral.minutes / referral.remedies.len().max(1) as f64;
        referral.remedies.iter().map(move |key| {
            let own = base.drill(*key);
            json!({
                "drill": own.id,
                "name": own.name,
                "kind": own.kind,
                "minutes": minutes(each),
                "ladder": own.rung,
                "works_on": ids(&referral.pains),
                "why": "Something hurts: this comes before everything else.",
            })
        })
    });
    let drills = plan.steps.iter().map(|step| {
        let own = base.drill(step.drill);
        json!({
            "drill": own.id,
            "name": own.name,
            "status": own.status,
            "kind": own.kind,
            "minutes": minutes(step.minutes),
            "ladder": own.rung,
            "works_on": ids(&step.works_on),
            "opens": step.opens.iter().map(|key| base.drill(*key).id.as_str()).collect::<Vec<_>>(),
            "why": step.why,
            "skipping_costs": step.skipping_costs,
            "watch_for": ids(&step.watch_for),
            "criterion": step.criterion.map(|counted| json!({
                "hits": counted.hits,
                "tries": counted.tries,
                "proves": rules::how_little_it_proves(counted),
            })),
            "cues": step.cues,
            "equipment": own.equipment,
        })
    });
    referrals.chain(drills).collect()
}

fn priority(base: &KnowledgeBase, priority: &Priority) -> Value {
    json!({
        "id": base.condition(priority.condition).id,
        "clears": priority.clears,
        "on_the_way": priority.on_the_way,
        "mended": priority.mended,
        "is_link": priority.is_link,
        "chain": priority.chain.iter().map(|key| base.condition(*key).id.as_str()).collect::<Vec<_>>(),
        "because": priority.because,
    })
}

fn weeks(base: &KnowledgeBase, practice: &Practice) -> Vec<Value> {
    let session = |session: &Session| {
        json!({
            "minutes": minutes(session.minutes()),
            "day": session.day,
            "order": session.order.as_str(),
            "feedback": rules::feedback(session.order),
            "warm_up": minutes(session.warm_up),
            "balls": session.balls(),
            "steps": session.blocks.iter().map(|block| base.drill(block.drill).id.as_str()).collect::<Vec<_>>(),
            "blocks": session.blocks.iter().map(|block| json!({
                "drill": base.drill(block.drill).id,
                "minutes": minutes(block.minutes),
                "sets": block.sets, "reps": block.reps, "balls": block.balls,
            })).collect::<Vec<_>>(),
            "close": minutes(session.close),
        })
    };
    (1..=practice.weeks)
        .map(|week| {
            json!({
                "week": week,
                "sessions": practice.sessions.iter().filter(|s| s.week == week).map(session).collect::<Vec<_>>(),
            })
        })
        .collect()
}
