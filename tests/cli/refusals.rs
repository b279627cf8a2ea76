//! Bad input: a clear error, the right status, and no panic.

use super::{fairwhy, run, small};
use std::process::Stdio;

fn refused(arguments: &[&str], code: i32, words: &[&str]) {
    let ran = run(arguments);
    assert_eq!(ran.code, code, "{arguments:?}: {}{}", ran.out, ran.err);
    assert!(
        ran.out.is_empty(),
        "{arguments:?} printed an answer: {}",
        ran.out
    );
    for word in words {
        assert!(
            ran.err.contains(word),
            "{arguments:?}: no {word:?} in {}",
            ran.err
        );
    }
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
}

#[test]
fn words_that_mean_nothing() {
    refused(
        &["why", "quantum chromodynamics"],
        2,
        &["means nothing", "help"],
    );
    refused(
        &["why", "снежный человек"],
        2,
        &["means nothing", "this script", "an alias"],
    );
    refused(&["why"], 2, &["nothing was reported"]);
}

/// Each is refused in a few lines, whatever the width and however much was typed.
#[test]
fn words_that_are_none_or_too_many() {
    let small = small();
    let library = small.to_str().expect("text");
    let many = "quiver ".repeat(10_000);
    let short = |words: &str, says: &str, command: &str| {
        for width in ["80", "120"] {
            let ran = run(&[
                command,
                words,
                "--width",
                width,
                "--no-shipped",
                "--library",
                library,
            ]);
            assert_eq!(ran.code, 2, "{command} {words:.20}: {}", ran.err);
            assert!(ran.out.is_empty(), "{}", ran.out);
            assert!(ran.err.contains(says), "{command}: {says}: {}", ran.err);
            assert!(ran.err.chars().count() < 400, "{}", ran.err);
            assert!(ran.err.contains("help: "), "{}", ran.err);
        }
    };
    for command in ["why", "plan", "drills"] {
        short("", "there is no word in", command);
        short(" \t\n", "there is no word in", command);
        short("?!... -- \u{1f3cc}", "there is no word in", command);
        short(&many, "10000 words", command);
        short("надо тянуть сильнее", "script", command);
        short("右に曲がる", "script", command);
    }
    let words: Vec<&str> = many.split_whitespace().collect();
    for command in ["why", "plan"] {
        let ran = run(&[&[command][..], &words].concat());
        assert_eq!(ran.code, 2);
        assert!(
            ran.err.contains("10000 findings are too many"),
            "{:.300}",
            ran.err
        );
        assert!(ran.err.lines().count() < 4);
    }
    refused(&[&["drills"][..], &words].concat(), 2, &["10000 words"]);
}

#[test]
fn an_unknown_filter_value_is_met_with_the_nearest() {
    for (filter, typed, nearest) in [
        ("--place", "hoem", "'home'"),
        ("--have", "towle", "did you mean towel"),
        ("--have", "towel,mirrror", "did you mean mirror?"),
        ("--shot", "pich", "'pitch'"),
        ("--ladder", "rehersal", "'rehearsal'"),
        ("--kind", "set-up-change", "'setup-change'"),
        ("--suits", "junor", "'junior'"),
        ("--level", "beginer", "'beginner'"),
        ("--handed", "rihgt", "'right'"),
    ] {
        refused(&["drills", "slice", filter, typed], 2, &[nearest]);
    }
}

#[test]
fn every_trouble_is_told_at_once() {
    let ran = run(&[
        "why",
        "xyzzy plugh",
        "--likelihood",
        "slice=0",
        "--measured",
        "elbow=1",
    ]);
    assert_eq!(ran.code, 2);
    for words in ["xyzzy plugh", "slice=0", "elbow=1"] {
        assert!(ran.err.contains(words), "{words}: {}", ran.err);
    }
}

#[test]
fn words_that_mean_several_things_are_weighed_in_a_pipe_and_said() {
    let ran = run(&["why", "early release"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.out.contains("Casting") && ran.out.contains("Flip at impact"),
        "{}",
        ran.out
    );
    let ran = run(&["why", "curves left"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.out.contains("Which hand") && ran.out.contains("Slice"),
        "{}",
        ran.out
    );
    let ran = run(&["why", "curves left", "--handed", "right"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("Hook"));
    let ran = run(&["why", "curves left", "--handed", "left"]);
    assert!(ran.out.contains("Slice"));
    let ran = run(&["why", "fat", "--shot", "chip"]);
    assert!(ran.out.contains("Chunked chip"), "{}{}", ran.out, ran.err);
}

#[test]
fn the_same_thing_seen_and_not_seen() {
    refused(
        &["why", "slice", "--not", "slice"],
        2,
        &["cannot both be true", "slice"],
    );
}

#[test]
fn ratios_and_numbers_that_are_none() {
    for ratio in ["0", "-1", "NaN", "inf", "lots", "1e-308", "1e308"] {
        refused(
            &[
                "why",
                "slice",
                "--likelihood",
                &format!("grip-too-weak={ratio}"),
            ],
            2,
            &["above 0"],
        );
    }
    refused(
        &["why", "--likelihood", "grip-to-weak=3"],
        2,
        &["grip-too-weak"],
    );
    refused(
        &["why", "--measured", "trail-elbow-bend=112"],
        2,
        &["trail-elbow-bend-at-top"],
    );
    refused(
        &["why", "--measured", "trail-elbow-bend-at-top=112 cm"],
        2,
        &["degrees"],
    );
    refused(
        &["why", "--measured", "trail-elbow-bend-at-top=many"],
        2,
        &["a number"],
    );
    refused(
        &["why", "--measured", "trail-elbow-bend-at-top"],
        2,
        &["quantity=value"],
    );
}

#[test]
fn an_unknown_shot_lists_the_known_ones() {
    refused(&["why", "slice", "--shot", "pit"], 2, &["pitch"]);
}

#[test]
fn library_folders_that_cannot_be_read() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_str().expect("text").to_owned();
    refused(
        &["why", "slice", "--library", &path("missing")],
        1,
        &["missing"],
    );
    std::fs::create_dir(path("empty")).expect("made");
    refused(
        &["why", "slice", "--library", &path("empty")],
        1,
        &["empty"],
    );
    std::fs::create_dir(path("broken")).expect("made");
    std::fs::write(path("broken/a.yaml"), "faults: [{id: 'a\n").expect("written");
    refused(
        &["why", "slice", "--library", &path("broken")],
        1,
        &["a.yaml:"],
    );
    std::fs::create_dir(path("ring")).expect("made");
    std::fs::write(
        path("ring/a.yaml"),
        "faults:\n  - {id: one, name: One, stage: top, caused_by: [{id: two, strength: 0.5}]}\n  - {id: two, name: Two, stage: top, caused_by: [{id: one, strength: 0.5}]}\n",
    )
    .expect("written");
    refused(
        &["why", "slice", "--library", &path("ring")],
        1,
        &["one", "two", "circle"],
    );
    std::fs::create_dir(path("twice")).expect("made");
    std::fs::write(
        path("twice/a.yaml"),
        "faults:\n  - {id: slice, name: Mine, stage: top}\n",
    )
    .expect("written");
    refused(
        &["why", "slice", "--library", &path("twice")],
        1,
        &["slice", "replaces"],
    );
    refused(&["why", "slice", "--no-shipped"], 2, &["--library"]);
}

#[test]
fn a_closed_pipe_is_a_quiet_end() {
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("fairwhy"))
        .args(["why", "slice", "--all"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it runs");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert!(output.status.success(), "{:?}", output.status);
    assert!(
        output.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn no_home_folder_is_no_reason_to_stop() {
    let output = fairwhy(&["why", "slice"])
        .env_remove("FAIRWHY_HOME")
        .env_remove("HOME")
        .env_remove("XDG_DATA_HOME")
        .output()
        .expect("it runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn the_program_alone_says_where_to_begin() {
    let ran = run(&[]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert!(ran.out.contains("Begin with what you see"), "{}", ran.out);
    assert!(ran.out.lines().all(|line| line.chars().count() <= 100));
}

#[test]
fn what_is_not_understood_is_json_where_json_was_asked_for() {
    for (arguments, code, said) in [
        (&["why", "--shto", "iron"][..], 2, "--shto"),
        (&["why"][..], 2, "nothing was reported"),
        (&["show", "qqzzx"][..], 2, "qqzzx"),
        (
            &["show", "slice", "--library", "/nowhere/at/all"][..],
            1,
            "problems",
        ),
    ] {
        let arguments = [arguments, &["--format", "json"]].concat();
        let ran = run(&arguments);
        assert_eq!(ran.code, code, "{arguments:?}");
        assert_eq!(ran.out, "");
        let error: serde_json::Value = serde_json::from_str(&ran.err).expect("one JSON value");
        assert_eq!(error["error"]["status"], code);
        let message = error["error"]["message"].as_str().expect("said");
        assert!(message.contains(said), "{message}");
        if code == 1 {
            assert_eq!(error["error"]["problems"][0]["code"], "folder-missing");
        }
    }
    // Signs that a terminal would obey are shown, whoever refuses them.
    let ran = run(&["why", "--\u{202e}shot\u{1b}[31m", "x"]);
    assert_eq!(ran.code, 2);
    assert!(!ran.err.contains(['\u{202e}', '\u{1b}']), "{:?}", ran.err);
}

#[test]
fn what_is_missing_comes_with_an_example() {
    refused(
        &["show"],
        2,
        &["<ID>", "For example: fairwhy show grip-too-weak"],
    );
    refused(
        &["lesson", "next"],
        2,
        &["<HANDLE>", "For example: fairwhy lesson next heron"],
    );
    let ran = run(&["drills", "--format", "json"]);
    let error: serde_json::Value = serde_json::from_str(&ran.err).expect("one JSON value");
    let help = error["error"]["help"].as_str().expect("said");
    assert!(help.contains("For example: fairwhy drills"), "{help}");
}

/// Nobody may ever write to a named pipe, so it is not waited for.
#[cfg(unix)]
#[test]
fn a_pipe_is_not_waited_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let pipe = folder.path().join("pipe.yaml");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.is_ok_and(|made| made.success()));
    let pipe = pipe.to_str().expect("text");
    for arguments in [
        &["add", "drill", pipe, "--dry-run"][..],
        &["shots", pipe],
        &["frame", pipe, "--view", "face-on", "--at", "top"],
    ] {
        let ran = fairwhy(arguments)
            .timeout(std::time::Duration::from_secs(300))
            .output()
            .expect("it runs");
        let error = String::from_utf8_lossy(&ran.stderr);
        assert_eq!(ran.status.code(), Some(1), "{arguments:?}: {error}");
        assert!(error.contains("named pipe"), "{error}");
    }
    let entry = "faults:\n  - {id: my-fault, name: My fault, stage: top}\n";
    std::fs::write(folder.path().join("a.yaml"), entry).expect("writable");
    let here = folder.path().to_str().expect("text");
    let ran = run(&["check", here]);
    assert!(
        ran.out.contains("not-a-file") || ran.err.contains("pipe"),
        "{} {}",
        ran.out,
        ran.err
    );
}

/// A name that holds what a terminal would obey is shown, not obeyed.
#[test]
fn a_files_name_is_made_harmless() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in [
        "y\u{202e}\u{1b}[31m.md",
        "z\u{200f}.md",
        "w\u{1b}]0;x\u{7}.html",
    ] {
        let page = folder.path().join(name);
        let ran = run(&["plan", "slice", "--handout", page.to_str().expect("text")]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert!(ran.err.contains("wrote"), "{}", ran.err);
        assert!(
            !ran.err
                .contains(['\u{1b}', '\u{202e}', '\u{200f}', '\u{7}']),
            "{:?}",
            ran.err
        );
    }
}

/// What is typed at great length is not given back at great length; a word that ids are made of names them.
#[test]
fn an_unknown_entry_is_named_shortly() {
    let long = "x".repeat(100_000);
    assert!(run(&["show", &long]).err.len() < 1_000);
    for (word, id) in [
        ("grip", "grip-too-weak"),
        ("bunker", "bunker-left-in"),
        ("wrist", "wrist-or-hand-pain"),
    ] {
        let ran = run(&["show", word]);
        assert!(ran.code == 0 || ran.err.contains(word), "{}", ran.err);
        assert!(
            ran.code == 0 || ran.err.contains(id) || ran.err.contains("nearest"),
            "{}",
            ran.err
        );
    }
}

/// One entry by itself is for `add`, and `receive` says so once.
#[test]
fn receive_says_what_takes_a_single_entry() {
    let home = tempfile::tempdir().expect("a folder");
    for kind in ["drill", "outcome", "link"] {
        let template = run(&["add", kind, "--template"]).out;
        let file = home.path().join(format!("{kind}.yaml"));
        std::fs::write(&file, template).expect("writable");
        let ran = fairwhy(&["library", "receive", file.to_str().expect("text")])
            .env("FAIRWHY_HOME", home.path())
            .output()
            .expect("it runs");
        let error = String::from_utf8_lossy(&ran.stderr);
        assert_eq!(ran.status.code(), Some(2), "{error}");
        assert!(error.contains("fairwhy add"), "{error}");
        assert!(error.lines().count() < 8, "{error}");
    }
}
