//! Own entries changed in an editor, taken out of use, and taken out.

use super::*;

#[test]
fn an_editor_changes_an_own_entry_and_copies_one_that_ships() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let edit = |id: &str, script: &str| {
        let mut command = desk.fairwhy(&["edit", id]);
        command.env("EDITOR", format!("sed -i {script}"));
        command.assert()
    };
    edit("towel-under-trail-heel", "s/8.of.10/7.of.10/")
        .success()
        .stdout(contains("before-1"));
    let place = desk.library().join("drills/towel-under-trail-heel.yaml");
    assert!(
        fs::read_to_string(&place)
            .expect("there")
            .contains("7.of.10")
    );
    edit("towel-under-trail-heel", "s/zzz/y/")
        .success()
        .stderr(contains("Nothing was changed"));
    // What was typed is not lost when it does not pass.
    let refused = edit("towel-under-trail-heel", "s/hangs-back/hangs-bak/").code(1);
    let said = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
    let kept = said
        .lines()
        .find_map(|line| line.strip_prefix("Your text is kept in "))
        .expect("kept");
    assert!(
        fs::read_to_string(kept)
            .expect("kept")
            .contains("hangs-bak}")
            || fs::read_to_string(kept)
                .expect("kept")
                .contains("hangs-bak,")
    );
    fs::remove_file(kept).expect("cleared");
    let gone = edit("towel-under-trail-heel", "s/towel-under-trail-heel/towel/").code(1);
    let said = String::from_utf8_lossy(&gone.get_output().stderr).into_owned();
    assert!(said.contains("would be gone"), "{said}");
    fs::remove_file(
        said.lines()
            .find_map(|line| line.strip_prefix("Your text is kept in "))
            .expect("kept"),
    )
    .expect("cleared");
    edit("hangs-back", "s/Hangs/Stays/")
        .success()
        .stdout(contains("now stands in the place of"));
    let shown = desk.json(&["show", "hangs-back"]);
    assert_eq!(shown["name"], "Stays back on the trail foot");
    edit("no-such-entry", "p")
        .code(2)
        .stderr(contains("no entry"));
    // Sources and cases of one's own are changed like entries.
    let more = "\
sources: [{id: own-notes, cite: Own lesson notes}]
cases: [{id: own-case, seen: [thud], ranks: {first: 3, any_of: [hangs-back]}}]
drills: [{id: more, name: More, treats: [{id: hangs-back}], sources: [own-notes], steps: [Go]}]
";
    desk.add("drill", more).success();
    edit("own-notes", "s/lesson/winter/").success();
    edit("own-case", "s/thud/thin/")
        .code(1)
        .stderr(contains("no entry has the id `thin`"));
    edit("own-case", "s/own-case/own-test/").success();
    let text = fs::read_to_string(desk.library().join("drills/more.yaml")).expect("there");
    assert!(
        text.contains("Own winter notes") && text.contains("own-test"),
        "{text}"
    );
    desk.fairwhy(&["edit", "hangs-back"])
        .assert()
        .code(1)
        .stderr(contains("EDITOR"));
}

#[test]
fn a_library_that_is_broken_can_be_mended_with_edit() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let place = desk.library().join("drills/towel-under-trail-heel.yaml");
    let broken = fs::read_to_string(&place)
        .expect("there")
        .replace("name:", "nmae:");
    fs::write(&place, broken).expect("written");
    desk.fairwhy(&["show", "hangs-back"])
        .assert()
        .code(1)
        .stderr(contains("did you mean `name`?"));
    desk.fairwhy(&["edit", "towel-under-trail-heel"])
        .env("VISUAL", "sed -i s/nmae/name/")
        .assert()
        .success();
    desk.fairwhy(&["show", "hangs-back"]).assert().success();
}

#[test]
fn a_retired_id_leads_to_its_successor_and_is_not_used_again() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let second = DRILL
        .replace("towel-under-trail-heel", "heel-peel")
        .replace("Fold a towel", "Put a coin");
    desk.add("drill", &second).success();
    desk.fairwhy(&["retire", "towel-under-trail-heel", "--for", "heel-peel"])
        .assert()
        .success()
        .stdout(contains("is retired").and(contains("No longer offered")));
    let before = all_files(&desk.library());
    desk.fairwhy(&["retire", "towel-under-trail-heel", "--for", "heel-peel"])
        .assert()
        .success()
        .stderr(contains("already; nothing was changed"));
    assert_eq!(all_files(&desk.library()), before);
    desk.fairwhy(&["show", "towel-under-trail-heel"])
        .assert()
        .success()
        .stdout(contains(
            "Retired; use Towel under the trail heel (heel-peel) instead",
        ));
    assert_eq!(
        desk.json(&["show", "towel-under-trail-heel"])["retired_for"],
        "heel-peel"
    );
    desk.fairwhy(&["add", "drill", "-", "--replace"])
        .write_stdin(DRILL)
        .assert()
        .code(1)
        .stderr(contains("not used again"));
    for (id, heir, said) in [
        ("heel-peel", "hangs-back", "retired-for-nothing"),
        ("heel-peel", "towel-under-trail-heel", "retired-in-a-circle"),
        ("heel-peel", "heel-peel", "retired-in-a-circle"),
        ("heel-peel", "nothing-at-all", "no entry"),
    ] {
        desk.fairwhy(&["retire", id, "--for", heir])
            .assert()
            .failure()
            .stderr(contains(said));
    }
    // One of another layer is retired by a copy in the coach's own library.
    desk.fairwhy(&["retire", "slow-step", "--for", "step-through"])
        .assert()
        .success();
    assert_eq!(
        desk.json(&["show", "slow-step"])["retired_for"],
        "step-through"
    );
}

#[test]
fn an_own_entry_is_taken_out_again() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    desk.add("cause", CAUSE).success();
    let file = desk.library().join("causes/fear-of-topping.yaml");
    // Something names it.
    desk.fairwhy(&["remove", "fear-of-topping"])
        .assert()
        .code(1)
        .stderr(
            contains("no entry has the id `fear-of-topping`")
                .and(contains("first take out what names it")),
        );
    let text = fs::read_to_string(&file).expect("there");
    fs::write(&file, format!("# from May\n{text}")).expect("written");
    desk.fairwhy(&["remove", "fear-of-topping-to-hangs-back", "--dry-run"])
        .assert()
        .success()
        .stdout(contains("nothing was saved").and(contains("gone, it was")));
    desk.fairwhy(&["remove", "fear-of-topping-to-hangs-back"])
        .assert()
        .success();
    let left = fs::read_to_string(&file).expect("there");
    let entry = text.split("links:").next().expect("the cause");
    assert_eq!(left, format!("# from May\n{entry}"));
    desk.fairwhy(&["remove", "fear-of-topping"])
        .assert()
        .success()
        .stdout(contains("Removed fear-of-topping").and(contains("fear-of-topping.yaml.before-2")));
    assert!(!file.exists());
    desk.fairwhy(&["show", "fear-of-topping"]).assert().code(2);
    // What ships, or is another's, is not taken out.
    desk.fairwhy(&["remove", "step-through"])
        .assert()
        .code(1)
        .stderr(contains("is not your own").and(contains("fairwhy retire")));
    desk.fairwhy(&["remove", "towel-under-trial-heel"])
        .assert()
        .code(2)
        .stderr(contains("towel-under-trail-heel"));
}

/// What comes along with an entry is taken out by its name too, once nothing names it.
#[test]
fn own_sources_and_cases_are_taken_out_again() {
    let desk = Desk::new();
    let more = "\
sources:
  - {id: own-notes, cite: Own lesson notes}
cases:
  # The Tuesday group.
  - {id: own-case, seen: [thud], ranks: {first: 3, any_of: [hangs-back]}}
drills:
  - id: more
    name: More
    treats: [{id: hangs-back}]
    sources: [own-notes]
    steps: [Go]
";
    desk.add("drill", more).success();
    let file = desk.library().join("drills/more.yaml");
    desk.fairwhy(&["remove", "own-notes"])
        .assert()
        .code(1)
        .stderr(contains("own-notes").and(contains("first take out what names it")));
    desk.fairwhy(&["remove", "own-case"]).assert().success();
    desk.fairwhy(&["retire", "own-notes", "--for", "more"])
        .assert()
        .code(1)
        .stderr(contains("`own-notes` is a source"));
    desk.fairwhy(&["edit", "more"])
        .env("EDITOR", "sed -i /sources:.\\[/d")
        .assert()
        .success();
    desk.fairwhy(&["remove", "own-notes"]).assert().success();
    let left = fs::read_to_string(&file).expect("there");
    assert!(
        !left.contains("own-") && left.contains("id: more"),
        "{left}"
    );
    desk.fairwhy(&["remove", "own-case"]).assert().code(2);
}

/// What a file was is kept beside it, and does not pile up.
#[test]
fn the_last_five_of_a_file_are_kept() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let file = desk.library().join("drills/towel-under-trail-heel.yaml");
    for number in 1..=8 {
        desk.fairwhy(&["edit", "towel-under-trail-heel"])
            .env("EDITOR", format!("sed -i 1i#{number}"))
            .assert()
            .success()
            .stdout(contains(format!("before-{number}")));
    }
    let kept = |number: u32| file.with_extension(format!("yaml.before-{number}"));
    let there: Vec<u32> = (1..=9).filter(|number| kept(*number).exists()).collect();
    assert_eq!(there, [4, 5, 6, 7, 8]);
    let last = fs::read_to_string(kept(8)).expect("there");
    assert!(last.starts_with("#7\n#6\n"), "{last}");
}

#[cfg(unix)]
#[test]
fn whatever_an_editor_leaves_edit_comes_to_an_end() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let before = all_files(&desk.library());
    for (script, said) in [
        ("rm \"$1\"; mkfifo \"$1\"", "is no file any more"),
        ("rm \"$1\"", "is gone"),
        ("ln -sf /dev/zero \"$1\"", "is no file any more"),
        (
            "head -c 3000000 /dev/zero | tr '\\0' '#' > \"$1\"",
            "larger than 1 MiB",
        ),
    ] {
        let script = desk.file("editor.sh", script);
        let output = desk
            .fairwhy(&["edit", "towel-under-trail-heel"])
            .env("EDITOR", format!("sh {script}"))
            .timeout(std::time::Duration::from_secs(60))
            .output()
            .expect("runs");
        let error = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{error}");
        assert!(error.contains(said) && error.contains("help: "), "{error}");
        let kept = error.split("Your text is kept in ").nth(1);
        assert!(
            kept.is_none_or(|path| Path::new(path.trim()).is_file()),
            "{error}"
        );
    }
    assert_eq!(all_files(&desk.library()), before);
}
