//! What is never in a plan.

use crate::fixture::*;
use fairwhy::knowledge::{Refer, Suits};
use fairwhy::lesson::Lesson;
use fairwhy::plan::{Nothing, PlanOptions};

#[test]
fn pain_goes_first_and_leaves_nothing_but_the_referral() {
    let base = library(GRIP);
    let diagnosis = diagnosis(
        &base,
        &["bends-away", "sore-back"],
        &[("weak-hold", 0.7, 0.5), ("sways", 0.4, 0.4)],
    );
    let plan = planned(&base, &diagnosis, &PlanOptions::default());
    let referral = plan.referral.as_ref().expect("something hurts");
    assert_eq!(base.drill(referral.remedies[0]).id, "see-someone");
    assert!(referral.minutes > 0.0);
    assert!(plan.steps.is_empty() && plan.priorities.is_empty());
    assert!(plan.left_out.is_empty() && plan.out_of_reach.is_empty());
    assert_eq!(plan.nothing, Some(Nothing::Referred));
    assert_eq!(plan.expected_to_clear, 0.0);
    assert!(plan.practice.sessions.is_empty());
    assert!(plan.used <= 45.0);
}

/// A limit given beside the diagnosis closes the same drills as one that was reported.
#[test]
fn a_known_limit_counts_like_a_reported_pain() {
    let base = library(GRIP);
    let diagnosis = diagnosis(&base, &["bends-away"], &[("sways", 0.7, 0.5)]);
    let free = planned(&base, &diagnosis, &PlanOptions::default());
    assert_eq!(steps(&base, &free), ["hip-wall"]);
    let limited = planned(
        &base,
        &within(
            &diagnosis,
            Lesson {
                limits: vec![key(&base, "sore-back")],
                ..Lesson::default()
            },
        ),
        &PlanOptions::default(),
    );
    assert!(limited.steps.is_empty() && limited.referral.is_some());
}

/// With an old injury the doctor is asked first: set-up and gentle rehearsal are left, and of these
/// none that must not be done with it.
#[test]
fn before_the_doctor_was_asked_only_what_is_gentle_is_left() {
    let base = library(
        "
outcomes:
  - {id: short, name: Ball comes up short, stage: ball-flight}
causes:
  - {id: slow, name: Swings slowly, stage: tempo}
  - {id: new-joint, name: New joint, stage: body, refer: ask}
drills:
  - {id: rip, name: Full swings, treats: [{id: slow, effect: 0.9}], ladder: full-speed, dose: {minutes: 6, balls: 10}, steps: [Swing], check: 8 of 10}
  - {id: turn, name: Slow turns, treats: [{id: slow, effect: 0.1}], ladder: rehearsal, dose: {minutes: 4}, steps: [Turn], check: 8 of 10}
  - {id: bend, name: Deep bends, treats: [{id: slow, effect: 0.5}], ladder: rehearsal, dose: {minutes: 4}, steps: [Bend], check: 8 of 10, not_with: [new-joint]}
",
    );
    let diagnosis = diagnosis(&base, &["short", "new-joint"], &[("slow", 0.7, 0.5)]);
    let plan = planned(&base, &diagnosis, &PlanOptions::default());
    assert_eq!(steps(&base, &plan), ["turn"]);
    assert_eq!(plan.refer, Some(Refer::Ask));
    assert_eq!(left_out(&base, &plan, "rip").0, "ask-first");
    assert_eq!(left_out(&base, &plan, "bend").0, "not-with");
}

/// What was seen closes a drill that can make it worse. What is only likely never does: nobody has
/// looked yet, so the plan says to watch.
#[test]
fn what_was_seen_closes_a_drill_and_what_is_likely_is_watched() {
    let base = library(GRIP);
    let with = |findings: &[&str], chance| {
        let diagnosis = diagnosis(
            &base,
            findings,
            &[("weak-hold", 0.7, 0.5), ("sways", chance, 0.0)],
        );
        planned(&base, &diagnosis, &PlanOptions::default())
    };
    let seen = with(&["bends-away", "sways"], 1.0);
    assert!(!steps(&base, &seen).contains(&"big-turn"));
    let watched = with(&["bends-away"], 0.9);
    let step = watched
        .steps
        .iter()
        .find(|step| base.drill(step.drill).id == "big-turn")
        .expect("it is the best drill");
    assert_eq!(step.watch_for, [key(&base, "sways")]);
    let free = with(&["bends-away"], 0.1);
    assert!(free.steps.iter().all(|step| step.watch_for.is_empty()));
}

/// A junior, a chair and one arm each need a drill that says it fits.
#[test]
fn juniors_get_only_what_is_made_for_them() {
    let base = library(GRIP);
    let diagnosis = diagnosis(&base, &["bends-away"], &[("weak-hold", 0.7, 0.5)]);
    let of = |suits| {
        let lesson = Lesson {
            suits: vec![suits],
            ..Lesson::default()
        };
        within(&diagnosis, lesson)
    };
    for suits in [Suits::Junior, Suits::Seated, Suits::OneArm] {
        let plan = planned(&base, &of(suits), &PlanOptions::default());
        assert!(plan.steps.is_empty());
        assert_eq!(left_out(&base, &plan, "knuckles").0, "suits");
    }
    let plan = planned(&base, &of(Suits::Senior), &PlanOptions::default());
    assert!(!steps(&base, &plan).contains(&"full-rip"));
    assert_eq!(plan.practice.rest_seconds, 60);
}

/// Full swings at speed come after ten easy minutes, in the lesson and in practice.
#[test]
fn nobody_swings_fast_before_ten_easy_minutes() {
    let base = library(
        "
outcomes:
  - {id: short, name: Ball comes up short, stage: ball-flight}
causes:
  - {id: slow, name: Swings slowly, stage: tempo}
drills:
  - {id: rip, name: Full swings, treats: [{id: slow, effect: 0.9}], ladder: full-speed, dose: {minutes: 6, balls: 10}, steps: [Swing], check: 8 of 10}
  - {id: turn, name: Slow turns, treats: [{id: slow, effect: 0.1}], ladder: rehearsal, dose: {minutes: 4}, steps: [Turn], check: 8 of 10}
",
    );
    let diagnosis = diagnosis(&base, &["short"], &[("slow", 0.7, 0.5)]);
    let at = |minutes| {
        let options = PlanOptions {
            minutes,
            ..PlanOptions::default()
        };
        planned(&base, &diagnosis, &options)
    };
    assert_eq!(steps(&base, &at(20)), ["turn"]);
    assert_eq!(steps(&base, &at(45)), ["turn", "rip"]);
    for session in &at(45).practice.sessions {
        let mut easy = session.warm_up;
        for block in &session.blocks {
            if base.drill(block.drill).id == "rip" {
                assert!(easy >= 10.0, "{session:?}");
            } else {
                easy += block.minutes;
            }
        }
    }
}
