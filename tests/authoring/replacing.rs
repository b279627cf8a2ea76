//! An entry in the place of another.

use super::*;

#[test]
fn an_entry_that_is_there_is_replaced_only_when_told_and_then_kept() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let place = desk.library().join("drills/towel-under-trail-heel.yaml");
    let before = fs::read_to_string(&place).expect("saved");
    let other = DRILL.replace("8 of 10", "9 of 10");
    desk.add("drill", &other)
        .code(1)
        .stderr(contains("is there already").and(contains("--replace")));
    assert_eq!(fs::read_to_string(&place).expect("there"), before);
    for number in 1..=2 {
        desk.fairwhy(&["add", "drill", "-", "--replace"])
            .write_stdin(other.as_str())
            .assert()
            .success()
            .stdout(contains(format!("before-{number}")));
    }
    let kept = fs::read_to_string(place.with_extension("yaml.before-1")).expect("kept");
    assert_eq!(kept, before);
    assert!(
        fs::read_to_string(&place)
            .expect("there")
            .contains("9 of 10")
    );
    desk.fairwhy(&["check"]).assert().success();
}

#[test]
fn a_replacement_takes_no_other_entry_with_it_and_changes_no_sort() {
    let desk = Desk::new();
    let two = format!(
        "drills:\n  - {}\n  - {{id: second, name: Second, treats: [{{id: hangs-back}}], steps: [Go]}}\n",
        DRILL
            .replace("# found on a wet Tuesday\n", "")
            .trim_end()
            .replace('\n', "\n    ")
    );
    desk.add("drill", &two).success();
    desk.fairwhy(&["add", "drill", "-", "--replace"])
        .write_stdin(DRILL)
        .assert()
        .code(1)
        .stderr(contains("holds `second` too"));
    desk.fairwhy(&["add", "fault", "-", "--replace"])
        .write_stdin("{id: second, name: Second, stage: top}")
        .assert()
        .code(1)
        .stderr(contains("never used for something else"));
}

#[test]
fn a_replacement_takes_no_source_with_it() {
    let desk = Desk::new();
    let with_source = format!(
        "drills:\n  - {}\n    sources: [my-notes]\nsources:\n  - {{id: my-notes, cite: Own notes}}\n",
        DRILL
            .replace("# found on a wet Tuesday\n", "")
            .trim_end()
            .replace('\n', "\n    ")
    );
    desk.add("drill", &with_source).success();
    desk.fairwhy(&["add", "drill", "-", "--replace"])
        .write_stdin(DRILL)
        .assert()
        .code(1)
        .stderr(contains("holds `my-notes` too"));
}

#[test]
fn a_replacement_names_every_warning_that_it_drops() {
    let desk = Desk::new();
    let careful = format!(
        "{DRILL}caution: Stop when the heel hurts.\nnot_with: [hangs-back]\naggravates: [grip-pressure-too-tight]\n"
    );
    desk.add("drill", &careful).success();
    let again = ["add", "drill", "-", "--replace", "--dry-run"];
    desk.fairwhy(&again)
        .write_stdin(DRILL)
        .assert()
        .success()
        .stdout(contains("no longer warns: Stop when"));
    let answer = desk
        .fairwhy(&again)
        .args(["--format", "json"])
        .write_stdin(DRILL)
        .output()
        .expect("runs");
    let answer: serde_json::Value = serde_json::from_slice(&answer.stdout).expect("JSON");
    let unwarned: Vec<&str> = answer["changes"]["unwarned"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|pair| pair[1].as_str())
        .collect();
    assert_eq!(
        unwarned,
        [
            "Stop when the heel hurts.",
            "not with Hangs back on the trail foot (hangs-back)",
            "can make worse Grips too tightly (grip-pressure-too-tight)",
        ]
    );
}

#[test]
fn a_shipped_entry_is_replaced_only_by_saying_so() {
    let desk = Desk::new();
    let id = "hangs-back";
    let own = format!("id: {id}\nname: Stays on the back foot\nstage: downswing\n");
    desk.add("fault", &own)
        .code(1)
        .stderr(contains("id-twice").and(contains("replaces: hangs-back")));
    assert!(!desk.library().exists());
    desk.fairwhy(&["add", "fault", "-", "--replace"])
        .write_stdin(own)
        .assert()
        .success()
        .stdout(contains("now stands in the place of"));
    desk.fairwhy(&["library", "diff"])
        .assert()
        .success()
        .stdout(contains("Stays on the back foot"));
}
