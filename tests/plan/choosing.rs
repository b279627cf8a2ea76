//! Worked examples: what a good coach would choose, and in which order (common practice).

use crate::fixture::*;
use fairwhy::knowledge::{Place, Shot, Suits};
use fairwhy::lesson::{AtHand, Lesson, LessonTrouble};
use fairwhy::plan::{Nothing, PlanError, PlanOptions, Sessions};

const FINDINGS: [&str; 1] = ["bends-away"];

fn options(minutes: u32) -> PlanOptions {
    PlanOptions {
        minutes,
        ..PlanOptions::default()
    }
}

/// The hold explains the face; the face alone clears little. The hold comes first, its drills climb
/// the ladder, and the face waits for it, by the chain.
#[test]
fn a_set_up_root_comes_before_the_swing_drill_it_explains() {
    let base = library(GRIP);
    let diagnosis = diagnosis(
        &base,
        &["bends-away", "face-open"],
        &[("weak-hold", 0.7, 0.5), ("face-open", 0.9, 0.2)],
    );
    let plan = planned(&base, &diagnosis, &options(45));
    let order = steps(&base, &plan);
    let at = |id: &str| order.iter().position(|drill| *drill == id);
    assert_eq!(at("knuckles"), Some(0), "{order:?}");
    assert!(at("face-feel").is_some(), "{order:?}");
    assert_eq!(base.condition(plan.priorities[0].condition).id, "weak-hold");
    let wait = &plan.not_before[0];
    assert_eq!(
        (wait.waits, wait.until),
        (key(&base, "face-open"), key(&base, "weak-hold"))
    );
    assert_eq!(
        wait.chain,
        [key(&base, "weak-hold"), key(&base, "face-open")]
    );
}

#[test]
fn twenty_minutes_get_one_thing() {
    let base = library(GRIP);
    let diagnosis = diagnosis(
        &base,
        &FINDINGS,
        &[("weak-hold", 0.7, 0.5), ("aimed-in", 0.6, 0.3)],
    );
    let plan = planned(&base, &diagnosis, &options(20));
    assert_eq!(plan.priorities.len(), 1);
    assert_eq!(steps(&base, &plan).len(), 1);
    assert!(plan.used <= 20.0);
    // What a longer lesson would add is said, and is more.
    assert!(plan.more_time.expected_to_clear > plan.expected_to_clear);
    assert!(!plan.more_time.adds.is_empty());
}

/// Two changes of motion are one too many; a change of set-up may come along.
#[test]
fn two_motions_are_never_changed_at_once() {
    let base = library(GRIP);
    let motions = diagnosis(
        &base,
        &FINDINGS,
        &[("sways", 0.6, 0.4), ("face-open", 0.6, 0.4)],
    );
    assert_eq!(planned(&base, &motions, &options(60)).priorities.len(), 1);
    let with_aim = diagnosis(
        &base,
        &["bends-away", "sways"],
        &[("sways", 0.6, 0.4), ("aimed-in", 0.6, 0.2)],
    );
    let plan = planned(&base, &with_aim, &options(60));
    assert_eq!(plan.priorities.len(), 2);
    // What is worth most is the first job, and the set-up is the first to be done.
    assert_eq!(base.condition(plan.priorities[0].condition).id, "sways");
    assert_eq!(base.condition(plan.priorities[1].condition).id, "aimed-in");
    assert_eq!(steps(&base, &plan), ["stick-aim", "hip-wall"]);
}

/// A second job in the motion that nobody has seen waits for the look; once seen, it comes along.
#[test]
fn what_nobody_has_seen_is_looked_at_first() {
    let base = library(&GRIP.replace(
        "name: Face open at the ball\n",
        "name: Face open at the ball\n    look: {from: [face-on], for: See where it points}\n",
    ));
    let causes = [("weak-hold", 0.7, 0.5), ("face-open", 0.9, 0.2)];
    let unseen = planned(&base, &diagnosis(&base, &FINDINGS, &causes), &options(60));
    assert_eq!(unseen.priorities.len(), 1);
    assert_eq!(unseen.look_first, Some(key(&base, "face-open")));
    let seen = diagnosis(&base, &["bends-away", "face-open"], &causes);
    let seen = planned(&base, &seen, &options(60));
    assert_eq!((seen.priorities.len(), seen.look_first), (2, None));
}

/// What the drills leave of an hour is played in, and counted.
#[test]
fn the_lesson_is_filled() {
    let base = library(GRIP);
    let diagnosis = diagnosis(&base, &FINDINGS, &[("sways", 0.6, 0.4)]);
    let plan = planned(&base, &diagnosis, &options(60));
    // 10 + 10 + 10 beside the work and 5 of work leave 25.
    assert!((plan.free - 25.0).abs() < 1e-12);
    assert!((plan.used - 60.0).abs() < 1e-12);
}

/// By hand: knuckles 0.8 in full, half-holds 0.6 for half: 1 - 0.2 * 0.7 = 0.86 of 0.5 is 0.43.
/// Without knuckles its follower goes too, so that skipping it costs everything.
#[test]
fn the_figures_can_be_worked_by_hand() {
    let base = library(GRIP);
    let diagnosis = diagnosis(
        &base,
        &["bends-away", "sways"],
        &[("weak-hold", 0.7, 0.5), ("sways", 0.6, 0.0)],
    );
    let plan = planned(&base, &diagnosis, &options(30));
    assert_eq!(steps(&base, &plan), ["knuckles", "half-holds"]);
    assert!((plan.expected_to_clear - 0.43).abs() < 1e-12);
    assert!((plan.steps[0].skipping_costs - 0.43).abs() < 1e-12);
    assert!((plan.steps[1].skipping_costs - 0.03).abs() < 1e-12);
    // 5 + 5 + 5 beside the work, and 14 of work.
    assert!((plan.used - 29.0).abs() < 1e-12);
}

#[test]
fn what_does_not_fit_says_why() {
    let base = library(GRIP);
    let diagnosis = diagnosis(
        &base,
        &["bends-away", "sways"],
        &[
            ("weak-hold", 0.7, 0.5),
            ("sways", 0.6, 0.1),
            ("aimed-in", 0.5, 0.3),
        ],
    );
    let plan = planned(
        &base,
        &within(
            &diagnosis,
            Lesson {
                at_hand: Some(AtHand::of(&["mirror"])),
                ..Lesson::default()
            },
        ),
        &options(45),
    );
    let (reason, why) = left_out(&base, &plan, "big-turn");
    assert_eq!(reason, "aggravates");
    assert!(why.contains("Hips drift back"), "{why}");
    let (reason, why) = left_out(&base, &plan, "stick-aim");
    assert_eq!(reason, "equipment");
    assert!(why.contains("stick"), "{why}");
}

#[test]
fn no_place_at_all_says_what_to_look_at() {
    let base = library(GRIP);
    let diagnosis = diagnosis(&base, &FINDINGS, &[("weak-hold", 0.7, 0.5)]);
    let plan = planned(
        &base,
        &within(
            &diagnosis,
            Lesson {
                place: Some(Place::Course),
                ..Lesson::default()
            },
        ),
        &options(45),
    );
    assert!(plan.steps.is_empty());
    assert_eq!(plan.nothing, Some(Nothing::NoDrillFits));
    assert_eq!(left_out(&base, &plan, "knuckles").0, "place");
    assert!(plan.used.abs() < 1e-12 && plan.expected_to_clear.abs() < 1e-12);
}

#[test]
fn nothing_to_clear_is_said_and_is_no_error() {
    let base = library(GRIP);
    let none = diagnosis(&base, &FINDINGS, &[("weak-hold", 0.7, 0.0)]);
    assert_eq!(
        planned(&base, &none, &options(45)).nothing,
        Some(Nothing::NoCause)
    );
    let unseen = diagnosis(&base, &[], &[]);
    assert_eq!(
        planned(&base, &unseen, &options(45)).nothing,
        Some(Nothing::NothingSeen)
    );
}

#[test]
fn options_that_make_no_sense_are_refused_with_what_to_write() {
    let base = library(GRIP);
    let diagnosis = diagnosis(&base, &FINDINGS, &[("weak-hold", 0.7, 0.5)]);
    let refused = |diagnosis: &_, options: &PlanOptions| {
        fairwhy::plan::make_plan(&base, diagnosis, &|_| 0.0, options).expect_err("refused")
    };
    for minutes in [0, 3, 9, 181, u32::MAX] {
        let error = refused(&diagnosis, &options(minutes));
        assert_eq!(error, PlanError::Minutes(minutes));
    }
    let error = refused(
        &diagnosis,
        &PlanOptions {
            weeks: 0,
            ..options(45)
        },
    );
    assert_eq!(error, PlanError::Weeks(0));
    let error = refused(
        &diagnosis,
        &PlanOptions {
            sessions: Sessions {
                a_week: 9,
                minutes: 20,
            },
            ..options(45)
        },
    );
    assert!(
        matches!(error, PlanError::Sessions(given) if given.a_week == 9),
        "{error:?}"
    );
    let refused_in = |lesson: Lesson| refused(&within(&diagnosis, lesson), &options(45));
    let error = refused_in(Lesson {
        at_hand: Some(AtHand::of(&["stik"])),
        ..Lesson::default()
    });
    assert_eq!(
        error,
        PlanError::Lesson(LessonTrouble::Thing {
            given: "stik".into(),
            nearest: vec!["stick".into()],
        })
    );
    let error = refused_in(Lesson {
        suits: vec![Suits::Junior, Suits::Senior],
        ..Lesson::default()
    });
    assert_eq!(
        error,
        PlanError::Lesson(LessonTrouble::Suits(Suits::Junior, Suits::Senior))
    );
    let error = refused_in(Lesson {
        shot: Some(Shot::Driver),
        place: Some(Place::PuttingGreen),
        ..Lesson::default()
    });
    assert_eq!(
        error,
        PlanError::Place {
            shot: Shot::Driver,
            place: Place::PuttingGreen,
            instead: Place::Range,
        }
    );
}

#[test]
fn practice_fits_the_sessions_and_goes_from_blocked_to_mixed() {
    let base = library(GRIP);
    let diagnosis = diagnosis(&base, &FINDINGS, &[("weak-hold", 0.7, 0.5)]);
    let plan = planned(&base, &diagnosis, &options(45));
    let practice = &plan.practice;
    assert_eq!(practice.sessions.len(), 12);
    assert!(practice.tasks.len() <= 3);
    for session in &practice.sessions {
        assert!(session.minutes() <= 20.0 && session.balls() <= 80);
        assert!(!session.blocks.is_empty());
    }
    let orders: Vec<&str> = practice.sessions.iter().map(|s| s.order.as_str()).collect();
    assert_eq!(orders[0], "blocked");
    assert_eq!(orders[5], "serial");
    assert_eq!(orders[11], "random");
}
