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
        ("share", "0.2"),
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

/// Every field of a form as a browser would send it back untouched.
fn sent(page: &str) -> Vec<(String, String)> {
    let attribute = |tag: &str, name: &str| {
        let rest = tag.split_once(&format!(" {name}=\""))?.1;
        Some(plain(rest.split('"').next()?))
    };
    let form = page
        .split_once("<form method=\"post\" action=\"/own/")
        .expect("a form")
        .1;
    let form = form.split("</form>").next().expect("its end");
    let mut fields = Vec::new();
    for piece in form.split('<') {
        let (tag, text) = piece.split_once('>').unwrap_or((piece, ""));
        let name = attribute(tag, "name");
        match (tag.split(' ').next().unwrap_or_default(), name) {
            ("input", Some(name)) if !tag.contains("checkbox") || tag.contains(" checked") => {
                fields.push((name, attribute(tag, "value").unwrap_or_default()));
            }
            ("textarea", Some(name)) => fields.push((name, plain(text))),
            ("select", Some(name)) => fields.push((name, String::new())),
            ("option", _) if tag.contains(" selected") => {
                fields.last_mut().expect("a choice").1 =
                    attribute(tag, "value").unwrap_or_default();
            }
            _ => {}
        }
    }
    fields
}

fn plain(text: &str) -> String {
    let text = text.replace("&quot;", "\"").replace("&#39;", "'");
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
}

fn put(fields: &mut [(String, String)], name: &str, value: &str) {
    let field = fields.iter_mut().find(|(own, _)| own == name);
    value.clone_into(&mut field.expect("a field").1);
}

fn post(house: &House, fields: &[(String, String)], what: &str) -> crate::house::Answer {
    let pairs = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()));
    let pairs: Vec<_> = pairs.chain([("do", what)]).collect();
    house.post("/own/drill", &pairs)
}

#[test]
fn an_own_drill_is_changed_and_two_tabs_do_not_overwrite_each_other() {
    let house = House::open();
    house.post("/own/drill", &with(&[("do", "save")]));
    assert!(
        house
            .page("/show/bucket-under-the-trail-heel")
            .contains("Change it")
    );
    let page = house.page("/own/drill?id=bucket-under-the-trail-heel");
    let mut fields = sent(&page);
    let before = house.get("/show/bucket-under-the-trail-heel.json").json();
    put(&mut fields, "purpose", "Let the hips lead");
    put(
        &mut fields,
        "treats",
        "over-the-top: 0.6\ngrip-too-weak: 0.3",
    );
    let seen = post(&house, &fields, "check");
    assert!(
        seen.status == StatusCode::OK && seen.text.contains("Not saved yet"),
        "{}",
        seen.text
    );
    let saved = post(&house, &fields, "save");
    assert_eq!(
        saved.header("location"),
        "/show/bucket-under-the-trail-heel",
        "{}",
        saved.text
    );
    let after = house.get("/show/bucket-under-the-trail-heel.json").json();
    assert_eq!(after["purpose"], "Let the hips lead");
    assert_ne!(after["treats"], before["treats"]);
    for key in ["steps", "dose", "status", "shots", "equipment"] {
        assert_eq!(after[key], before[key], "{key}");
    }
    // Another tab, opened before.
    put(&mut fields, "purpose", "Something else");
    let late = post(&house, &fields, "save");
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(late.text.contains("was changed since"), "{}", late.text);
    assert_eq!(
        house.get("/show/bucket-under-the-trail-heel.json").json()["purpose"],
        "Let the hips lead"
    );
    // An id once used stays.
    let mut other = sent(&house.page("/own/drill?id=bucket-under-the-trail-heel"));
    put(&mut other, "id", "another-id");
    assert!(
        post(&house, &other, "save")
            .text
            .contains("An id once used is kept")
    );
}

#[test]
fn what_ships_is_replaced_by_the_form_and_keeps_what_no_field_asks() {
    let house = House::open();
    let id = "count-the-knuckles";
    let before = house.get(&format!("/show/{id}.json")).json();
    assert!(
        house
            .page(&format!("/show/{id}"))
            .contains("Put your own in its place")
    );
    let mut fields = sent(&house.page(&format!("/own/drill?id={id}")));
    put(&mut fields, "purpose", "See the knuckles that I see");
    let saved = post(&house, &fields, "save");
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    let after = house.get(&format!("/show/{id}.json")).json();
    assert_eq!(after["purpose"], "See the knuckles that I see");
    for key in [
        "name", "treats", "steps", "check", "not_with", "sources", "after",
    ] {
        assert_eq!(after[key], before[key], "{key}");
    }
    assert!(house.page("/library?diff=yes").contains(id));
    assert_eq!(
        house.get("/own/drill?id=no-such-drill").status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        house.get("/own/fault?id=count-the-knuckles").status,
        StatusCode::NOT_FOUND
    );
}

/// What another program saves in the folder is there without a new start; what it breaks is said.
#[test]
fn what_is_saved_elsewhere_is_seen() {
    let house = House::open();
    let folder = house.home.path().join("library");
    std::fs::create_dir_all(&folder).expect("made");
    assert_eq!(
        house.get("/show/towel-in-the-corner").status,
        StatusCode::NOT_FOUND
    );
    let drill = "drills:\n- {id: towel-in-the-corner, name: Towel in the corner, treats: [{id: over-the-top, effect: 0.4, basis: own lessons}], steps: [Lay a towel down, Swing past it], check: 8 of 10, status: trial}\n";
    std::fs::write(folder.join("towel.yaml"), drill).expect("written");
    let begun = std::time::Instant::now();
    while house.get("/show/towel-in-the-corner").status != StatusCode::OK {
        assert!(begun.elapsed().as_secs() < 20, "never seen");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    std::fs::remove_file(folder.join("towel.yaml")).expect("removed");
    while house.get("/show/towel-in-the-corner").status == StatusCode::OK {
        assert!(begun.elapsed().as_secs() < 40, "never gone");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
}
