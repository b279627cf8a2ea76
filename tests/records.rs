//! Students, lessons and what came of it: as a coach keeps them, and as the machine lets them down.

#[path = "records/commands.rs"]
mod commands;
#[path = "records/forms.rs"]
mod forms;
#[path = "records/learning.rs"]
mod learning;
#[path = "records/let_down.rs"]
mod let_down;
#[cfg(unix)]
#[path = "records/loopback.rs"]
mod loopback;
#[path = "records/numbers.rs"]
mod numbers;
#[cfg(unix)]
#[path = "records/server.rs"]
mod server;
#[path = "records/store.rs"]
mod store;

use assert_cmd::Command;
use fairwhy::records::{LessonRecord, Prescribed, Ranked, Store, StorePlace, Student, Tally};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A coach's own folder, and the program with nothing else in its way.
struct Desk {
    folder: TempDir,
}

/// What a run printed and how it ended.
struct Ran {
    code: i32,
    out: String,
    err: String,
}

impl Desk {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a folder"),
        }
    }

    fn file(&self) -> PathBuf {
        self.folder.path().join("records.db")
    }

    fn place(&self) -> StorePlace {
        StorePlace::File(self.file())
    }

    fn store(&self) -> Store {
        Store::to_write(&self.place(), "").expect("opens")
    }

    fn read(&self) -> Store {
        Store::to_read(&self.place())
            .expect("opens")
            .expect("is there")
    }

    fn fairwhy(&self, arguments: &[&str]) -> Command {
        let mut command = Command::cargo_bin("fairwhy").expect("the program is built");
        for name in [
            "FAIRWHY_LIBRARY",
            "FAIRWHY_RECORDS",
            "FAIRWHY_COACH",
            "NO_COLOR",
            "COLUMNS",
        ] {
            command.env_remove(name);
        }
        command
            .env("FAIRWHY_HOME", self.folder.path())
            .args(arguments);
        command
    }

    fn run(&self, arguments: &[&str]) -> Ran {
        let output = self.fairwhy(arguments).output().expect("it runs");
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
        Ran {
            code: output.status.code().expect("it ended by itself"),
            out: text(output.stdout),
            err: text(output.stderr),
        }
    }

    fn done(&self, arguments: &[&str]) -> String {
        let ran = self.run(arguments);
        assert_eq!(ran.code, 0, "{arguments:?}: {}{}", ran.out, ran.err);
        ran.out
    }

    fn json(&self, arguments: &[&str]) -> serde_json::Value {
        let mut arguments = arguments.to_vec();
        arguments.extend(["--format", "json"]);
        serde_json::from_str(&self.done(&arguments)).expect("one JSON value")
    }
}

fn day(text: &str) -> chrono::NaiveDate {
    text.parse().expect("a day")
}

fn student(handle: &str) -> Student {
    Student::new(handle, day("2026-01-05"))
}

/// A lesson of which everything is said.
fn lesson(on: &str) -> LessonRecord {
    LessonRecord {
        note: vec!["weak slice, \"pulls\"\nshort irons; caf\u{e9}".into()],
        seen: vec!["slice".into(), "pull".into()],
        slight: vec!["pull".into()],
        ruled_out: vec!["grip-too-strong".into()],
        counts: vec![Tally {
            what: "slice".into(),
            of: 10,
            shown: 7,
        }],
        ranking: vec![Ranked {
            id: "grip-too-weak".into(),
            chance: 0.1 + 0.2,
        }],
        coach_says: Some("grip-too-weak".into()),
        prescribed: vec![Prescribed {
            drill: "count-the-knuckles".into(),
            works_on: vec!["grip-too-weak".into()],
        }],
        ..LessonRecord::new(day(on))
    }
}

fn bytes_hold(file: &Path, word: &str) -> bool {
    let bytes = std::fs::read(file).expect("there");
    bytes
        .windows(word.len())
        .any(|window| window == word.as_bytes())
}
