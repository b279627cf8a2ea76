//! A plan for a person and for a program.

use super::json::why_json;
use super::page::Page;
use super::percent::{in_ten, percent};
use super::show::dose;
use super::titled;
use crate::diagnosis::Diagnosis;
use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase};
use crate::plan::{Plan, Practice, PracticeOrder, Priority, RULES, Referral, Session, Step, rules};
use serde_json::{Value, json};

/// How many drills that were left out a person is shown; a program gets all.
const LEFT_OUT_SHOWN: usize = 6;

/// The plan as a page: the lesson in the order it is taught, then the practice.
#[must_use]
pub fn plan_page(base: &KnowledgeBase, diagnosis: &Diagnosis, plan: &Plan) -> Page {
    let mut page = Page::new();
    if plan.referral.is_some() {
        page.warning(rules::referral_first());
    }
    for caution in &plan.cautions {
        page.warning(caution.clone());
    }
    reading(&mut page, base, diagnosis);
    let place = if plan.place_given {
        plan.place.words().to_owned()
    } else {
        format!("{} (no place was given)", plan.place.words())
    };
    page.heading(format!("Lesson, {} minutes, {place}", plan.minutes));
    if let Some(nothing) = plan.nothing {
        page.text(nothing.words());
    } else {
        goal(&mut page, base, plan);
    }
    lesson(&mut page, base, plan);
    for step in &plan.steps {
        step_card(&mut page, base, step);
    }
    not_before(&mut page, base, plan);
    what_if(&mut page, base, plan);
    look_instead(&mut page, base, plan);
    practice(&mut page, base, &plan.practice);
    page.text(format!("Library {}.", version(base)));
    page
}

/// The start of the library's content hash, enough to tell two libraries apart.
pub(super) fn version(base: &KnowledgeBase) -> &str {
    base.content_hash.get(..12).unwrap_or(&base.content_hash)
}

fn name(base: &KnowledgeBase, key: ConditionKey) -> &str {
    &base.condition(key).name
}

fn names(base: &KnowledgeBase, keys: &[ConditionKey]) -> String {
    keys.iter()
        .map(|key| name(base, *key))
        .collect::<Vec<_>>()
        .join(", ")
}

fn drill_names(base: &KnowledgeBase, keys: &[DrillKey]) -> String {
    keys.iter()
        .map(|key| titled(base.drill(*key)))
        .collect::<Vec<_>>()
        .join(", ")
}

fn reading(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis) {
    page.heading("What was read")
        .bullets(diagnosis.observations.iter().map(|seen| {
            format!(
                "{} = {} ({})",
                seen.given,
                name(base, seen.condition),
                seen.state.as_str()
            )
        }));
}

fn goal(page: &mut Page, base: &KnowledgeBase, plan: &Plan) {
    page.bullets(plan.priorities.iter().map(|priority| {
        let chain = if priority.chain.len() > 1 {
            format!(" ({})", chain(base, &priority.chain))
        } else {
            String::new()
        };
        let held = if priority.treats_a_link {
            format!(
                " It is a link more than the start: {} while it is held right, less of it lasts.",
                percent(priority.clears_while_held)
            )
        } else {
            String::new()
        };
        format!(
            "Work on: {}. Without it {} of what was seen would be gone{chain}.{held}",
            name(base, priority.condition),
            percent(priority.clears)
        )
    }));
    page.text(format!(
        "Expected to clear: {} of what was seen ({}), as far as the library's strengths and effects go. Expect it to feel worse before it gets better, and judge it after two weeks or more.",
        percent(plan.expected_to_clear),
        in_ten(plan.expected_to_clear)
    ));
}

fn chain(base: &KnowledgeBase, keys: &[ConditionKey]) -> String {
    keys.iter()
        .map(|key| name(base, *key))
        .collect::<Vec<_>>()
        .join(" -> ")
}

fn lesson(page: &mut Page, base: &KnowledgeBase, plan: &Plan) {
    let mut rows = Vec::new();
    let mut row = |minutes: f64, what: &str, ladder: &str, why: &str| {
        rows.push([
            format!("{minutes}"),
            what.to_owned(),
            ladder.to_owned(),
            why.to_owned(),
        ]);
    };
    if let Some(referral) = &plan.referral {
        row(
            referral.minutes,
            &referral_words(base, referral),
            "",
            &format!("First: {}", names(base, &referral.pains)),
        );
    }
    if !plan.steps.is_empty() {
        row(plan.frame.warm_up, "Talk and warm-up", "", "");
        row(
            plan.frame.baseline,
            &format!("Baseline. {}", plan.baseline),
            "",
            "",
        );
        for step in &plan.steps {
            let drill = base.drill(step.drill);
            row(step.minutes, &titled(drill), drill.rung.words(), &step.why);
        }
        row(
            plan.frame.retest,
            &format!("Re-test and notes: {}", names(base, &plan.retest)),
            "",
            "The same count as the baseline",
        );
    }
    page.grid(["Min", "What", "Ladder", "Why"], rows);
    if plan.used > 0.0 {
        page.text(format!(
            "{} of {} minutes are planned.",
            plan.used, plan.minutes
        ));
    }
    if !plan.to_hand.is_empty() {
        page.text(format!("To hand: {}.", plan.to_hand.join(", ")));
    }
}

fn referral_words(base: &KnowledgeBase, referral: &Referral) -> String {
    if referral.remedies.is_empty() {
        "Stop, and hand over to a licensed health professional".to_owned()
    } else {
        drill_names(base, &referral.remedies)
    }
}

fn step_card(page: &mut Page, base: &KnowledgeBase, step: &Step) {
    let drill = base.drill(step.drill);
    page.heading(titled(drill));
    if !drill.setup.is_empty() {
        page.text(format!("Set up: {}", drill.setup));
    }
    page.steps(drill.steps.iter().cloned());
    let mut points = Vec::new();
    for cue in &step.cues {
        points.push(format!("Feel: {cue}"));
    }
    if !drill.check.is_empty() {
        points.push(format!("Check: {}", drill.check));
    }
    points.push(format!(
        "Go up a rung at {} of {}, twice running. {}",
        step.criterion.hits,
        step.criterion.tries,
        rules::how_little_it_proves(step.criterion)
    ));
    if let Some(wrong) = drill.goes_wrong.first() {
        points.push(format!("When it goes wrong: {wrong}"));
    }
    if let Some(dose) = dose(drill) {
        points.push(format!("How much: {dose}"));
    }
    if !step.watch_for.is_empty() {
        points.push(format!(
            "Watch that it does not bring: {}",
            names(base, &step.watch_for)
        ));
    }
    points.push(format!(
        "Skipping it costs {} of what was seen",
        points_of(step.skipping_costs)
    ));
    page.bullets(points);
}

/// A share as points of a hundred.
fn points_of(share: f64) -> String {
    if share > 0.0 && share < 0.01 {
        "less than 1 point".to_owned()
    } else {
        let points = (share * 100.0).round();
        let word = if (points - 1.0).abs() < 0.5 {
            "point"
        } else {
            "points"
        };
        format!("{points:.0} {word}")
    }
}

fn not_before(page: &mut Page, base: &KnowledgeBase, plan: &Plan) {
    page.heading_if(!plan.not_before.is_empty(), "Not before")
        .bullets(plan.not_before.iter().map(|wait| {
            format!(
                "{} waits for {}: {}",
                name(base, wait.waits),
                name(base, wait.until),
                chain(base, &wait.chain)
            )
        }));
}

fn what_if(page: &mut Page, base: &KnowledgeBase, plan: &Plan) {
    page.heading_if(!plan.out_of_reach.is_empty(), "Out of reach today")
        .bullets(plan.out_of_reach.iter().map(|out| {
            let reasons: Vec<String> = out
                .remedies
                .iter()
                .map(|(drill, why)| format!("{}: {why}", titled(base.drill(*drill))))
                .collect();
            let reasons = if reasons.is_empty() {
                "the library has no drill for it.".to_owned()
            } else {
                format!("no drill for it fits. {}", reasons.join(" "))
            };
            format!(
                "{} would clear {}: {reasons}",
                name(base, out.condition),
                percent(out.clears)
            )
        }));
    if plan.nothing.is_none() {
        let gain = plan.more_time.expected_to_clear - plan.expected_to_clear;
        page.heading(format!("With {} minutes more", plan.more_time.minutes));
        page.text(if plan.more_time.adds.is_empty() {
            "Nothing that counts: the time is better kept for the re-test.".to_owned()
        } else {
            format!(
                "{} more of what was seen, with {}.",
                capital(&points_of(gain)),
                drill_names(base, &plan.more_time.adds)
            )
        });
    }
    page.heading_if(!plan.left_out.is_empty(), "Left out")
        .bullets(
            plan.left_out
                .iter()
                .take(LEFT_OUT_SHOWN)
                .map(|left| format!("{}: {}", titled(base.drill(left.drill)), left.why)),
        );
    if plan.left_out.len() > LEFT_OUT_SHOWN {
        page.text(format!(
            "{} more are listed with --format json.",
            plan.left_out.len() - LEFT_OUT_SHOWN
        ));
    }
}

fn capital(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(characters).collect()
    })
}

fn look_instead(page: &mut Page, base: &KnowledgeBase, plan: &Plan) {
    page.heading_if(!plan.look_instead.is_empty(), "Look at this first")
        .bullets(plan.look_instead.iter().map(|look| {
            let condition = base.condition(look.condition);
            let from = condition
                .seen_from
                .first()
                .map_or(String::new(), |view| format!(" ({})", view.words()));
            format!("{}{from}: {}", condition.name, condition.look_for)
        }));
}

fn practice(page: &mut Page, base: &KnowledgeBase, practice: &Practice) {
    page.heading("Until next time");
    let Some(first) = practice.sessions.first() else {
        page.text(if practice.tasks.is_empty() {
            "Nothing to practise alone yet."
        } else {
            "The drills of this lesson need longer sessions than these; do them with the coach."
        });
        page.bullets(
            practice
                .stop_rules
                .iter()
                .map(|rule| format!("Stop: {rule}")),
        );
        return;
    };
    page.text(format!(
        "{} sessions over {} weeks, each about {} minutes: {} minutes of warm-up, then the tasks, then {} minutes at a target with the whole routine. Rest {} seconds between balls.",
        practice.sessions.len(),
        practice.weeks,
        first.minutes(),
        first.warm_up,
        first.close,
        practice.rest_seconds
    ));
    page.grid(
        ["Task", "Min", "Sets", "Reps", "Balls"],
        first
            .blocks
            .iter()
            .map(|block| {
                [
                    titled(base.drill(block.drill)),
                    format!("{}", block.minutes),
                    block.sets.to_string(),
                    block.reps.to_string(),
                    block.balls.to_string(),
                ]
            })
            .collect(),
    );
    page.bullets(phases(practice).into_iter().map(|(order, from, to)| {
        format!(
            "{}: {} {}",
            if from == to {
                format!("Session {from}")
            } else {
                format!("Sessions {from} to {to}")
            },
            order.words(),
            rules::feedback(order)
        )
    }));
    let days: Vec<String> = practice
        .sessions
        .iter()
        .filter(|session| session.week == 1)
        .map(|session| session.day.to_string())
        .collect();
    page.text(format!("Days of the week: {}.", days.join(", ")));
    page.heading("Stop")
        .bullets(practice.stop_rules.iter().map(|rule| (*rule).to_owned()));
    page.heading("For the next lesson").bullets(
        practice
            .film
            .iter()
            .map(|film| format!("Film. {film}"))
            .chain(practice.bring.iter().map(|look| format!("Look at: {look}"))),
    );
    if practice.too_early_to_judge {
        page.text("The next lesson is too early to judge the change: look, and wait.");
    }
}

/// Runs of sessions of one order: the order, the first and the last, from 1.
pub(super) fn phases(practice: &Practice) -> Vec<(PracticeOrder, usize, usize)> {
    let mut found: Vec<(PracticeOrder, usize, usize)> = Vec::new();
    for (index, session) in practice.sessions.iter().enumerate() {
        match found.last_mut() {
            Some((order, _, to)) if *order == session.order => *to = index + 1,
            _ => found.push((session.order, index + 1, index + 1)),
        }
    }
    found
}

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
        "place": plan.place.as_str(),
        "place_given": plan.place_given,
        "frame": {
            "warm_up": minutes(plan.frame.warm_up),
            "baseline": minutes(plan.frame.baseline),
            "work": minutes(plan.frame.work),
            "retest": minutes(plan.frame.retest),
        },
        "referral": plan.referral.as_ref().map(|referral| json!({
            "says": rules::referral_first(),
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
            "criterion": {
                "hits": step.criterion.hits,
                "tries": step.criterion.tries,
                "proves": rules::how_little_it_proves(step.criterion),
            },
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
        "clears_while_held": priority.clears_while_held,
        "mended": priority.mended,
        "treats_a_link": priority.treats_a_link,
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
