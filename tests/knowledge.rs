//! Reading and checking libraries, as the rest of the program and a coach meet it.

use fairwhy::knowledge::{
    CODES, LayerText, Paint, Problem, Severity, Strictness, folder, load, report_problems, shipped,
};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn layer(name: &str, text: &str) -> LayerText {
    LayerText::new(name, [("a.yaml", text)])
}

fn problems(layers: &[LayerText]) -> Vec<Problem> {
    match load(layers, Strictness::Lesson) {
        Ok(loaded) => loaded.warnings,
        Err(problems) => problems,
    }
}

const SMALL: &str = "
outcomes:
  - id: thud
    name: Heavy strike
    stage: strike
    caused_by:
      - {id: low-point-early, strength: probable, because: The club meets turf first, basis: common practice}
    behind:
      - {id: hangs-on-trail-foot, share: 0.4}
faults:
  - id: low-point-early
    name: Low point behind the ball
    stage: impact
    how_common: common
    caused_by:
      - {id: hangs-on-trail-foot, strength: 0.8, basis: common practice}
  - id: hangs-on-trail-foot
    name: Weight stays on the trail foot
    stage: downswing
drills:
  - id: step-through
    name: Step through
    treats: [{id: hangs-on-trail-foot, effect: expected, basis: common practice}]
    steps: [Swing, step past the ball]
    check: Walks on after 8 of 10
";

#[test]
fn a_small_library_becomes_a_base() {
    let loaded = load(&[layer("small", SMALL)], Strictness::Lesson).expect("loads");
    let base = &loaded.base;
    let fault = base.condition(base.find("low-point-early").expect("there"));
    assert_eq!(fault.how_common.map(|p| p.get()), Some(0.22));
    assert_eq!(fault.causes[0].strength.get(), 0.8);
    assert_eq!(fault.origin.line, 11);
    assert_eq!(fault.causes[0].origin.line, 16);
    assert_eq!(base.layers[0].counts["links"], 2);
    assert_eq!(base.content_hash.len(), 64);
}

#[test]
fn the_shipped_library_loads() {
    if let Err(problems) = load(&[shipped()], Strictness::Lesson) {
        panic!("{problems:#?}");
    }
}

#[test]
fn a_circle_of_causes_is_printed_as_the_circle() {
    let text = "
faults:
  - {id: a, name: A, stage: top, caused_by: [{id: c, strength: expected}]}
  - {id: b, name: B, stage: top, caused_by: [{id: a, strength: expected}]}
  - {id: c, name: C, stage: top, caused_by: [{id: b, strength: expected}]}
";
    let found = problems(&[layer("circle", text)]);
    assert_eq!(found[0].code, "cycle");
    assert!(
        found[0].message.contains("a -> b -> c -> a"),
        "{}",
        found[0].message
    );
}

/// Codes that a file in `tests/cases/invalid` cannot show: they are about folders, about sizes, or
/// (the last) about what the shapes rule out. Each has a test of its own further down.
const ELSEWHERE: &[&str] = &[
    "empty-library",
    "file-too-large",
    "file-unreadable",
    "folder-missing",
    "folder-unreadable",
    "folders-too-deep",
    "library-too-large",
    "link-not-followed",
    "not-a-folder",
    "not-utf-8",
    "too-many-problems",
    "too-many-values",
    "unreadable-entry",
];

/// The layers of one invalid case: a file, or a folder with a folder for each layer.
fn case_layers(path: &Path) -> Vec<LayerText> {
    if path.is_file() {
        let text = fs::read_to_string(path).expect("the case can be read");
        return vec![LayerText::new("library", [("faults.yaml", text)])];
    }
    let mut folders: Vec<PathBuf> = fs::read_dir(path)
        .expect("the case can be read")
        .map(|entry| entry.expect("the case can be read").path())
        .collect();
    folders.sort();
    let layers = folders.iter().map(|folder| {
        let mut layer = folder::read(folder).expect("the layer can be read");
        layer.name = folder
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        layer
    });
    layers.collect()
}

/// Each rule has a tiny library that breaks it, and the whole page a coach then sees beside it. The
/// rule named by the file is among those that are reported.
#[test]
fn every_rule_has_a_library_that_breaks_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/invalid");
    let mut shown: BTreeSet<&str> = ELSEWHERE.iter().copied().collect();
    let mut names: Vec<PathBuf> = fs::read_dir(&root)
        .expect("the cases can be read")
        .map(|entry| entry.expect("the cases can be read").path())
        .filter(|path| path.extension().is_none_or(|end| end == "yaml"))
        .collect();
    names.sort();
    for path in names {
        let name = path
            .file_stem()
            .expect("a case has a name")
            .to_string_lossy();
        let layers = case_layers(&path);
        let found = problems(&layers);
        let (code, severity, _) = CODES
            .iter()
            .filter(|(code, ..)| name.starts_with(code))
            .max_by_key(|(code, ..)| code.len())
            .unwrap_or_else(|| panic!("{name} starts with a code"));
        let own = found.iter().filter(|problem| problem.code == *code);
        let heaviest = own.map(|problem| problem.severity).min();
        assert_eq!(heaviest, Some(*severity), "{name}: {found:#?}");
        shown.insert(code);
        let page = report_problems(&found, &layers, Paint::Plain);
        for line in page.lines() {
            assert!(line.chars().count() <= 80, "{name}: {line}");
        }
        insta::with_settings!({
            snapshot_path => &root,
            prepend_module_to_snapshot => false,
            omit_expression => true,
        }, { insta::assert_snapshot!(name.as_ref(), page); });
    }
    let listed: BTreeSet<&str> = CODES.iter().map(|(code, ..)| *code).collect();
    assert_eq!(shown, listed);
}

#[test]
fn codes_are_sorted_and_each_stands_once() {
    assert!(CODES.windows(2).all(|pair| pair[0].0 < pair[1].0));
}

#[test]
fn strict_makes_every_warning_an_error() {
    let text = "faults:\n  - {id: a, name: A, stage: top}\n";
    let layers = [layer("gaps", text)];
    let loaded = load(&layers, Strictness::Lesson).expect("gaps do not stop a lesson");
    let found = load(&layers, Strictness::Strict).expect_err("they stop a check");
    assert_eq!(loaded.warnings.len(), found.len());
    assert!(
        found
            .iter()
            .all(|problem| problem.severity == Severity::Error)
    );
}
