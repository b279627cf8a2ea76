//! Numbers of a student on the timeline: off the ball, off a frame, off a table, counted.

use super::{Desk, lesson, student};
use serde_json::{Value, json};

fn file(desk: &Desk, name: &str, text: &str) -> String {
    let path = desk.folder.path().join(name);
    std::fs::write(&path, text).expect("written");
    path.to_str().expect("text").to_owned()
}

fn measured(desk: &Desk, place: usize) -> Value {
    desk.json(&["student", "show", "heron"])["lessons"][place]["measured"].clone()
}

#[test]
fn a_flight_goes_onto_the_timeline_and_is_held_against_the_last() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron", "--handed", "left"]);
    let mut store = desk.store();
    store
        .add_lesson("heron", &lesson("2026-05-01"))
        .expect("kept");
    drop(store);
    let flight = |path: &str, day: &str| {
        let path = format!("--path={path}");
        let all = [
            "flight",
            "--face=1",
            &path,
            "--error",
            "path=1",
            "--student",
            "heron",
            "--on",
            day,
        ];
        desk.done(&all)
    };
    let first = flight("-6", "2026-05-04");
    assert!(
        first.contains("saved: numbers 2 of heron, 2026-05-04, read back"),
        "{first}"
    );
    // A left-hander's in is to the right.
    assert!(
        first.contains("right") && !first.contains("Since the last"),
        "{first}"
    );
    let then = flight("-1", "2026-06-01");
    assert!(
        then.contains("club-path: -6 then -1 degrees: a real change"),
        "{then}"
    );
    let path = json!({"quantity": "club-path", "value": -6.0, "unit": "degrees", "error_sd": 1.0});
    assert!(
        measured(&desk, 1)
            .as_array()
            .expect("a list")
            .contains(&path)
    );
    let shown = desk.done(&["student", "show", "heron"]);
    assert!(
        shown.contains("numbers 2") && shown.contains("From: flight"),
        "{shown}"
    );
    // The last lesson is a lesson, and no number in between.
    let next = desk.done(&["lesson", "next", "heron"]);
    assert!(
        next.contains("2026-05-01") && next.contains("Grip too weak"),
        "{next}"
    );
    let progress = desk.done(&["progress", "heron"]);
    assert!(progress.contains("club-path: -6 degrees"), "{progress}");
    // What cannot be right is kept nowhere.
    let odd = [
        "flight",
        "--face=6",
        "--path=-4",
        "--curve",
        "in",
        "--student",
        "heron",
    ];
    let ran = desk.run(&odd);
    assert_eq!((ran.code, ran.out.as_str()), (1, ""), "{}", ran.err);
    assert!(ran.err.contains("cannot all be right"), "{}", ran.err);
    assert_eq!(measured(&desk, 3), Value::Null);
}

#[test]
fn a_session_of_shots_is_kept_by_its_means() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron", "--handed", "right"]);
    let table = |name: &str, path: i32, hand: &str| {
        let rows = (0..6).map(|shot| format!("{},{hand},fine\n", path + shot % 3));
        file(
            &desk,
            name,
            &format!("path (deg),handed,mood\n{}", rows.collect::<String>()),
        )
    };
    let (march, april) = (
        table("march.csv", -7, "right"),
        table("april.csv", -1, "right"),
    );
    desk.done(&["shots", &march, "--student", "heron", "--on", "2026-03-04"]);
    let out = desk.done(&["shots", &april, "--student", "heron", "--on", "2026-04-04"]);
    assert!(
        out.contains("club-path: -6 then 0 degrees: a real change"),
        "{out}"
    );
    let kept = measured(&desk, 0);
    assert_eq!(kept[0]["quantity"], "club-path", "{kept}");
    // Half the interval of Student's t over 1.96: 2.571 * 0.894 / sqrt(6) / 1.96.
    let error = kept[0]["error_sd"].as_f64().expect("a number");
    assert!((error - 0.479).abs() < 0.002, "{error}");
    let left = table("left.csv", 0, "left");
    for arguments in [
        &["shots", &left, "--student", "heron"][..],
        &["compare", &march, &left, "--student", "heron"],
    ] {
        let ran = desk.run(arguments);
        assert_eq!(ran.code, 2, "{}", ran.err);
        assert!(
            ran.err.contains("row 2, column 2") && ran.err.contains("right-handed"),
            "{}",
            ran.err
        );
    }
}

#[test]
fn counts_side_by_side_go_onto_the_timeline() {
    let desk = Desk::new();
    for handle in ["heron", "wren"] {
        desk.done(&["student", "add", handle]);
    }
    let unsaid = desk.run(&["compare", "9/10", "1/10", "--student", "heron"]);
    assert!(
        unsaid.code == 2 && unsaid.err.contains("--of slice"),
        "{}",
        unsaid.err
    );
    let both = [
        "compare",
        "9/10",
        "1/10",
        "--student",
        "heron",
        "--of",
        "slice",
        "--before-on",
        "2026-05-04",
        "--on",
        "2026-06-01",
    ];
    let out = desk.done(&both);
    assert!(
        out.contains("9 of 10, then 1 of 10: a real change"),
        "{out}"
    );
    let lessons = desk.json(&["student", "show", "heron"])["lessons"].clone();
    assert_eq!(
        lessons[0]["counts"][0],
        json!({"what": "slice", "of": 10, "shown": 9})
    );
    assert_eq!(lessons[1]["date"], "2026-06-01");
    let late = desk.run(&[
        "compare",
        "9/10",
        "1/10",
        "--student",
        "heron",
        "--of",
        "slice",
        "--before-on",
        "2026-07-04",
        "--on",
        "2026-06-01",
    ]);
    assert!(
        late.code == 2 && late.err.contains("lies after"),
        "{}",
        late.err
    );
    // Two students by what is on record of both.
    assert!(
        desk.run(&["compare", "heron", "wren"])
            .err
            .contains("in common")
    );
    desk.done(&[
        "compare",
        "5/10",
        "8/10",
        "--student",
        "wren",
        "--of",
        "slice",
    ]);
    let out = desk.done(&["compare", "heron", "wren"]);
    assert!(
        out.contains("Slice") && out.contains("heron") && out.contains("a real difference"),
        "{out}"
    );
    let rows = desk.json(&["compare", "heron", "wren"]);
    assert_eq!(rows["students"], json!(["heron", "wren"]));
    assert!(
        desk.run(&["compare", "heron", "nobody"])
            .err
            .contains("`nobody` is neither")
    );
}

/// A right-hander at address, seen from the front; y runs down.
fn points() -> String {
    let body = [
        (500, 200),
        (510, 190),
        (490, 190),
        (530, 200),
        (470, 200),
        (570, 300),
        (430, 310),
        (560, 420),
        (440, 430),
        (520, 520),
        (500, 525),
        (550, 540),
        (455, 540),
        (560, 690),
        (440, 690),
        (570, 840),
        (430, 840),
    ];
    let rows: Vec<Value> = body.iter().map(|(x, y)| json!([x, y, 0.9])).collect();
    json!(rows).to_string()
}

#[test]
fn a_frame_goes_onto_the_timeline_by_the_hand_on_record() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron"]);
    let points = file(&desk, "may.json", &points());
    let frame = [
        "frame",
        &points,
        "--view",
        "face-on",
        "--at",
        "address",
        "--club",
        "iron",
        "--student",
        "heron",
        "--on",
        "2026-05-04",
    ];
    let ran = desk.run(&frame);
    assert_eq!(ran.code, 2, "{}", ran.out);
    assert!(
        ran.err.contains("which hand heron plays with"),
        "{}",
        ran.err
    );
    desk.done(&["student", "edit", "heron", "--handed", "right"]);
    let out = desk.json(&frame);
    assert_eq!(
        out["saved"],
        json!({"student": "heron", "lesson": 1, "date": "2026-05-04"})
    );
    let kept = measured(&desk, 0);
    let wide = kept
        .as_array()
        .expect("a list")
        .iter()
        .find(|one| one["quantity"] == "heel-gap-to-shoulder-width");
    assert!(
        wide.is_some_and(|one| one["error_sd"].as_f64() > Some(0.0)),
        "{kept}"
    );
    let shown = desk.done(&["student", "show", "heron"]);
    assert!(
        shown.contains("frame may.json, face on, address"),
        "{shown}"
    );
    let left = file(
        &desk,
        "left.json",
        &format!(
            "{{\"keypoints\": {}, \"handed\": \"left\"}}",
            self::points()
        ),
    );
    let mixed = [
        "frame",
        &left,
        "--view",
        "face-on",
        "--at",
        "address",
        "--student",
        "heron",
    ];
    let ran = desk.run(&mixed);
    assert!(
        ran.code == 2 && ran.err.contains("the hands do not agree"),
        "{}",
        ran.err
    );
}

/// A number keeps the error that was stated with it, and one that says nothing is wrong is kept too.
#[test]
fn numbers_of_a_lesson_are_kept_whatever_they_say() {
    let desk = Desk::new();
    desk.store()
        .add_student(&student("heron"), None)
        .expect("kept");
    desk.done(&[
        "why",
        "slice, path 1 left",
        "--handed",
        "right",
        "--measured",
        "trail-elbow-bend-at-top=112+-9",
        "--student",
        "heron",
        "--save",
    ]);
    let kept = measured(&desk, 0);
    let of = |name: &str| {
        let mut all = kept.as_array().expect("a list").iter();
        all.find(|one| one["quantity"] == name)
            .cloned()
            .unwrap_or_default()
    };
    assert_eq!(of("trail-elbow-bend-at-top")["error_sd"], 9.0, "{kept}");
    assert_eq!(of("club-path")["value"], -1.0, "{kept}");
}
