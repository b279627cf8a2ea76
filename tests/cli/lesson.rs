//! `fairwhy lesson`: typed to, line by line.

use super::fairwhy;
use std::path::Path;

/// What is printed when these lines are typed, with the coach's own folder in `home`.
fn typed(home: &Path, arguments: &[&str], lines: &str) -> (String, i32) {
    let output = fairwhy(&["lesson"])
        .env("FAIRWHY_HOME", home)
        .args(arguments)
        .write_stdin(lines)
        .output()
        .expect("it runs");
    let text = String::from_utf8(output.stdout).expect("text");
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(!error.contains("panicked"), "{error}");
    (text + &error, output.status.code().expect("a status"))
}

fn home() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder")
}

#[test]
fn a_lesson_goes_from_the_note_by_the_looks_to_the_plan_and_the_page() {
    let home = home();
    let page = home.path().join("page.md");
    let lines = format!("?\nn\nn\ns\nq\n\n{}\n", page.display());
    let note = ["pulls it", "--shot", "iron", "--on", "2026-05-04"];
    let (text, code) = typed(home.path(), &note, &lines);
    assert_eq!(code, 0, "{text}");
    assert!(text.matches("Look:").count() >= 3, "{text}");
    assert!(text.contains("Work on") && text.contains("Wrote"), "{text}");
    let page = std::fs::read_to_string(page).expect("the page");
    assert!(
        page.contains("2026-05-04") && page.contains("2026-06-01"),
        "{page}"
    );
    // A lesson that is done is not kept.
    assert!(!home.path().join("lesson.json").exists());
}

/// What was looked for and is not there is named with the order, and in the plan.
#[test]
fn what_was_ruled_out_is_listed() {
    let home = home();
    let note = ["fat shots, sways", "--width", "80"];
    let (text, code) = typed(home.path(), &note, "n\nn\nq\n\n\n");
    assert_eq!(code, 0, "{text}");
    let ruled_out = text.lines().filter(|line| line.starts_with("Ruled out: "));
    let ruled_out: Vec<&str> = ruled_out.collect();
    assert_eq!(ruled_out.len(), 2, "{text}");
    let looks: Vec<&str> = text
        .split("Look: ")
        .skip(1)
        .map(|look| look.split([':', '(']).next().unwrap_or_default().trim())
        .collect();
    assert!(ruled_out[0].contains(looks[0]), "{text}");
    assert!(ruled_out[1].contains(looks[0]) && ruled_out[1].contains(looks[1]));
    let plain = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        plain.contains(&format!("; {}, not seen", looks[0])),
        "{text}"
    );
    assert!(!plain.contains(&format!("{0} = {0}", looks[0])), "{text}");
}

/// An answer moves the order; taken back, the same order is printed again.
#[test]
fn an_answer_can_be_taken_back() {
    let home = home();
    let note = ["pulls it", "--shot", "iron"];
    let (text, _) = typed(home.path(), &note, "n\nu\nq\nn\n");
    let orders: Vec<&str> = text.split("Start ").skip(1).collect();
    assert_eq!(orders.len(), 3, "{text}");
    let rows = |order: &str| -> Vec<String> {
        let rows = order
            .lines()
            .skip(2)
            .take(5)
            .map(|row| row.trim().to_owned());
        rows.filter(|row| row.contains("likely") || row.contains("possible"))
            .collect()
    };
    assert_ne!(rows(orders[0]), rows(orders[1]), "{text}");
    assert_eq!(rows(orders[0])[0], rows(orders[2])[0], "{text}");
    assert!(text.contains("Taken back"), "{text}");
}

/// What was broken off goes on where it was; a new note puts it aside and loses nothing.
#[test]
fn a_lesson_that_was_broken_off_goes_on() {
    let home = home();
    let note = ["pulls it", "--shot", "iron"];
    let (before, _) = typed(home.path(), &note, "n\n");
    assert!(home.path().join("lesson.json").exists(), "{before}");
    let (text, code) = typed(home.path(), &[], "q\nn\n");
    assert_eq!(code, 0, "{text}");
    assert!(
        text.contains("Going on") && text.contains("not seen"),
        "{text}"
    );
    let (text, _) = typed(home.path(), &["fat shots"], "q\nn\n");
    assert!(text.contains("put aside"), "{text}");
    assert!(home.path().join("lesson-aside-1.json").exists());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let about = std::fs::metadata(home.path().join("lesson.json")).expect("kept");
        assert_eq!(
            about.permissions().mode() & 0o077,
            0,
            "it is about a student"
        );
    }
}

#[test]
fn a_reading_is_corrected_by_its_number() {
    let home = home();
    let note = ["pulls it", "--shot", "iron"];
    let (text, _) = typed(home.path(), &note, "1\nslice\n9\n1\n-\nq\nn\n");
    assert!(text.contains("What does it mean?"), "{text}");
    assert!(text.contains("Nothing was read as number 9"), "{text}");
    let kept = std::fs::read_to_string(home.path().join("lesson.json")).expect("kept");
    assert!(kept.contains("\"slice\""), "{kept}");
}

#[test]
fn slips_are_said_and_nothing_breaks() {
    let home = home();
    let (text, code) = typed(home.path(), &["fat shots"], "maybe\nq\ny\npage.pdf\n\n");
    assert_eq!(code, 0, "{text}");
    assert!(
        text.contains("Write y, n, s") && text.contains("ends in .html or .md"),
        "{text}"
    );
    // Nothing typed at all.
    let (text, code) = typed(home.path(), &[], "");
    assert_eq!(code, 2, "{text}");
    // A kept lesson that is not one says where it is, and a note starts another.
    std::fs::write(home.path().join("lesson.json"), "{nonsense").expect("written");
    let (text, code) = typed(home.path(), &[], "q\n");
    assert!(code == 1 && text.contains("lesson.json"), "{text}");
    let (text, code) = typed(home.path(), &["fat shots"], "q\nn\n");
    assert_eq!(code, 0, "{text}");
}

/// What stands in a new column is said with its number, with what the marks mean; a corrected reading too.
#[test]
fn a_new_column_is_named() {
    let home = home();
    for note in ["pulls it", "fat shots", "slices it"] {
        let (text, _) = typed(home.path(), &[note], "y\nq\nn\n");
        let after = text.split("q to the plan:").nth(1).unwrap_or_default();
        let look = text.split("Look: ").nth(1).expect("a look");
        let name = look.split([':', '(']).next().expect("a name").trim();
        assert!(after.contains(&format!("  2  {name}")), "{text}");
        assert!(after.contains("often behind it"), "{text}");
    }
    let (text, _) = typed(home.path(), &["pulls it"], "1\nhook\nq\nn\n");
    assert!(text.contains("1 = Hook now."), "{text}");
    let (text, _) = typed(home.path(), &["hangs back, right handed"], "1\n\nq\nn\n");
    assert!(!text.contains("trail foot"), "{text}");
}

/// What was not offered is not taken for an answer.
#[test]
fn an_answer_that_was_not_offered_is_asked_again() {
    let home = home();
    for slip in ["s", "maybe", "later"] {
        let (text, _) = typed(home.path(), &["pulls it"], &format!("q\n{slip}\nn\n"));
        assert_eq!(text.matches("Plan 45 minutes?").count(), 2, "{text}");
        assert!(!text.contains("Work on"), "{text}");
    }
    // A note that is settled from the start: what is no answer there does not end it.
    let note = [
        "slice, weak grip, hands roll over",
        "--found",
        "grip-too-weak",
    ];
    let (text, _) = typed(home.path(), &note, "n\ny\nq\nn\n");
    if text.contains("Settled. Enter or q") {
        assert_eq!(text.matches("Settled. Enter or q").count(), 3, "{text}");
        assert!(text.contains("No look was put"), "{text}");
    }
}
