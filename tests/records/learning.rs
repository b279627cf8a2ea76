//! What the records say of rows and effects, against a general statistics library, and as a coach sees it.
//!
//! `tests/reference/learning.py` made the values (scipy, statsmodels). Tolerance 1e-9 for means and kappa; for
//! the bounds of an interval 1e-6, which is how near the root of an incomplete beta function is found.

use super::{Desk, lesson, student};
use fairwhy::knowledge::ConditionKey;
use fairwhy::records::{
    DrillResult, Outcome, ROW_WEIGHT, agreement, dirichlet_mean, learned_effect,
};
use serde_json::Value;
use std::collections::BTreeMap;

fn outcome(lesson: i64, result: DrillResult) -> Outcome {
    Outcome {
        number: 0,
        day: super::day("2026-08-01"),
        coach: String::new(),
        lesson: Some(lesson),
        drill: "count-the-knuckles".into(),
        result,
        reps: None,
        note: None,
    }
}

fn stored() -> Value {
    serde_json::from_str(include_str!("../reference/learning.json")).expect("JSON")
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter()
        .map(|one| one.as_f64().expect("a number"))
        .collect()
}

fn list(of: &Value) -> &Vec<Value> {
    of.as_array().expect("a list")
}

#[test]
fn rows_effects_and_agreement_are_those_of_the_reference_libraries() {
    let stored = stored();
    let keyed = |values: Vec<f64>| -> BTreeMap<ConditionKey, f64> {
        values
            .into_iter()
            .enumerate()
            .map(|(at, value)| (ConditionKey(at), value))
            .collect()
    };
    assert!(list(&stored["rows"]).len() >= 16);
    for row in list(&stored["rows"]) {
        let (shares, counts) = (numbers(&row["shares"]), numbers(&row["counts"]));
        let found = dirichlet_mean(&keyed(shares), ROW_WEIGHT, &keyed(counts));
        for (found, expected) in found.values().zip(numbers(&row["mean"])) {
            assert!((found - expected).abs() < 1e-9, "{row}");
        }
    }
    for effect in list(&stored["effects"]) {
        let number = |key: &str| effect[key].as_f64().expect("a number");
        let told = usize::try_from(effect["told"].as_u64().expect("a count")).expect("small");
        let found = learned_effect(number("prior"), told, number("worked"));
        assert!((found.posterior - number("mean")).abs() < 1e-9, "{effect}");
        assert!(
            (found.low - number("low")).abs() < 1e-6,
            "{effect} {found:?}"
        );
        assert!(
            (found.high - number("high")).abs() < 1e-6,
            "{effect} {found:?}"
        );
    }
    for one in list(&stored["agreements"]) {
        let pairs: Vec<(String, String)> = list(&one["pairs"])
            .iter()
            .map(|pair| (pair[0].to_string(), pair[1].to_string()))
            .collect();
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        let found = agreement(["robin".into(), "linnet".into()], &pairs);
        let near = |found: Option<f64>, key: &str| {
            (found.expect("there") - one[key].as_f64().expect("a number")).abs() < 1e-9
        };
        assert!(
            near(found.kappa, "kappa") && near(found.error, "error"),
            "{found:?}"
        );
    }
}

/// Opted into, seen, and taken back; treating a start without a change moves it down again.
#[test]
fn lessons_move_the_order_only_where_that_was_said() {
    let desk = Desk::new();
    let order = |arguments: &[&str]| {
        let mut all = vec!["why", "slice", "--student", "heron"];
        all.extend(arguments);
        desk.json(&all)["causes"].clone()
    };
    let mut store = desk.store();
    for handle in ["heron", "wren", "plover", "dunlin"] {
        store.add_student(&student(handle), None).expect("kept");
        let mut called = lesson("2026-05-04");
        called.coach_says = Some("over-the-top".into());
        store.add_lesson(handle, &called).expect("kept");
    }
    drop(store);
    let before = order(&[]);
    assert!(desk.json(&["show", "slice"]).get("learned").is_none());
    desk.done(&["records", "learn", "on"]);
    let after = order(&[]);
    assert_ne!(before, after);
    assert_eq!(after[0]["id"], "over-the-top");
    assert_eq!(order(&["--without-records"]), before);
    let share = || {
        let shown = desk.json(&["show", "slice"]);
        assert_eq!(shown["learned"]["row"]["students"], 4);
        let posterior = shown["learned"]["row"]["posterior"]
            .as_array()
            .expect("a list")
            .clone();
        let entry = posterior
            .iter()
            .find(|entry| entry["id"] == "over-the-top")
            .expect("there");
        entry["share"].as_f64().expect("a share")
    };
    let called = share();
    for handle in ["heron", "wren", "plover", "dunlin"] {
        desk.done(&[
            "lesson",
            "log",
            handle,
            "--drill",
            "count-the-knuckles",
            "--result",
            "no",
        ]);
    }
    let nothing_changed = share();
    assert!(nothing_changed < called, "{nothing_changed} {called}");
    let drill = desk.json(&["show", "count-the-knuckles"]);
    let effect = &drill["learned"]["effects"][0];
    assert_eq!(effect["told"], 4);
    assert!(
        effect["posterior"].as_f64() < effect["prior"].as_f64(),
        "{effect}"
    );
    assert!(
        desk.json(&["show", "count-the-knuckles", "--without-records"])
            .get("learned")
            .is_none()
    );
    desk.done(&["records", "learn", "off"]);
    assert_eq!(order(&[]), before);
}

/// What is found in the dialogue is moved by the records as what was noted is.
#[test]
fn learning_follows_every_answer() {
    let desk = Desk::new();
    let handles = ["heron", "wren", "plover", "dunlin"];
    let mut store = desk.store();
    for handle in handles {
        store.add_student(&student(handle), None).expect("kept");
    }
    let note = "pulls it, divots point in";
    let why = desk.json(&["why", note, "--student", "heron"]);
    let look = why["next_looks"][0]["id"]
        .as_str()
        .expect("a look")
        .to_owned();
    for handle in handles {
        let mut called = lesson("2026-05-04");
        called.seen = vec![look.clone()];
        called.coach_says = Some("over-the-top".into());
        store.add_lesson(handle, &called).expect("kept");
    }
    drop(store);
    desk.done(&["records", "learn", "on"]);
    let dialogue = || {
        let command = desk
            .fairwhy(&["lesson", "heron", note])
            .write_stdin("l\ny\nq\nn\n")
            .output();
        String::from_utf8(command.expect("it runs").stdout).expect("text")
    };
    let said = dialogue();
    let after = said.rsplit("Is it there?").next().expect("an answer");
    let after = after.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        after.contains("in 4 of your 4 students it ended at"),
        "{said}"
    );
    let found = ["why", note, "--found", &look, "--student", "heron"];
    let moved = desk.json(&found)["causes"].clone();
    let mut without = found.to_vec();
    without.push("--without-records");
    assert_ne!(
        moved,
        desk.json(&without)["causes"],
        "the row is moved for `why` too"
    );
}

/// Hit rates, reliability and agreement, from lessons whose answers are known.
#[test]
fn a_coach_sees_how_the_calls_lie() {
    let desk = Desk::new();
    for coach in ["robin", "linnet"] {
        let mut store = fairwhy::records::Store::to_write(&desk.place(), coach).expect("opens");
        for handle in ["heron", "wren"] {
            if coach == "robin" {
                store.add_student(&student(handle), None).expect("kept");
            }
            let mut called = lesson("2026-05-04");
            if handle == "wren" {
                called.coach_says = Some("over-the-top".into());
            }
            store.add_lesson(handle, &called).expect("kept");
        }
    }
    let eval = desk.json(&["eval"]);
    assert_eq!(eval["among"][0]["rate"]["hits"], 2);
    assert_eq!(eval["among"][0]["rate"]["of"], 4);
    let agreement = &eval["agreement"][0];
    assert_eq!(agreement["students"], 2);
    assert_eq!(agreement["kappa"], 1.0);
    assert_eq!(
        desk.json(&["eval", "--coach", "robin"])["among"][0]["rate"]["of"],
        2
    );
    assert!(desk.done(&["eval"]).contains("robin"));
}

#[test]
fn the_months_as_text_and_as_a_picture() {
    let desk = Desk::new();
    let mut store = desk.store();
    store.add_student(&student("heron"), None).expect("kept");
    for (on, shown) in [("2026-05-04", 9), ("2026-06-01", 5), ("2026-07-06", 1)] {
        let mut one = lesson(on);
        one.counts[0].shown = shown;
        one.measure(
            "trail-elbow-bend-at-top",
            f64::from(shown) + 100.0,
            "degrees",
            4.0,
        );
        let kept = store.add_lesson("heron", &one).expect("kept");
        let went = outcome(kept.number, DrillResult::Worked);
        store.add_outcome("heron", &went).expect("kept");
    }
    let file = desk.folder.path().join("heron.svg");
    let text = desk.done(&[
        "progress",
        "heron",
        "--picture",
        file.to_str().expect("text"),
    ]);
    assert!(
        text.contains("9 of 10") && text.contains("a real change"),
        "{text}"
    );
    let picture = std::fs::read_to_string(file).expect("written");
    assert!(picture.starts_with("<svg") && picture.contains("</svg>") && picture.contains("Slice"));
    assert!(
        picture.contains(">worked</text>") && picture.contains("trail elbow bend at top"),
        "drills and numbers: {picture}"
    );
    let json = desk.json(&["progress", "heron"]);
    assert_eq!(json["counts"][0]["verdict"], "a real change");
    for width in ["40", "80", "120"] {
        let page = desk.done(&["progress", "heron", "--width", width]);
        let most = width.parse::<usize>().expect("a number");
        assert!(
            page.lines().all(|line| line.chars().count() <= most),
            "{page}"
        );
    }
}
