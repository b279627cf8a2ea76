//! Bundles from anyone: what could do harm is refused whole, with its line, and never shown raw.

use super::{DRILL, Desk, all_files};
use fairwhy::authoring::{pack, sha256};
use fairwhy::knowledge::{FileText, steers};
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
    let file = |path: &str| FileText {
        path: path.into(),
        text: "faults: [{id: zz, name: Z, stage: top}]\n".into(),
    };
    let good = pack(&[file("a.yaml")]);
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
    for path in [
        "a.yaml\0.yaml",
        "..\\a.yaml",
        "a\\..\\b.yaml",
        "NUL.yaml",
        "drills/com7.x.yaml",
        "LPT1",
        "a./b.yaml",
        "a.yaml.",
        "a.yaml ",
        "~root/\u{1b}]0;x\u{7}.yaml",
        "\u{9b}2J.yaml",
        "a\nb.yaml",
        &format!("{}.yaml", "x".repeat(400)),
        &format!("{}a.yaml", "d/".repeat(600)),
        &format!("{}a.yaml", "d/".repeat(40)),
    ] {
        hostile.push(forged(path, ""));
    }
    // A version of tomorrow, the same place twice, more files than are said, something at the end.
    let twice = pack(&[file("a.yaml"), file("a.yaml")]);
    let folded = pack(&[file("a.yaml"), file("A.yaml")]);
    hostile.extend([
        good.replace("fairwhy-bundle 1", "fairwhy-bundle 2"),
        good.replace("fairwhy-bundle 1", "fairwhy-bundle 1\u{1b}[2J"),
        good.replace("files 1", "files 2"),
        good.replace("files 1", "files 0"),
        good.replace("files 1", "files 01"),
        good.clone() + "more",
        good.clone() + &good,
        twice,
        folded,
    ]);
    for bundle in hostile {
        desk.fairwhy(&["library", "unpack", "-", "--into"])
            .arg(&into)
            .write_stdin(bundle.clone())
            .assert()
            .code(1)
            .stderr(contains("line ").and(contains("Nothing was unpacked")).and(
                predicate::function(|said: &str| !said.chars().any(|c| steers(c) && c != '\n')),
            ));
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

/// Names of files, typed words and ids are shown, and never obeyed.
#[cfg(unix)]
#[test]
fn no_name_steers_the_terminal() {
    let desk = Desk::new();
    let odd = "a\u{1b}[2J\u{202e}\u{9b}b";
    let folder = desk.home.path().join(format!("odd{odd}"));
    fs::create_dir(&folder).expect("made");
    let place = folder.join(format!("{odd}.yaml"));
    let library = folder.to_str().expect("text");
    let bundle = desk.home.path().join(format!("{odd}.txt"));
    let bundle = bundle.to_str().expect("text");
    let good = "faults: [{id: zz, name: Z, stage: top}]\n";
    for text in [good, "faults: [{id: zz, nmae: Z, stage: top}]\n"] {
        fs::write(&place, text).expect("written");
        for arguments in [
            &["check", "--no-cases", library][..],
            &["show", "zz", "--library", library],
            &["show", odd],
            &["why", odd, "--not", odd, "--measured", odd],
            &["drills", odd],
            &["drills", "slice", "--have", odd],
            &["library", "list", "--library", library],
            &["library", "diff", "--library", library],
            &["library", "pack", bundle, "--from", library],
            &["library", "unpack", bundle, "--into", library],
            &["add", "drill", bundle],
            &["edit", odd],
            &["retire", "zz", "--for", odd, "--library", library],
        ] {
            let output = desk.fairwhy(arguments).output().expect("runs");
            for said in [output.stdout, output.stderr] {
                let said = String::from_utf8(said).expect("text");
                assert!(
                    !said.chars().any(|c| steers(c) && c != '\n'),
                    "{arguments:?}: {said:?}"
                );
            }
        }
    }
}
