//! Numbers a coach has: off the ball, off a frame, before and after; as commands and as properties.

#[path = "measure/change.rs"]
mod change;
#[path = "measure/flight.rs"]
mod flight;
#[path = "measure/frame.rs"]
mod frame;

use assert_cmd::Command;

/// What a run printed and how it ended.
struct Ran {
    code: i32,
    out: String,
    err: String,
}

/// Runs the program with nothing of the tester's own environment in its way.
fn run(arguments: &[&str]) -> Ran {
    let mut command = Command::cargo_bin("fairwhy").expect("the program is built");
    for name in ["FAIRWHY_LIBRARY", "NO_COLOR", "COLUMNS"] {
        command.env_remove(name);
    }
    let home = std::env::temp_dir().join("fairwhy-test-home-that-is-empty");
    let output = command
        .env("FAIRWHY_HOME", home)
        .args(arguments)
        .output()
        .expect("it runs");
    Ran {
        code: output.status.code().expect("it ended by itself"),
        out: String::from_utf8(output.stdout).expect("text"),
        err: String::from_utf8(output.stderr).expect("text"),
    }
}

fn json(arguments: &[&str]) -> serde_json::Value {
    let mut arguments = arguments.to_vec();
    arguments.extend(["--format", "json"]);
    let ran = run(&arguments);
    assert_eq!(ran.code, 0, "{}", ran.err);
    serde_json::from_str(&ran.out).expect("one JSON value")
}

fn texts(list: &serde_json::Value) -> Vec<&str> {
    let list = list.as_array().expect("a list").iter();
    list.map(|one| one.as_str().expect("a text")).collect()
}

/// A refusal: the status, nothing on standard output, and the words that must be in it.
fn refused(arguments: &[&str], words: &[&str]) {
    let ran = run(arguments);
    assert!(ran.code == 2 || ran.code == 1, "{arguments:?}: {}", ran.out);
    assert_eq!(ran.out, "", "{arguments:?}");
    for word in words {
        assert!(ran.err.contains(word), "{arguments:?}: {}", ran.err);
    }
}
