//! `fairwhy show` and `fairwhy check`.

use super::{json, run, small};

#[test]
fn an_entry_is_shown_whole() {
    let entry = json(&["show", "slice"]);
    assert_eq!(entry["kind"], "outcome");
    assert!(entry["caused_by"].as_array().expect("a list").len() >= 4);
    assert_eq!(entry["origin"]["layer"], "shipped");
    let page = run(&["show", "trail-arm-overfolds"]).out;
    for words in [
        "Brought about by",
        "Brings about",
        "Remedies",
        "Measured",
        "From shipped",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn an_unknown_id_is_met_with_the_nearest() {
    let ran = run(&["show", "trail-arm-overfold-xyz"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("trail-arm-overfolds"), "{}", ran.err);
}

#[test]
fn the_shipped_library_is_sound_and_its_cases_hold() {
    let ran = run(&["check", "--strict"]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("no problem found"), "{}", ran.out);
}

#[test]
fn a_sound_folder_passes_and_a_broken_one_says_where() {
    let folder = small();
    let library = folder.to_str().expect("text");
    let ran = run(&["check", "--no-shipped", library]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let broken = tempfile::tempdir().expect("a folder");
    std::fs::write(
        broken.path().join("a.yaml"),
        "faults:\n  - {id: lean, nmae: Lean, stage: setup}\n",
    )
    .expect("written");
    let ran = run(&[
        "check",
        "--no-shipped",
        broken.path().to_str().expect("text"),
    ]);
    assert_eq!(ran.code, 1);
    let said = format!("{}{}", ran.out, ran.err);
    assert!(
        said.contains("a.yaml:2") && said.contains("`name`"),
        "{said}"
    );
}
