//! The commands as a coach meets them: real input, typing slips, broken libraries, pipes.

#[path = "cli/lesson.rs"]
mod lesson;
#[path = "cli/refusals.rs"]
mod refusals;
#[path = "cli/show.rs"]
mod show;
#[path = "cli/standing.rs"]
mod standing;
#[path = "cli/why.rs"]
mod why;

use assert_cmd::Command;
use std::path::PathBuf;

/// The program, with nothing of the tester's own environment in its way.
fn fairwhy(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("fairwhy").expect("the program is built");
    for name in ["FAIRWHY_LIBRARY", "FAIRWHY_HOME", "NO_COLOR", "COLUMNS"] {
        command.env_remove(name);
    }
    let home = std::env::temp_dir().join("fairwhy-test-home-that-is-empty");
    command.env("FAIRWHY_HOME", home).args(arguments);
    command
}

/// What a run printed and how it ended.
struct Ran {
    code: i32,
    out: String,
    err: String,
}

fn run(arguments: &[&str]) -> Ran {
    let output = fairwhy(arguments).output().expect("it runs");
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

fn ids(list: &serde_json::Value) -> Vec<&str> {
    list.as_array()
        .expect("a list")
        .iter()
        .map(|entry| entry["id"].as_str().expect("an id"))
        .collect()
}

/// A small invented library with every figure known by hand.
fn small() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/cases/small")
}
