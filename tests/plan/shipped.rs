//! Lessons from the shipped library.

use fairwhy::diagnosis::{Asked, Diagnosis, Observation, ReadBy, State, clears_together, diagnose};
use fairwhy::knowledge::{KnowledgeBase, Strictness, load, shipped};
use fairwhy::lesson::{AtHand, Lesson};
use fairwhy::plan::{Plan, PlanOptions, lesson_order, make_plan};
use std::sync::OnceLock;

/// The shipped library, read once.
pub fn base() -> &'static KnowledgeBase {
    static BASE: OnceLock<KnowledgeBase> = OnceLock::new();
    BASE.get_or_init(|| {
        load(&[shipped()], Strictness::Lesson)
            .expect("the shipped library loads")
            .base
    })
}

/// The lesson for what was seen, by id.
pub fn lesson(seen: &[&str], lesson: Lesson, options: &PlanOptions) -> (Diagnosis, Plan) {
    let base = base();
    let asked = Asked {
        observations: seen
            .iter()
            .map(|id| Observation {
                given: (*id).to_owned(),
                condition: base.find(id).unwrap_or_else(|| panic!("no `{id}`")),
                state: State::Seen,
                read_by: ReadBy::Id,
                perhaps: Vec::new(),
            })
            .collect(),
        lesson,
        ..Asked::default()
    };
    let diagnosis = diagnose(base, &asked).expect("a diagnosis");
    let clears = clears_together(base, &asked).expect("a diagnosis");
    let plan = make_plan(base, &diagnosis, &*clears, options).expect("sound options");
    (diagnosis, plan)
}

/// What holds for every lesson, checked again on real drills.
pub fn check(diagnosis: &Diagnosis, plan: &Plan) {
    let base = base();
    assert!(plan.used <= f64::from(plan.minutes));
    assert!((0.0..=1.0).contains(&plan.expected_to_clear));
    let seen: Vec<_> = diagnosis
        .observations
        .iter()
        .map(|observation| observation.condition)
        .collect();
    for (at, step) in plan.steps.iter().enumerate() {
        let drill = base.drill(step.drill);
        for first in &drill.after {
            assert!(
                plan.steps[..at].iter().any(|s| s.drill == *first),
                "{}",
                drill.id
            );
        }
        for condition in drill.not_with.iter().chain(&drill.aggravates) {
            assert!(!seen.contains(condition), "{}", drill.id);
        }
        assert!(drill.places.contains(&plan.place), "{}", drill.id);
    }
    // A second job is a change of set-up, or was seen.
    if let Some(second) = plan.priorities.get(1) {
        let set_up = lesson_order(base.condition(second.condition).stage) <= 4;
        let short = matches!(
            base.condition(second.condition).stage.words(),
            "short game" | "putting stroke"
        );
        assert!(set_up || short || seen.contains(&second.condition));
    }
}

#[test]
fn a_slice_with_a_weak_grip_is_worked_on_from_the_hands() {
    let (diagnosis, plan) = lesson(
        &["slice", "grip-too-weak", "clubface-open-at-impact"],
        Lesson::default(),
        &PlanOptions::default(),
    );
    check(&diagnosis, &plan);
    let base = base();
    assert_eq!(
        base.condition(plan.priorities[0].condition).id,
        "grip-too-weak"
    );
    let first = base.drill(plan.steps[0].drill);
    assert!(first.effect_on(plan.priorities[0].condition) > 0.0);
}

#[test]
fn a_sore_back_is_handed_over_and_hits_no_ball() {
    let (diagnosis, plan) = lesson(
        &["low-back-pain", "slice", "grip-too-weak"],
        Lesson::default(),
        &PlanOptions::default(),
    );
    check(&diagnosis, &plan);
    let referral = plan.referral.as_ref().expect("something hurts");
    assert!(!referral.remedies.is_empty());
    assert!(plan.steps.is_empty());
    assert!(plan.practice.sessions.is_empty());
}

#[test]
fn equipment_that_there_is_not_is_not_needed() {
    for have in [
        vec![],
        vec!["stick".to_owned()],
        vec!["tees".to_owned(), "towel".to_owned()],
    ] {
        let with = Lesson {
            at_hand: Some(AtHand::of(&have)),
            ..Lesson::default()
        };
        let (diagnosis, plan) = lesson(&["slice", "path-out-to-in"], with, &PlanOptions::default());
        check(&diagnosis, &plan);
        for thing in &plan.to_hand {
            let there = have.iter().any(|h| h.trim_end_matches('s') == thing);
            assert!(there || thing == "ball", "{thing}");
        }
    }
}

#[test]
fn the_same_lesson_is_the_same_to_the_last_byte() {
    let text = || {
        let (diagnosis, plan) = lesson(
            &["hook", "divot-points-out"],
            Lesson::default(),
            &PlanOptions::default(),
        );
        fairwhy::report::plan_json(base(), &diagnosis, &plan, 15).to_string()
    };
    assert_eq!(text(), text());
}
