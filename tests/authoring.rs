//! A coach's own entries, from the command line to the disk: what is saved is whole, and what was
//! there is never lost.

#[path = "authoring/crash.rs"]
mod crash;
#[cfg(unix)]
#[path = "authoring/terminal.rs"]
mod terminal;

#[path = "authoring/editing.rs"]
mod editing;
#[path = "authoring/replacing.rs"]
mod replacing;
#[path = "authoring/sharing.rs"]
mod sharing;

use assert_cmd::Command;
use fairwhy::authoring::{EntryKind, template};
use fairwhy::knowledge::folder;
use predicates::prelude::*;
use predicates::str::contains;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const DRILL: &str = "\
# found on a wet Tuesday
id: towel-under-trail-heel
name: Towel under the trail heel
treats: [{id: hangs-back, effect: probable, basis: own lessons}]
purpose: Gets the student off the trail heel before the ball is struck
steps:
  - Fold a towel under the trail heel
  - Swing to waist height and let the heel leave the towel before impact
check: The heel is off the towel in 8 of 10
";

const CAUSE: &str = "\
causes:
  - {id: fear-of-topping, name: Fear of topping it, stage: concept, look: {from: [ask-student], for: Says so}}
links:
  - {cause: fear-of-topping, effect: hangs-back, strength: expected, because: It lifts, basis: own lessons}
";

/// What most desks know instead of all that ships, which takes a second to read in a test build.
const SMALL: &str = "\
outcomes:
  - id: thud
    name: Heavy strike
    stage: strike
    caused_by: [{id: hangs-back, strength: probable, basis: common practice}]
faults:
  - {id: hangs-back, name: Hangs back on the trail foot, stage: downswing}
  - {id: grip-pressure-too-tight, name: Grips too tightly, stage: grip}
drills:
  - {id: step-through, name: Step through, treats: [{id: hangs-back, effect: expected}], steps: [Step], check: 8 of 10}
  - {id: slow-step, name: Slow step, treats: [{id: hangs-back, effect: 0.3}], steps: [Step slowly], check: 8 of 10}
";

/// A coach at a desk: a home of her own, and the program.
struct Desk {
    home: TempDir,
    small: bool,
}

impl Desk {
    /// One where a small library is all that the program knows.
    fn new() -> Self {
        let desk = Self::with_all_that_ships();
        let base = desk.home.path().join("base");
        fs::create_dir(&base).expect("made");
        fs::write(base.join("base.yaml"), SMALL).expect("written");
        Self {
            small: true,
            ..desk
        }
    }

    fn with_all_that_ships() -> Self {
        Self {
            home: TempDir::new().expect("a folder"),
            small: false,
        }
    }

    fn fairwhy(&self, arguments: &[&str]) -> Command {
        Command::from_std(self.program(arguments))
    }

    /// The same for tests that start it themselves.
    fn program(&self, arguments: &[&str]) -> std::process::Command {
        let mut command = std::process::Command::new(assert_cmd::cargo::cargo_bin("fairwhy"));
        if self.small {
            command.arg("--no-shipped");
        }
        command
            .args(arguments)
            .current_dir(self.home.path())
            .env("FAIRWHY_HOME", self.home.path())
            .env_remove("FAIRWHY_LIBRARY")
            .env_remove("VISUAL")
            .env_remove("EDITOR");
        if self.small {
            self.with_the_small_library(arguments, &mut command);
        }
        command
    }

    /// The own library is read by itself only on top of what ships, so here it is named.
    fn with_the_small_library(&self, arguments: &[&str], command: &mut std::process::Command) {
        let mut folders = vec![self.home.path().join("base")];
        folders.extend(Some(self.library()).filter(|own| folder::read(own).is_ok()));
        let folders = std::env::join_paths(folders).expect("no odd names");
        command.env("FAIRWHY_LIBRARY", folders);
        let writes = matches!(
            arguments.first(),
            Some(&("add" | "edit" | "remove" | "retire"))
        );
        if writes && !arguments.contains(&"--to") && !arguments.contains(&"--template") {
            command.arg("--to").arg(self.library());
        }
    }

    fn file(&self, name: &str, text: &str) -> String {
        let path = self.home.path().join(name);
        fs::write(&path, text).expect("written");
        path.display().to_string()
    }

    fn library(&self) -> PathBuf {
        self.home.path().join("library")
    }

    fn add(&self, kind: &str, text: &str) -> assert_cmd::assert::Assert {
        self.fairwhy(&["add", kind, "-"]).write_stdin(text).assert()
    }

    fn json(&self, arguments: &[&str]) -> serde_json::Value {
        let output = self
            .fairwhy(arguments)
            .args(["--format", "json"])
            .output()
            .expect("runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {said}"))
    }
}

/// Every file below a folder with its bytes, names with a dot in front included.
fn all_files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(now) = open.pop() {
        let Ok(entries) = fs::read_dir(&now) else {
            continue;
        };
        for entry in entries.flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path
                    .strip_prefix(folder)
                    .expect("below")
                    .display()
                    .to_string();
                files.insert(name, fs::read(&path).expect("read"));
            }
        }
    }
    files
}

#[test]
fn a_drill_is_added_from_standard_input_and_every_command_knows_it() {
    let desk = Desk::with_all_that_ships();
    desk.add("drill", DRILL).success().stdout(
        contains("Now offered for")
            .and(contains("on trial"))
            .and(contains("hangs-back")),
    );
    let text = fs::read_to_string(desk.library().join("drills/towel-under-trail-heel.yaml"))
        .expect("saved");
    assert!(text.contains("# found on a wet Tuesday"), "{text}");
    assert!(text.contains("    status: trial\n"), "{text}");
    desk.fairwhy(&["show", "towel-under-trail-heel"])
        .assert()
        .success()
        .stdout(contains("On trial").and(contains("library")));
    desk.fairwhy(&["show", "hangs-back"])
        .assert()
        .success()
        .stdout(contains("Towel under the trail heel"));
    desk.fairwhy(&["check", "--no-cases"]).assert().success();
    // The given folders alone means just that.
    desk.fairwhy(&[
        "show",
        "towel-under-trail-heel",
        "--no-shipped",
        "--library",
    ])
    .arg(
        desk.file("other.yaml", "")
            .replace("/other.yaml", "/library"),
    )
    .assert()
    .failure();
}

#[test]
fn a_drill_on_trial_says_so_wherever_it_appears() {
    let desk = Desk::new();
    desk.add("drill", &DRILL.replace("probable", "certain"))
        .success();
    for arguments in [
        &["why", "hangs-back", "thud"][..],
        &["drills", "hangs back"],
        &["show", "hangs-back"],
        &["show", "towel-under-trail-heel"],
        &["plan", "hangs-back", "thud"],
        &["plan", "hangs-back", "thud", "--handout"],
        &["library", "list"],
        &["library", "diff"],
    ] {
        let output = desk.fairwhy(arguments).output().expect("runs");
        let said = String::from_utf8(output.stdout).expect("text");
        let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words.to_lowercase().contains("on trial"),
            "{arguments:?}: {said}"
        );
    }
}

#[test]
fn a_dry_run_and_a_template_write_nothing() {
    let desk = Desk::with_all_that_ships();
    for kind in EntryKind::ALL {
        desk.fairwhy(&["add", kind.as_str(), "--template"])
            .assert()
            .success()
            .stdout(contains(template(*kind)).and(contains("fairwhy add")));
    }
    // It would pass the check, but what it says is nobody's own.
    let drill = template(EntryKind::Drill);
    desk.fairwhy(&["add", "drill", "-"])
        .write_stdin(drill)
        .assert()
        .code(1)
        .stderr(contains("is the template as it came").and(contains("its id above all")));
    desk.fairwhy(&["add", "drill", "-", "--dry-run"])
        .write_stdin(drill.replace("coin", "marker"))
        .assert()
        .success()
        .stdout(contains("nothing was saved"));
    assert!(!desk.library().exists());
}

#[test]
fn bad_drafts_are_refused_with_a_place_and_nothing_is_written() {
    let desk = Desk::new();
    for (text, place, said) in [
        ("", "standard input", "--template"),
        ("# only a comment\n", "standard input", "--template"),
        (
            "id: My Drill\nname: x\ntreats: [{id: hangs-back}]\n",
            "standard input:1:5",
            "my-drill",
        ),
        (
            "id: x\nname: X\ntreats: []\nsteps: [Go]\n",
            "standard input:3:1",
            "treats nothing",
        ),
        ("id: x\nname: X\n", "standard input", "treats"),
        (
            "id: x\nname: X\ntreats:\n  - {id: hangs-bak}\n",
            "standard input:4:10",
            "hangs-back",
        ),
        (
            "faults: [{id: x, name: X, stage: top}]",
            "standard input",
            "fairwhy add fault",
        ),
        (
            "id: x\nname: \"a\u{202e}b\"\n",
            "standard input:2",
            "U+202E",
        ),
        ("drills: [", "standard input", "Nothing was saved"),
        ("just words", "standard input", "Nothing was saved"),
        (
            "id: &a x\nname: *a\n",
            "standard input",
            "Nothing was saved",
        ),
    ] {
        desk.add("drill", text)
            .code(1)
            .stderr(contains(place).and(contains(said)));
    }
    let huge = "#".repeat(1 << 20) + "\n";
    desk.add("drill", &huge)
        .code(1)
        .stderr(contains("larger than 1 MiB"));
    desk.fairwhy(&["add", "drill", "-"])
        .write_stdin(b"id: x\nname: \xff\n".to_vec())
        .assert()
        .code(1)
        .stderr(contains("line 2"));
    desk.fairwhy(&["add", "drill", "no-such-file.yaml"])
        .assert()
        .code(1)
        .stderr(contains("no-such-file.yaml"));
    desk.fairwhy(&["add", "drill"])
        .assert()
        .code(2)
        .stderr(contains("--template"));
    assert!(!desk.library().exists());
}

#[test]
fn another_script_and_a_file_with_its_own_sources_are_welcome() {
    let desk = Desk::new();
    let text = "\
drills:
  - id: kakato-wo-ageru
    name: かかとを上げる
    aliases: [تمرين الكعب, Übung für die Ferse]
    treats: [{id: hangs-back, basis: own-notes}]
    steps: [右足ではなく後ろ足のかかとを上げる]
    check: 10回中8回
    sources: [own-notes]
sources:
  - {id: own-notes, cite: Own lesson notes}
";
    desk.add("drill", text).success();
    let shown = desk.json(&["show", "kakato-wo-ageru"]);
    assert_eq!(shown["name"], "かかとを上げる");
    assert_eq!(shown["sources"][0], "Own lesson notes");
}

#[test]
fn a_near_copy_is_shown_beside_what_it_is_like() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let copy = DRILL
        .replace("towel-under-trail-heel", "mat-drill")
        .replace("Fold a", "Put a");
    let saved = desk.add("drill", &copy).success();
    saved.stdout(
        contains("Nearly the same as")
            .and(contains("Sorensen-Dice"))
            .and(contains("mat-drill")),
    );
}

#[test]
fn a_change_of_advice_that_a_case_asks_for_is_said() {
    let desk = Desk::new();
    let case = "\
faults:
  - id: own-fault
    name: Own fault
    stage: takeaway
    caused_by: [{id: own-cause, strength: 0.4, basis: own lessons}]
    behind: [{id: own-cause, share: 0.3}]
causes:
  - {id: own-cause, name: Own cause, stage: concept}
cases:
  - {id: own-case, seen: [own-fault], ranks: {first: 1, any_of: [own-fault]}, basis: own lessons}
";
    desk.add("fault", case).success();
    // As long as neither has a remedy, the habit of its own comes first. A sure remedy for the cause
    // and a poor one for the fault turn that round.
    let drills = "\
drills:
  - {id: own-drill, name: Own drill, steps: [Go], check: 8 of 10, treats: [{id: own-cause, effect: certain}]}
  - {id: poor-drill, name: Poor drill, steps: [Go slowly], check: 8 of 10, treats: [{id: own-fault, effect: 0.1}]}
";
    let output = desk
        .fairwhy(&["add", "drill", "-", "--dry-run", "--format", "json"])
        .write_stdin(drills)
        .output()
        .expect("runs");
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(value["saved"], serde_json::Value::Null);
    let first: Vec<_> = value["changes"]["first_remedy_for"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|id| id.as_str())
        .collect();
    assert_eq!(first, ["own-cause", "own-fault"]);
    assert_eq!(value["changes"]["broken_cases"][0]["id"], "own-case");
    desk.add("drill", drills)
        .success()
        .stdout(contains("Advice that changes").and(contains("own-case")));
    desk.fairwhy(&["check"]).assert().code(1);
}

#[test]
fn the_schema_is_json_and_knows_the_lists() {
    let desk = Desk::new();
    let output = desk.fairwhy(&["schema"]).output().expect("runs");
    let schema: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    for kind in EntryKind::ALL {
        assert!(
            schema["properties"].get(kind.list()).is_some(),
            "{}",
            kind.list()
        );
    }
}

#[test]
fn there_is_a_clear_word_when_there_is_no_home() {
    let desk = Desk::with_all_that_ships();
    let file = desk.file("in-the-way", "");
    let mut command = desk.fairwhy(&["add", "drill", "-"]);
    command
        .env("FAIRWHY_HOME", &file)
        .write_stdin(DRILL)
        .assert()
        .code(1)
        .stderr(contains("in-the-way"));
    // A folder named on the line needs no home.
    let to = desk.home.path().join("academy").display().to_string();
    desk.fairwhy(&["add", "drill", "-", "--to", &to])
        .write_stdin(DRILL)
        .assert()
        .success();
    desk.fairwhy(&["show", "towel-under-trail-heel"])
        .assert()
        .stdout(contains("(towel-under-trail-heel)").not());
    desk.fairwhy(&["show", "towel-under-trail-heel", "--library", &to])
        .assert()
        .success();
}

#[test]
fn the_own_library_given_by_name_is_not_read_twice() {
    let desk = Desk::with_all_that_ships();
    desk.add("drill", DRILL).success();
    let own = desk.library().display().to_string();
    desk.fairwhy(&["check", "--no-cases", "--library", &own])
        .assert()
        .success();
    desk.fairwhy(&["check", "--no-cases", &own])
        .assert()
        .success();
    fs::remove_dir_all(desk.library()).expect("removed");
    fs::create_dir_all(desk.library()).expect("made");
    desk.fairwhy(&["show", "hangs-back"]).assert().success();
}

#[test]
fn a_slip_in_an_own_file_does_not_stop_a_lesson() {
    let desk = Desk::with_all_that_ships();
    desk.add("drill", DRILL).success();
    let slip = "drills:\n- id: slip\n  nmae: Slip\n  treats: [{id: hangs-back}]\n";
    fs::write(desk.library().join("slip.yaml"), slip).expect("written");
    let said = "slip.yaml of your own library";
    desk.fairwhy(&["show", "towel-under-trail-heel"])
        .assert()
        .success()
        .stdout(contains("wet Tuesday").not())
        .stderr(
            contains(said)
                .and(contains("line 3: "))
                .and(contains("did you mean `name`?")),
        );
    desk.fairwhy(&["show", "hangs-back", "--no-own"])
        .assert()
        .success()
        .stderr("");
    desk.fairwhy(&["check", "--no-cases"])
        .assert()
        .code(1)
        .stdout(contains("unknown-key"));
    // What is added beside it is saved, and the slip can be mended.
    desk.add("cause", CAUSE.split("links:").next().expect("a cause"))
        .success()
        .stderr(contains(said));
    desk.fairwhy(&["edit", "slip"])
        .env("EDITOR", "sed -i s/nmae/name/")
        .assert()
        .success();
    // A link that closes a circle is reported where it was written, and so left out.
    let circle = "links:\n- {cause: slice, effect: grip-too-weak, strength: 0.5}\n";
    fs::write(desk.library().join("circle.yaml"), circle).expect("written");
    desk.fairwhy(&["show", "hangs-back"])
        .assert()
        .success()
        .stderr(contains("circle.yaml of your own library").and(contains("go in a circle")));
}

#[test]
fn a_file_that_came_by_two_ways_is_taken_once() {
    let desk = Desk::with_all_that_ships();
    desk.add("drill", DRILL).success();
    let academy = desk.home.path().join("academy");
    fs::create_dir(&academy).expect("made");
    let own = desk.library().join("drills/towel-under-trail-heel.yaml");
    fs::copy(own, academy.join("copy.yaml")).expect("copied");
    let academy = academy.display().to_string();
    desk.fairwhy(&["show", "towel-under-trail-heel", "--library", &academy])
        .assert()
        .success()
        .stderr(contains("stands word for word in copy.yaml:3 of").and(contains("taken once")));
}

/// What is no file is called what it is.
#[cfg(unix)]
#[test]
fn folders_and_devices_are_no_files() {
    let desk = Desk::new();
    for (args, said) in [
        (["library", "receive", "/dev/full"], "it is a device"),
        (["library", "receive", "."], "it is a folder"),
        (["add", "drill", "/dev/zero"], "it is a device"),
        (["add", "drill", "."], "it is a folder"),
    ] {
        desk.fairwhy(&args)
            .assert()
            .code(1)
            .stderr(contains(said).and(contains("Nothing was saved.")));
    }
}

#[test]
fn a_link_shows_what_stands_behind_its_effect_from_then_on() {
    let desk = Desk::new();
    let link = "cause: grip-pressure-too-tight\neffect: thud\nshare: 0.3\nbasis: own lessons\n";
    let file = desk.file("link.yaml", link);
    let done = desk.json(&["add", "link", &file, "--dry-run"]);
    let change = &done["changes"]["rows"][0];
    assert_eq!(change["id"], "thud");
    let row = change["row"].as_array().expect("shares");
    let of = |id: &str| row.iter().find(|share| share["id"] == id).expect("there");
    // One added link of share r takes exactly r of the row (docs/model.md).
    let own = of("grip-pressure-too-tight");
    assert_eq!(own["before"], 0.0);
    assert!(
        (own["after"].as_f64().expect("a share") - 0.3).abs() < 1e-9,
        "{own}"
    );
    let other = of("hangs-back");
    let (before, after) = (other["before"].as_f64(), other["after"].as_f64());
    let scaled = before
        .zip(after)
        .map(|(before, after)| (after - 0.7 * before).abs());
    assert!(scaled.expect("shares") < 1e-9, "{other}");
    assert_eq!(change["starts_before"][0], "hangs-back");
    desk.fairwhy(&["add", "link", &file, "--dry-run"])
        .assert()
        .success()
        .stdout(
            contains("share 0.30")
                .and(contains("30 %"))
                .and(contains("Seen alone")),
        );
    let both = desk.file("both.yaml", &format!("{link}strength: expected\n"));
    desk.fairwhy(&["add", "link", &both])
        .assert()
        .code(1)
        .stderr(contains("share-and-strength").and(contains("Nothing was saved")));
}
