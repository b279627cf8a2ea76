//! Reading and checking libraries, as the rest of the program and a coach meet it.

#[path = "knowledge/description.rs"]
mod description;
#[path = "knowledge/folders.rs"]
mod folders;

use fairwhy::knowledge::{
    CODES, LayerText, LibraryFile, Paint, Problem, Severity, Strictness, folder, load,
    report_problems, shipped,
};
use std::collections::BTreeSet;
use std::fmt::Write as _;
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

/// Cases that a coach would insist on and the library does not meet yet. Mend one and lower the number.
#[test]
fn known_misses_only_get_fewer() {
    let loaded = load(&[shipped()], Strictness::Lesson).expect("loads");
    let misses = loaded
        .base
        .cases
        .iter()
        .filter(|case| case.text.known_miss.is_some())
        .count();
    assert!(misses <= 4, "{misses} cases are marked as known misses");
}

/// A start takes the files that ship at their word; what it makes of them is what the strictest check
/// makes of them.
#[test]
fn the_shipped_library_is_the_same_however_strictly_it_is_read() {
    let strict = load(&[shipped()], Strictness::Strict).expect("it is sound");
    let quick = load(&[shipped()], Strictness::ErrorsOnly).expect("it is sound");
    assert_eq!(quick.warnings, []);
    assert_eq!(format!("{:#?}", quick.base), format!("{:#?}", strict.base));
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
    "not-a-file",
    "not-a-folder",
    "not-utf-8",
    "too-many-problems",
    "too-many-values",
    "too-many-warnings",
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

// What a folder from a stranger, or a slip at the keyboard, can hold.

/// The codes found in a folder, reading and checking taken together.
fn codes_in(folder: &Path) -> Vec<&'static str> {
    let found = match folder::read(folder) {
        Ok(layer) => problems(&[layer]),
        Err(found) => found,
    };
    found.iter().map(|problem| problem.code).collect()
}

fn folder_with(files: &[(&str, &[u8])]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder can be made");
    for (name, bytes) in files {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().expect("it has one")).expect("a folder can be made");
        fs::write(path, bytes).expect("a file can be written");
    }
    folder
}

const ONE_FAULT: &[u8] = b"faults:\n  - {id: a, name: A, stage: top}\n";

#[test]
fn a_library_beyond_a_limit_is_refused() {
    let folder = folder_with(&[("a.yaml", ONE_FAULT), ("b.yaml", ONE_FAULT), ("c.txt", b"")]);
    let usual = folder::Limits::default();
    for limits in [
        folder::Limits { files: 1, ..usual },
        folder::Limits { things: 2, ..usual },
        folder::Limits {
            library_bytes: 50,
            ..usual
        },
    ] {
        let found = folder::read_within(folder.path(), limits).expect_err("too large");
        let codes: Vec<&str> = found.iter().map(|problem| problem.code).collect();
        assert_eq!(codes, ["library-too-large"], "{limits:?}");
    }
}

#[test]
fn files_made_to_hurt_get_an_answer_and_no_more() {
    let bomb = {
        let mut text = String::from("a0: &a0 [x, x]\n");
        for i in 1..10_000 {
            text += &format!("a{i}: &a{i} [*a{}, *a{}]\n", i - 1, i - 1);
        }
        text
    };
    let cases: Vec<(&str, String)> = vec![
        ("anchor-or-alias", bomb),
        ("anchor-or-alias", "faults: *a\n".repeat(10_000)),
        ("too-deep", "[".repeat(1 << 20)),
        ("too-deep", "{a: ".repeat(1 << 18)),
        ("too-deep", "- ".repeat(1 << 19)),
        (
            "too-many-values",
            format!("faults:\n{}", "- {}\n".repeat(1_000_000)),
        ),
        (
            "missing-key",
            format!("faults:\n{}", "- {}\n".repeat(90_000)),
        ),
        ("empty-item", format!("faults:\n{}", "-\n".repeat(90_000))),
        (
            "unknown-key",
            format!("faults:\n{}", "- {zzzzz: 1, id: x}\n".repeat(15_000)),
        ),
        ("yaml-syntax", "\"".repeat((1 << 20) + 1)),
        ("forbidden-character", "\0".repeat(1 << 20)),
        ("key-not-text", "?\n".repeat(1 << 19)),
        ("wrong-type", "x".repeat(1 << 20)),
        ("unknown-key", format!("{}: 1", "x".repeat(1_000))),
    ];
    for (code, text) in cases {
        let start: String = text.chars().take(20).collect();
        let layers = [layer("hostile", &text)];
        let found = problems(&layers);
        assert!(!found.is_empty(), "{start}");
        assert!(found.len() <= 1_001, "{start}: {}", found.len());
        assert!(
            found.iter().any(|p| p.code == code),
            "{start}: {code} is not among {:?}",
            &found[..found.len().min(3)]
        );
        let page = report_problems(&found, &layers, Paint::Plain);
        assert!(page.len() < 1 << 20, "{start}: {}", page.len());
    }
}

#[test]
fn beyond_a_thousand_problems_the_rest_are_counted() {
    let text = format!("faults:\n{}", "- {}\n".repeat(2_000));
    let found = problems(&[layer("many", &text)]);
    let last = found.last().expect("there are some");
    assert_eq!((found.len(), last.code), (1_001, "too-many-problems"));
    assert!(last.message.starts_with("5000 more"), "{}", last.message);
}

#[test]
fn no_heap_of_warnings_hides_an_error_or_stops_a_lesson() {
    let mut text = String::from("faults:\n");
    for number in 0..1_500 {
        let _ = writeln!(
            text,
            "- {{id: f-{number}, name: F {number}, stage: top, aliases: }}"
        );
    }
    let whole = [layer("many", &text)];
    let loaded = load(&whole, Strictness::ErrorsOnly).expect("only warnings");
    let last = loaded.warnings.last().expect("there are some");
    assert_eq!(last.code, "too-many-warnings");
    text.push_str("- {id: f-0, name: Again, stage: top}\n");
    let found = problems(&[layer("many", &text)]);
    let errors = found.iter().filter(|p| p.severity == Severity::Error);
    let errors: Vec<&str> = errors.map(|problem| problem.code).collect();
    assert_eq!(errors, ["id-twice"]);
}

#[test]
fn a_library_that_ships_and_comes_again_is_taken_once() {
    let mut again = shipped();
    again.name = "again".to_owned();
    let loaded = load(&[shipped(), again], Strictness::ErrorsOnly).expect("no contradiction");
    let messages = loaded.warnings.iter().map(|warning| &warning.message);
    let messages: Vec<&String> = messages.collect();
    assert_eq!(messages.len(), 1, "{messages:?}");
    assert!(messages[0].contains("entries stand word for word in shipped too"));
}

#[test]
fn a_long_chain_of_causes_is_no_matter_and_a_long_circle_is_an_error() {
    let many = 3_000;
    let chain = |close: bool| -> Vec<LayerText> {
        let files = (0..5).map(|file| {
            let mut text = String::from("faults:\n");
            for i in file * many / 5..(file + 1) * many / 5 {
                let to = (i + 1) % many;
                text += &format!("- {{id: f{i}, name: F{i}, stage: top");
                if to > 0 || close {
                    text += &format!(", caused_by: [{{id: f{to}, strength: 0.5}}]");
                }
                text += "}\n";
            }
            (format!("{file}.yaml"), text)
        });
        vec![LayerText::new("long", files)]
    };
    if let Err(found) = load(&chain(false), Strictness::Lesson) {
        panic!("{:#?}", &found[..1]);
    }
    let found = load(&chain(true), Strictness::Lesson).expect_err("a circle");
    assert_eq!(found[0].code, "cycle");
}

#[test]
fn nothing_in_a_name_can_steer_a_terminal() {
    let layers = [layer("evil\u{1b}[2J", "faults: [\u{1b}]\n")];
    let found = problems(&layers);
    let page = report_problems(&found, &layers, Paint::Plain);
    assert!(!page.contains('\u{1b}'), "{page}");
}

// Layers.

#[test]
fn a_later_layer_adds_and_replaces_only_when_it_says_so() {
    let mine = "
faults:
  - id: hangs-on-trail-foot
    replaces: hangs-on-trail-foot
    name: Stays back
    stage: downswing
causes:
  - {id: fears-the-ground, name: Fear of the ground, stage: concept}
links:
  - {cause: fears-the-ground, effect: hangs-on-trail-foot, strength: uncertain, basis: own lessons}
";
    let loaded = load(
        &[layer("small", SMALL), layer("mine", mine)],
        Strictness::Lesson,
    )
    .expect("loads");
    let base = &loaded.base;
    let fault = base.condition(base.find("hangs-on-trail-foot").expect("there"));
    assert_eq!((fault.name.as_str(), fault.origin.layer), ("Stays back", 1));
    assert_eq!(base.layer_name(&fault.causes[0].origin), "mine");
    assert_eq!(base.layers[1].counts["links"], 1);
    let low_point = base.condition(base.find("low-point-early").expect("there"));
    assert_eq!(low_point.causes.len(), 1, "links to a replaced entry hold");
}

#[test]
fn the_version_changes_with_every_byte_and_with_the_order_of_layers() {
    let hash = |layers: &[LayerText]| {
        load(layers, Strictness::Lesson)
            .expect("loads")
            .base
            .content_hash
    };
    let other = "causes:\n  - {id: z, name: Z, stage: body}\n";
    let (a, b) = (layer("a", SMALL), layer("b", other));
    let first = hash(&[a.clone(), b.clone()]);
    assert_eq!(first, hash(&[a.clone(), b.clone()]));
    assert_ne!(first, hash(&[b.clone(), a.clone()]));
    assert_ne!(first, hash(&[a.clone(), layer("b", &format!("{other}#"))]));
    assert_eq!(first.len(), 64);
}

#[test]
fn two_drills_may_share_an_alias_but_not_a_name() {
    let drill = |id: &str, name: &str| {
        format!("  - {{id: {id}, name: {name}, aliases: [line drill], treats: [{{id: a}}]}}\n")
    };
    let found = |names: [&str; 2]| {
        let drills = drill("one", names[0]) + &drill("two", names[1]);
        let text = format!("faults:\n  - {{id: a, name: A, stage: top}}\ndrills:\n{drills}");
        let found = problems(&[layer("drills", &text)]);
        found.iter().filter(|p| p.code == "alias-ambiguous").count()
    };
    assert_eq!(found(["Chalk line", "Rope line"]), 0);
    assert_eq!(found(["Chalk line", "Chalk-line"]), 1);
}

#[test]
fn a_broken_entry_is_not_reported_again_by_those_that_name_it() {
    let text = "
faults:
  - {id: a, name: A, stage: tpo}
  - {id: b, name: B, stage: top, caused_by: [{id: a, strength: expected}]}
";
    let found = problems(&[layer("broken", text)]);
    let codes: Vec<&str> = found.iter().map(|p| p.code).collect();
    assert_eq!(codes, ["not-on-list"]);
}

/// The other way to read the same files, serde_yaml's own parser, understands them the same; so a
/// file that we write with it is a file that we read.
#[test]
fn both_parsers_read_the_shipped_library_and_the_small_one_alike() {
    let small = layer("small", SMALL);
    for file in shipped().files.iter().chain(&small.files) {
        let ours = fairwhy::knowledge::library_file(&file.text);
        let theirs: LibraryFile = serde_yaml::from_str(&file.text)
            .or_else(|error| {
                if file.text.trim().is_empty() {
                    Ok(LibraryFile::default())
                } else {
                    Err(error)
                }
            })
            .unwrap_or_else(|error| panic!("{}: {error}", file.path));
        assert_eq!(ours.expect("reads"), theirs, "{}", file.path);
        let written = serde_yaml::to_string(&theirs).expect("writes");
        assert_eq!(
            fairwhy::knowledge::library_file(&written).expect("reads"),
            theirs
        );
    }
}

// The description of the format.

const MARK: &str = "FAIRWHY_WRITE_DOCS=1. -->\n";

// Any change to a good file gives an answer, never a panic.

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig { cases: 400, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_mangled_file_never_panics(
        cuts in proptest::collection::vec((0usize..SMALL.len(), 0usize..40, mangling()), 1..8)
    ) {
        let mut bytes = SMALL.as_bytes().to_vec();
        for (at, length, with) in cuts {
            let at = at.min(bytes.len());
            let end = (at + length).min(bytes.len());
            bytes.splice(at..end, with.bytes());
        }
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let layers = [layer("mangled", &text)];
        let found = problems(&layers);
        let page = report_problems(&found, &layers, Paint::Ansi);
        proptest::prop_assert!(page.lines().count() > 0);
        for problem in &found {
            proptest::prop_assert!(problem.line <= text.lines().count() + 1);
        }
    }

    #[test]
    fn any_text_at_all_never_panics(text in "\\PC{0,200}") {
        problems(&[layer("any", &text)]);
    }
}

fn mangling() -> impl proptest::strategy::Strategy<Value = String> {
    use proptest::prelude::*;
    prop_oneof![
        Just(String::new()),
        "[\\[\\]{}:,&*!|>'\"%@`#?\t\n -]{1,6}",
        "[a-z0-9.é€-]{1,8}",
        Just("\n  - id: x\n".to_owned()),
        Just(".nan".to_owned()),
        Just("\u{202e}".to_owned()),
    ]
}
