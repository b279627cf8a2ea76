//! The store by itself.

use super::{Desk, day, lesson, student};
use fairwhy::records::{DrillResult, Outcome, StoreError, from_csv, from_lines, to_csv, to_lines};

fn outcome(drill: &str, result: DrillResult) -> Outcome {
    Outcome {
        number: 0,
        day: day("2026-05-11"),
        coach: String::new(),
        lesson: None,
        drill: drill.into(),
        result,
        reps: Some(40),
        note: Some("lost it, twice".into()),
    }
}

#[test]
fn what_is_kept_comes_back_to_the_last_bit() {
    let desk = Desk::new();
    let mut store = desk.store();
    store
        .add_student(&student("heron"), Some("stiff neck"))
        .expect("kept");
    let first = store
        .add_lesson("heron", &lesson("2026-05-04"))
        .expect("kept");
    // The same day again is a lesson of its own.
    let second = store
        .add_lesson("heron", &lesson("2026-05-04"))
        .expect("kept");
    assert_eq!((first.number, second.number), (1, 2));
    let told = store
        .add_outcome("heron", &outcome("count-the-knuckles", DrillResult::Partly))
        .expect("kept");
    assert_eq!(told.lesson, Some(2));
    let history = desk.read().history("heron").expect("read");
    assert_eq!(history.lessons, [first, second]);
    assert_eq!(history.outcomes, [told]);
    assert_eq!(
        desk.read().limits("heron").expect("read").as_deref(),
        Some("stiff neck")
    );
}

/// A lesson that is dated earlier, or kept while the clock was wrong, takes its place by its day; on one
/// day the order is that in which they were kept.
#[test]
fn a_clock_set_back_changes_no_order() {
    let desk = Desk::new();
    let mut store = desk.store();
    store.add_student(&student("heron"), None).expect("kept");
    for on in ["2026-05-04", "2026-05-04", "2020-01-01", "2026-05-04"] {
        store.add_lesson("heron", &lesson(on)).expect("kept");
    }
    let lessons = store.history("heron").expect("read").lessons;
    let order: Vec<i64> = lessons.iter().map(|lesson| lesson.number).collect();
    assert_eq!(order, [3, 1, 2, 4]);
}

#[test]
fn every_change_is_undone_and_done_again() {
    let desk = Desk::new();
    let mut store = desk.store();
    let all = |desk: &Desk| desk.read().entries(None).expect("read");
    let mut steps = vec![all(&desk)];
    store
        .add_student(&student("heron"), Some("stiff neck"))
        .expect("kept");
    steps.push(all(&desk));
    store
        .edit_student("heron", |student, limits| {
            student.goals.push("break ninety".into());
            *limits = None;
        })
        .expect("kept");
    steps.push(all(&desk));
    store
        .add_lesson("heron", &lesson("2026-05-04"))
        .expect("kept");
    steps.push(all(&desk));
    store
        .add_outcome("heron", &outcome("count-the-knuckles", DrillResult::No))
        .expect("kept");
    steps.push(all(&desk));
    let last = steps.len() - 1;
    assert!(!store.undo().expect("undone").again);
    assert_eq!(all(&desk), steps[last - 1]);
    assert!(store.undo().expect("done again").again);
    assert_eq!(all(&desk), steps[last]);
    assert!(store.check().expect("read").complaints.is_empty());
}

#[test]
fn an_undo_never_takes_along_what_came_after() {
    let desk = Desk::new();
    let mut store = desk.store();
    let nothing = store.undo().expect_err("nothing was done");
    assert!(matches!(nothing, StoreError::NothingToUndo));
    store.add_student(&student("heron"), None).expect("kept");
    let before = desk.read().entries(None).expect("read");
    store.undo().expect("undone");
    assert!(desk.read().students().expect("read").is_empty());
    store.undo().expect("done again");
    assert_eq!(desk.read().entries(None).expect("read"), before);
}

#[test]
fn text_goes_round_to_the_last_bit() {
    let desk = Desk::new();
    let mut store = desk.store();
    store
        .add_student(&student("heron"), Some("stiff neck,\r\n\"old\""))
        .expect("kept");
    store.add_student(&student("wren"), None).expect("kept");
    store
        .add_lesson("heron", &lesson("2026-05-04"))
        .expect("kept");
    store
        .add_lesson("wren", &lesson("2026-05-05"))
        .expect("kept");
    store
        .add_outcome("wren", &outcome("count-the-knuckles", DrillResult::Worse))
        .expect("kept");
    let entries = store.entries(None).expect("read");
    assert_eq!(from_lines(&to_lines(&entries)).expect("read"), entries);
    assert_eq!(from_csv(&to_csv(&entries)).expect("read"), entries);
    let other = Desk::new();
    let mut there = other.store();
    assert_eq!(there.take_in(&entries).expect("taken in"), entries.len());
    assert_eq!(there.entries(None).expect("read"), entries);
    assert_eq!(there.take_in(&entries).expect("nothing new"), 0);
    // One thing at odds, and nothing is taken in.
    let mut changed = entries.clone();
    changed.retain(|entry| entry.handle() == "wren");
    let third_desk = Desk::new();
    let mut third = third_desk.store();
    third
        .add_student(&student("wren"), Some("otherwise"))
        .expect("kept");
    assert!(matches!(
        third.take_in(&changed),
        Err(StoreError::AtOdds(_))
    ));
    assert_eq!(third.entries(None).expect("read").len(), 1);
}

#[test]
fn slips_in_text_name_their_line() {
    for (text, line) in [
        ("", 1),
        ("{}\n", 1),
        ("{\"kind\":\"fairwhy-records\",\"form\":99}\n", 1),
        (
            "{\"kind\":\"fairwhy-records\",\"form\":1}\n\n{\"kind\":\"lessen\"}\n",
            3,
        ),
    ] {
        assert_eq!(
            from_lines(text).expect_err("no records").line,
            line,
            "{text}"
        );
    }
    for (text, line) in [
        ("a,b\n", 1),
        (
            "kind,handle,number,field,type,value\nstudent,heron,0,kind,word,student\n",
            2,
        ),
        (
            "kind,handle,number,field,type,value\nstudent,heron,0,kind,text,student\n",
            2,
        ),
    ] {
        assert_eq!(from_csv(text).expect_err("no records").line, line, "{text}");
    }
}

/// What is forgotten is in no page of the file, used or free.
#[test]
fn forgetting_leaves_nothing_behind() {
    let desk = Desk::new();
    let mut store = desk.store();
    store
        .add_student(&student("whimbrel"), Some("left wrist"))
        .expect("kept");
    store.add_student(&student("wren"), None).expect("kept");
    for _ in 0..30 {
        store
            .add_lesson("whimbrel", &lesson("2026-05-04"))
            .expect("kept");
    }
    store
        .edit_student("whimbrel", |student, _| {
            student.goals.push("a goal of whimbrel".into())
        })
        .expect("kept");
    store.undo().expect("undone");
    let copy = desk.folder.path().join("copy.db");
    store.backup(&copy).expect("copied");
    assert!(super::bytes_hold(&desk.file(), "whimbrel"));
    let forgotten = store.forget("whimbrel").expect("forgotten");
    assert_eq!(forgotten.lessons, 30);
    assert_eq!(forgotten.backups.len(), 1);
    drop(store);
    assert!(!super::bytes_hold(&desk.file(), "whimbrel"));
    assert!(!super::bytes_hold(&desk.file(), "left wrist"));
    assert!(super::bytes_hold(&copy, "whimbrel"));
    assert_eq!(desk.read().students().expect("read").len(), 1);
    assert!(matches!(
        desk.store().undo(),
        Err(StoreError::NothingToUndo) | Ok(_)
    ));
}

#[test]
fn one_student_of_a_thousand_lessons() {
    let desk = Desk::new();
    let mut store = desk.store();
    store.add_student(&student("heron"), None).expect("kept");
    let mut entries = Vec::new();
    for number in 1..=1000 {
        let on = day("2000-01-01") + chrono::Duration::days(number);
        let mut one = lesson("2026-05-04");
        one.day = on;
        one.number = number;
        entries.push(fairwhy::records::Record::Lesson {
            handle: "heron".into(),
            lesson: one,
        });
    }
    assert_eq!(store.take_in(&entries).expect("taken in"), 1000);
    let kept = store
        .add_lesson("heron", &lesson("2026-05-04"))
        .expect("kept");
    assert_eq!(kept.number, 1001);
    assert_eq!(store.history("heron").expect("read").lessons.len(), 1001);
}
