//! A page and a command give one answer.

use crate::house::House;
use assert_cmd::Command;
use axum::http::StatusCode;

fn command(arguments: &[&str]) -> String {
    let home = tempfile::tempdir().expect("made");
    let mut command = Command::cargo_bin("fairwhy").expect("built");
    command
        .env("FAIRWHY_HOME", home.path())
        .args(arguments)
        .args(["--format", "json"]);
    String::from_utf8(command.assert().success().get_output().stdout.clone()).expect("text")
}

const NOTE: &str = "weak slice, pulls the short irons, divots point in, grip is fine";
const ENCODED: &str = "note=weak+slice%2C+pulls+the+short+irons%2C+divots+point+in%2C+grip+is+fine";

#[test]
fn every_page_gives_the_commands_own_json() {
    let house = House::open();
    for (path, arguments) in [
        (format!("/why.json?{ENCODED}"), vec!["why", NOTE]),
        (format!("/lesson.json?{ENCODED}"), vec!["why", NOTE]),
        (
            "/why.json?note=thin+irons&not=sway&slight=casting&found=over-the-top&measured=trail-elbow-bend-at-top%3D112&fact=senior&shot=iron&handed=left&all=yes".to_owned(),
            vec!["why", "thin irons", "--not", "sway", "--slight", "casting", "--found", "over-the-top", "--measured", "trail-elbow-bend-at-top=112", "--fact", "senior", "--shot", "iron", "--handed", "left", "--all"],
        ),
        ("/why.json?note=weak+slice&limit=2".to_owned(), vec!["why", "weak slice", "--limit", "2"]),
        ("/why.json?note=his+back+hurts,+slice".to_owned(), vec!["why", "his back hurts, slice"]),
        (
            "/plan.json?note=weak+slice&minutes=30&place=range&have=mirror,stick&sessions=2x15&weeks=6&level=beginner&suits=senior".to_owned(),
            vec!["plan", "weak slice", "--minutes", "30", "--place", "range", "--have", "mirror,stick", "--sessions", "2x15", "--weeks", "6", "--level", "beginner", "--suits", "senior"],
        ),
        (format!("/plan.json?{ENCODED}"), vec!["plan", NOTE]),
        ("/sheet.json?note=weak+slice&on=2026-05-04".to_owned(), vec!["plan", "weak slice", "--on", "2026-05-04", "--handout"]),
        ("/drills.json?words=chunked+wedges+at+home".to_owned(), vec!["drills", "chunked wedges at home"]),
        (
            "/drills.json?words=slice&place=range&have=&shot=driver&handed=right&ladder=rehearsal&kind=drill&minutes=10&limit=3".to_owned(),
            vec!["drills", "slice", "--place", "range", "--have", "", "--shot", "driver", "--handed", "right", "--ladder", "rehearsal", "--kind", "drill", "--minutes", "10", "--limit", "3"],
        ),
        ("/show.json?id=grip-too-weak".to_owned(), vec!["show", "grip-too-weak"]),
        ("/show/grip-too-weak.json".to_owned(), vec!["show", "grip-too-weak"]),
        ("/show.json?id=weak+grip".to_owned(), vec!["show", "weak grip"]),
        ("/library.json".to_owned(), vec!["library", "list"]),
        ("/library.json?diff=yes".to_owned(), vec!["library", "diff"]),
        ("/students.json".to_owned(), vec!["student", "list"]),
    ] {
        let answer = house.get(&path);
        assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text);
        assert_eq!(answer.header("content-type"), "application/json");
        assert_eq!(answer.text, command(&arguments), "{path}");
    }
}

#[test]
fn a_lesson_with_answers_is_the_command_with_the_same_answers() {
    let house = House::open();
    let mut page = house.get(&format!("/lesson.json?{ENCODED}&step=look%3Agrip-too-strong%3Aslight&step=look%3Aball-too-far-forward%3Ayes")).json();
    let mut command: serde_json::Value =
        serde_json::from_str(&command(&["why", NOTE, "--found", "ball-too-far-forward"]))
            .expect("JSON");
    // What was said of the grip stands in the note already, and the answer of the look is the later word.
    for value in [&mut page, &mut command] {
        value["observations"].take();
    }
    assert_eq!(page["causes"][0]["id"], command["causes"][0]["id"]);
}

#[test]
fn what_is_not_understood_is_said_as_json() {
    let house = House::open();
    for path in [
        "/why.json",
        "/why.json?note=qwertyuiop",
        "/why.json?note=slice&shot=wood",
        "/plan.json?note=slice&minutes=1000",
        "/drills.json",
        "/show.json?id=nothing-of-it",
    ] {
        let answer = house.get(path);
        assert!(answer.status.is_client_error(), "{path}");
        let error = &answer.json()["error"];
        assert!(
            error["message"]
                .as_str()
                .is_some_and(|words| !words.is_empty()),
            "{path}: {error}"
        );
        assert_eq!(error["status"], answer.status.as_u16());
    }
    assert_eq!(house.get("/nowhere.json").json()["error"]["status"], 404);
}
