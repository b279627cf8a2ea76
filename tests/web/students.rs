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
