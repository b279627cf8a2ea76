//! Bundles from anyone: what could do harm is refused whole, with its line, and never shown raw.

use super::{DRILL, Desk, all_files};
use fairwhy::authoring::{pack, sha256};
use fairwhy::knowledge::FileText;
use predicates::prelude::*;
use predicates::str::contains;
use std::collections::BTreeMap;
use std::fs;

#[test]
fn hostile_bundles_write_nothing() {
    let desk = Desk::new();
    let into = desk.home.path().join("into");
    let forged = |path: &str, text: &str| {
        let body = format!(
            "fairwhy-bundle 1\nfiles 1\nfile {} {} {path}\n{text}\n",
            text.len(),
            sha256(text.as_bytes())
        );
        let hash = sha256(body.as_bytes());
        format!("{body}end {hash}\n")
    };
    let good = pack(&[FileText {
        path: "a.yaml".into(),
        text: "faults: [{id: zz, name: Z, stage: top}]\n".into(),
    }]);
    let mut hostile = vec![
        String::new(),
        "PK\u{3}\u{4}".into(),
        good[..good.len() - 1].to_owned(),
        good.replace("stage: top", "stage: fin"),
        good.replace('\n', "\r\n"),
        forged("../out.yaml", ""),
        forged("/tmp/out.yaml", ""),
        forged("a/../../out.yaml", ""),
        forged("C:\\out.yaml", ""),
        forged("run.sh", "echo"),
        forged(
            "a.yaml",
            "faults: [{id: a, name: \"\u{202e}\", stage: top}]",
        ),
        forged("a.yaml", "faults: &a [*a]"),
        forged("a.yaml", "\u{1b}]0;x\u{7}"),
        forged("a\u{202e}b.yaml", ""),
    ];
    hostile.push(format!(
        "fairwhy-bundle 1\nfiles 1\nfile {} x a.yaml\n",
        u64::MAX
    ));
    for bundle in hostile {
        desk.fairwhy(&["library", "unpack", "-", "--into"])
            .arg(&into)
            .write_stdin(bundle.clone())
            .assert()
            .code(1)
            .stderr(
                contains("line ")
                    .and(contains("Nothing was unpacked"))
                    .and(contains('\u{1b}').not())
                    .and(contains('\u{202e}').not()),
            );
        assert!(!into.exists(), "{bundle:.60}");
        assert!(!desk.home.path().join("out.yaml").exists());
    }
}

#[cfg(unix)]
#[test]
fn links_in_the_folder_are_not_followed() {
    let desk = Desk::new();
    let elsewhere = desk.home.path().join("elsewhere");
    fs::create_dir_all(&elsewhere).expect("made");
    fs::create_dir_all(desk.library()).expect("made");
    std::os::unix::fs::symlink(&elsewhere, desk.library().join("drills")).expect("linked");
    desk.add("drill", DRILL)
        .code(1)
        .stderr(contains("is a link"));
    let bundle = pack(&[FileText {
        path: "drills/a.yaml".into(),
        text: "faults: [{id: zz, name: Z, stage: top}]\n".into(),
    }]);
    desk.fairwhy(&["library", "unpack", "-", "--into"])
        .arg(desk.library())
        .write_stdin(bundle)
        .assert()
        .code(1)
        .stderr(contains("is a link"));
    assert_eq!(all_files(&elsewhere), BTreeMap::new());
}
