//! Students on the page: one record with the commands.

use crate::house::{House, files};
use assert_cmd::Command;
use axum::http::StatusCode;

#[test]
fn a_student_begun_on_the_page_is_known_to_the_command() {
    let house = House::open();
    assert!(house.page("/students").contains("Nobody is kept yet"));
    assert!(
        files(house.home.path()).is_empty(),
        "a look begins no records"
    );
    let answer = house.post(
        "/students",
        &[
            ("handle", "heron"),
            ("handed", "left"),
            ("level", "improver"),
            ("goal", "keep it in play"),
            ("limits", "stiff neck"),
        ],
    );
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
    assert_eq!(answer.header("location"), "/students/heron");
    let page = house.page("/students/heron");
    assert!(page.contains("heron") && page.contains("keep it in play"));
    assert!(
        !page.contains("stiff neck"),
        "what was said of the body is shown only when it is asked for"
    );
    assert!(house.page("/students").contains("/students/heron"));
    let mut command = Command::cargo_bin("fairwhy").expect("built");
    command
        .env("FAIRWHY_HOME", house.home.path())
        .env_remove("FAIRWHY_RECORDS");
    let printed = command
        .args(["student", "show", "heron", "--format", "json"])
        .assert()
        .success();
    let printed = String::from_utf8(printed.get_output().stdout.clone()).expect("text");
    assert_eq!(house.get("/students/heron.json").text, printed);
}

#[test]
fn slips_with_students_are_said() {
    let house = House::open();
    for handle in ["J. Heron", "slice", "", "../x"] {
        let answer = house.post("/students", &[("handle", handle)]);
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{handle}");
    }
    assert_eq!(house.get("/students/wren").status, StatusCode::NOT_FOUND);
    assert_eq!(
        house.get("/students/wren.json").status,
        StatusCode::NOT_FOUND
    );
    assert!(files(house.home.path()).is_empty());
    assert_eq!(
        house.post("/students", &[("handle", "wren")]).status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        house.post("/students", &[("handle", "wren")]).status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    let read_only = House::read_only().let_in();
    assert_eq!(
        read_only.post("/students", &[("handle", "wren")]).status,
        StatusCode::FORBIDDEN
    );
}

/// The record's hand, limits and drills go into the lesson; the lesson goes onto the record, once.
#[test]
fn a_lesson_of_a_student_heeds_the_record_and_is_kept_once() {
    let house = House::open();
    let begun = [
        ("handle", "heron"),
        ("handed", "left"),
        ("limits", "hip replacement"),
    ];
    assert_eq!(
        house.post("/students", &begun).status,
        StatusCode::SEE_OTHER
    );
    assert!(house.page("/?student=heron").contains("heron"));
    let lesson = house.act(
        "?student=heron",
        "read",
        &[("note", "weak slice, divots point in")],
    );
    assert!(lesson.contains("student=heron"));
    let page = house.page(&lesson);
    assert!(
        page.contains("Lesson: heron") && page.contains("Divot points to the right"),
        "left-handed"
    );
    assert!(
        page.contains("role=\"alert\"") && page.contains("hip replacement"),
        "what is on record of the body comes first"
    );
    let query = lesson
        .split_once('?')
        .expect("a query")
        .1
        .split('#')
        .next()
        .expect("a query")
        .to_owned();
    let mut command = Command::cargo_bin("fairwhy").expect("built");
    command
        .env("FAIRWHY_HOME", house.home.path())
        .env_remove("FAIRWHY_RECORDS");
    let printed = command
        .args([
            "plan",
            "weak slice, divots point in",
            "--student",
            "heron",
            "--format",
            "json",
        ])
        .assert()
        .success();
    let printed: serde_json::Value =
        serde_json::from_slice(&printed.get_output().stdout).expect("JSON");
    let ours = house.get(&format!("/plan.json?{query}")).json();
    assert_eq!(ours["plan"], printed["plan"]);
    assert_eq!(ours["cautions"], printed["cautions"]);
    let called = house.act(&lesson, "step:called:grip-too-weak", &[]);
    let query = called
        .split_once('?')
        .expect("a query")
        .1
        .split('#')
        .next()
        .expect("a query")
        .to_owned();
    assert!(
        house
            .page(&format!("/plan?{query}"))
            .contains("Keep it for heron")
    );
    for _ in 0..2 {
        let kept = house.post("/keep", &[("ask", &query), ("reason", "seen on video")]);
        assert_eq!(kept.status, StatusCode::SEE_OTHER, "{}", kept.text);
        assert_eq!(kept.header("location"), "/students/heron?saved=1");
    }
    let shown = house.get("/students/heron.json").json();
    assert_eq!(
        shown["lessons"].as_array().map(Vec::len),
        Some(1),
        "a second tap keeps no second lesson"
    );
    assert_eq!(shown["lessons"][0]["coach_says"], "grip-too-weak");
    assert!(
        !house.page("/").contains("Lessons to go on with"),
        "what is on record is not gone on with"
    );
    let page = house.page("/students/heron?saved=1");
    assert!(page.contains("/students/heron/progress.svg") && page.contains("not looked at"));
    let picture = house.get("/students/heron/progress.svg");
    assert_eq!(picture.header("content-type"), "image/svg+xml");
    assert!(picture.text.starts_with("<svg") && picture.text.contains("Slice"));
    assert!(page.contains("Saved and read back: lesson 1") && page.contains("How the drills went"));
    let drill = shown["lessons"][0]["prescribed"][0]
        .as_str()
        .expect("a drill")
        .to_owned();
    let told = house.post(
        "/students/heron",
        &[("drill", &drill), ("lesson", "1"), ("result", "worked")],
    );
    assert_eq!(told.status, StatusCode::SEE_OTHER, "{}", told.text);
    let shown = house.get("/students/heron.json").json();
    assert_eq!(shown["lessons"][0]["outcomes"][0]["result"], "worked");
    let wrong = house.post(
        "/students/heron",
        &[("drill", &drill), ("result", "splendid")],
    );
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        house.get("/lesson?student=wren&note=slice").status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        house.post("/keep", &[("ask", "note=slice")]).status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
}

/// Where a coach's own lessons move the order, they do on the page as for the command.
#[test]
fn the_page_learns_as_the_command_does() {
    let house = House::open();
    let fairwhy = |arguments: &[&str]| {
        let mut command = Command::cargo_bin("fairwhy").expect("built");
        command
            .env("FAIRWHY_HOME", house.home.path())
            .env_remove("FAIRWHY_RECORDS");
        let ran = command.args(arguments).assert().success();
        String::from_utf8(ran.get_output().stdout.clone()).expect("text")
    };
    for handle in ["heron", "wren"] {
        fairwhy(&["student", "add", handle]);
        fairwhy(&[
            "plan",
            "slice",
            "--student",
            handle,
            "--save",
            "--called",
            "over-the-top",
        ]);
    }
    let drill = "count-the-knuckles";
    fairwhy(&["lesson", "log", "wren", "--drill", drill, "--result", "no"]);
    let before = house.get("/why.json?note=slice&student=heron").text;
    fairwhy(&["records", "learn", "on"]);
    let after = house.get("/why.json?note=slice&student=heron").text;
    assert_ne!(before, after);
    assert_eq!(
        after,
        fairwhy(&["why", "slice", "--student", "heron", "--format", "json"])
    );
    let plan = house.get("/plan.json?note=slice&student=heron").text;
    assert_eq!(
        plan,
        fairwhy(&["plan", "slice", "--student", "heron", "--format", "json"])
    );
    let page = house.page("/lesson?note=slice&student=heron");
    assert!(
        page.contains("in 2 of your 2 students it ended at Over the top"),
        "{page}"
    );
}
