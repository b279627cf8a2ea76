//! Entries of one's own by a form: slips beside their fields, what it changes before it is saved.

use crate::house::{House, files};
use axum::http::StatusCode;

const DRILL: &[(&str, &str)] = &[
    ("name", "Bucket under the trail heel"),
    ("treats", "over-the-top: expected\ngrip-too-weak"),
    ("kind", "drill"),
    ("shots", "iron"),
    ("shots", "driver"),
    ("ladder", "slow-with-ball"),
    ("purpose", "Let the lower body lead"),
    (
        "steps",
        "Set the heel on an upturned bucket\nSwing to waist height\nLook that it still stands",
    ),
    ("check", "It stands in 8 of 10"),
    ("dose.minutes", "6"),
    ("needs.equipment", "bucket"),
    ("needs.place", "range"),
];

fn with<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let kept = DRILL
        .iter()
        .filter(|(name, _)| !more.iter().any(|(other, _)| other == name));
    kept.chain(more).copied().collect()
}

#[test]
fn a_drill_is_shown_before_it_is_saved_and_is_found_after() {
    let house = House::open();
    let empty = house.page("/own/drill");
    assert!(empty.contains("What is it called?") && empty.contains("name=\"dose.minutes\""));
    let seen = house.post("/own/drill", &with(&[("do", "check")]));
    assert_eq!(seen.status, StatusCode::OK, "{}", seen.text);
    assert!(seen.text.contains("Not saved yet") && seen.text.contains("Now offered for"));
    assert!(
        files(house.home.path()).is_empty(),
        "nothing is written by a look"
    );
    let saved = house.post("/own/drill", &with(&[("do", "save")]));
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    assert_eq!(
        saved.header("location"),
        "/show/bucket-under-the-trail-heel"
    );
    let shown = house.get("/show/bucket-under-the-trail-heel.json").json();
    assert_eq!(shown["name"], "Bucket under the trail heel");
    assert!(
        house
            .page("/library")
            .contains("bucket-under-the-trail-heel")
    );
    assert!(
        house
            .page("/drills?words=bucket+under+the+trail+heel")
            .contains("/show/bucket-under-the-trail-heel")
    );
    // A second of the same id is told from the first.
    let twice = house.post("/own/drill", &with(&[("do", "save")]));
    assert_eq!(twice.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(twice.text.contains("already"));
}

#[test]
fn slips_stand_beside_their_fields_and_nothing_typed_is_lost() {
    let house = House::open();
    let answer = house.post(
        "/own/drill",
        &with(&[
            ("id", "Not An Id"),
            ("treats", "grip"),
            ("dose.minutes", "soon"),
            ("steps", ""),
            ("do", "save"),
        ]),
    );
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["id", "treats", "dose.minutes", "steps"] {
        assert!(
            answer.text.contains(&format!("id=\"{field}-wrong\"")),
            "{field}"
        );
    }
    assert!(answer.text.contains("may be several") && answer.text.contains("not-an-id"));
    assert!(
        answer.text.contains("Let the lower body lead") && answer.text.contains("value=\"soon\"")
    );
    assert!(files(house.home.path()).is_empty());
}

#[test]
fn a_copy_of_a_drill_is_said_to_be_one() {
    let house = House::open();
    let ours = house.get("/show/carry-it-like-a-bucket.json");
    let id = if ours.status == StatusCode::OK {
        "carry-it-like-a-bucket".to_owned()
    } else {
        let found = house.get("/drills.json?words=grip+too+weak&limit=1").json();
        found["drills"][0]["id"]
            .as_str()
            .expect("a drill")
            .to_owned()
    };
    let ours = house.get(&format!("/show/{id}.json")).json();
    let text = |key: &str| ours[key].as_str().unwrap_or_default().to_owned();
    let steps: Vec<&str> = ours["steps"]
        .as_array()
        .expect("steps")
        .iter()
        .filter_map(|step| step.as_str())
        .collect();
    let (purpose, setup, steps) = (text("purpose"), text("setup"), steps.join("\n"));
    let answer = house.post(
        "/own/drill",
        &[
            ("name", "Quite another name"),
            ("treats", "grip-too-weak"),
            ("purpose", &purpose),
            ("setup", &setup),
            ("steps", &steps),
            ("do", "check"),
        ],
    );
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    assert!(answer.text.contains(&id), "near copies are named");
}

#[test]
fn a_link_moves_a_row_before_it_is_saved() {
    let house = House::open();
    let link = [
        ("cause", "grip too strong"),
        ("effect", "topped-shot"),
        ("strength", "0.2"),
        ("because", "The face needs help"),
        ("do", "check"),
    ];
    let answer = house.post("/own/link", &link);
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    assert!(answer.text.contains("Not saved yet"));
    assert_eq!(house.get("/own/horse").status, StatusCode::NOT_FOUND);
    let read_only = House::read_only().let_in();
    assert_eq!(
        read_only.post("/own/link", &link).status,
        StatusCode::FORBIDDEN
    );
    assert_eq!(read_only.get("/own/link").status, StatusCode::FORBIDDEN);
}
