//! A library handed to another coach.

use super::*;

#[test]
fn a_library_goes_to_another_coach_as_one_file() {
    let (robin, wren) = (Desk::new(), Desk::new());
    let out = robin.home.path().join("robin.yaml").display().to_string();
    robin
        .fairwhy(&["library", "share", &out])
        .assert()
        .code(1)
        .stderr(contains("nothing to share"));
    robin.add("drill", DRILL).success();
    robin.add("cause", CAUSE).success();
    robin
        .fairwhy(&["library", "share", &out])
        .assert()
        .success()
        .stdout(contains("Shared 3 entries"));
    let shared = fs::read_to_string(&out).expect("shared");
    // It is a library file like any other, and remarks stay at home.
    assert_eq!(
        fairwhy::knowledge::library_file(&shared)
            .expect("read")
            .drills
            .len(),
        1
    );
    assert!(!shared.contains("wet Tuesday"));
    robin
        .fairwhy(&["library", "share", &out])
        .assert()
        .code(1)
        .stderr(contains("is there already").and(contains("--replace")));
    let notes = robin.file("notes.txt", "mind the wind");
    robin
        .fairwhy(&["library", "share", &notes, "--replace"])
        .assert()
        .success()
        .stdout(contains("notes.txt.before-1"));
    let kept = fs::read_to_string(format!("{notes}.before-1")).expect("kept");
    assert_eq!(kept, "mind the wind");
    let again = robin
        .fairwhy(&["library", "share", "-"])
        .output()
        .expect("runs");
    assert_eq!(String::from_utf8_lossy(&again.stdout), shared);

    let receive = |more: &[&str]| {
        wren.fairwhy(&[&["library", "receive", &out], more].concat())
            .assert()
    };
    receive(&["--dry-run"])
        .success()
        .stdout(contains("nothing was saved").and(contains("3 new")));
    assert!(!wren.library().exists());
    receive(&[])
        .success()
        .stdout(contains("received/robin.yaml"));
    wren.fairwhy(&["show", "towel-under-trail-heel"])
        .assert()
        .success();
    let before = all_files(&wren.library());
    receive(&[])
        .success()
        .stdout(contains("3 there already, word for word"));
    assert_eq!(all_files(&wren.library()), before);
    wren.fairwhy(&["library", "list"])
        .assert()
        .success()
        .stdout(contains("1 drill, 1 cause, 1 link").and(contains("adds 3, on trial 1")));
}

#[test]
fn what_does_not_go_with_what_is_there_is_left_out_and_said() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let own = all_files(&desk.library());
    let received = "drills:
- {id: towel-under-trail-heel, name: Other, treats: [{id: hangs-back}]}
- {id: lost, name: Lost, treats: [{id: nobody-knows}]}
- {id: lost-too, name: Lost too, treats: [{id: hangs-back}], after: [lost]}
- {id: good, name: Good, treats: [{id: hangs-back}]}
";
    let file = desk.file("wren.yaml", received);
    let done = desk.json(&["library", "receive", &file]);
    let fates: Vec<(&str, &str)> = done["entries"]
        .as_array()
        .expect("entries")
        .iter()
        .map(|entry| {
            (
                entry["id"].as_str().expect("id"),
                entry["fate"].as_str().expect("fate"),
            )
        })
        .collect();
    let expected = [
        ("towel-under-trail-heel", "left-out"),
        ("lost", "left-out"),
        ("lost-too", "left-out"),
        ("good", "new"),
    ];
    assert_eq!(fates, expected);
    assert!(
        done["entries"][1]["why"]
            .as_str()
            .expect("said")
            .contains("nobody-knows")
    );
    let now = all_files(&desk.library());
    assert!(own.iter().all(|(path, text)| now.get(path) == Some(text)));
    desk.fairwhy(&["show", "good"]).assert().success();
    desk.fairwhy(&["library", "receive", "-"])
        .write_stdin("drills:\n- {id: x, nmae: X}\n")
        .assert()
        .code(1)
        .stderr(
            contains("standard input")
                .and(contains("nmae"))
                .and(contains("Nothing was saved")),
        );
    let large = desk.home.path().join("large.yaml");
    fs::write(&large, "#".repeat((1 << 20) + 1)).expect("written");
    desk.fairwhy(&["library", "receive", &large.display().to_string()])
        .assert()
        .code(1)
        .stderr(contains("larger than 1 MiB"));
    // Nor is anything written where no file can be.
    desk.fairwhy(&["library", "share", "/dev/full", "--replace"])
        .assert()
        .code(1)
        .stderr(contains("is no file"));
    desk.fairwhy(&["library", "share", "/nowhere/at/all.yaml"])
        .assert()
        .code(1)
        .stderr(contains("make the folder first"));
}
