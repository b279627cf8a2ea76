//! The index of a large library on disk: never stale, never in the way, and never a different answer.

use super::shipped;
use assert_cmd::Command;
use fairwhy::knowledge::KnowledgeBase;
use fairwhy::search::{DrillIndex, DrillQuery, Found, Kept, LARGE_LIBRARY, behind_shares};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

const QUERIES: &[&str] = &[
    "chunked wedges",
    "weak slice with driver",
    "towel under the lead foot",
    "slcie w drvier",
    "mirror check of the grip",
    "putts",
    "can't stop flipping, then thin",
    "xyzzy",
];

/// The first drills of the shipped library: enough to be found, few enough to be indexed often.
fn some() -> KnowledgeBase {
    let mut base = shipped();
    base.drills.truncate(60);
    base.content_hash = "of some".to_owned();
    base
}

fn answers(base: &KnowledgeBase, index: &DrillIndex) -> Vec<Found> {
    QUERIES
        .iter()
        .map(|words| {
            let query = DrillQuery {
                words: (*words).to_owned(),
                limit: 100,
                ..DrillQuery::default()
            };
            index
                .search(base, &query, &|typed| behind_shares(base, typed))
                .expect("a query")
        })
        .collect()
}

fn in_memory(base: &KnowledgeBase) -> Vec<Found> {
    answers(base, &DrillIndex::new(base).expect("memory"))
}

fn kept(folder: &Path, base: &KnowledgeBase) -> (Vec<Found>, Kept) {
    let (index, kept) = DrillIndex::kept_in(folder, base).expect("memory");
    (answers(base, &index), kept)
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .into_string()
                .expect("text")
        })
        .collect();
    names.sort();
    names
}

fn the_one_in(folder: &Path) -> PathBuf {
    let names = names_in(folder);
    assert_eq!(names.len(), 1, "{names:?}");
    assert!(names[0].ends_with(".index"), "{names:?}");
    folder.join(&names[0])
}

#[test]
fn a_kept_index_answers_every_query_as_one_in_memory_does() {
    let base = shipped();
    let folder = tempfile::tempdir().expect("a folder");
    let memory = DrillIndex::new(&base).expect("memory");
    let (written, first) = DrillIndex::kept_in(folder.path(), &base).expect("memory");
    let (found, second) = DrillIndex::kept_in(folder.path(), &base).expect("memory");
    assert_eq!((first, second), (Kept::Written, Kept::Found));
    for words in super::queries::words() {
        let query = DrillQuery {
            words: words.clone(),
            limit: 30,
            ..DrillQuery::default()
        };
        let ask = |index: &DrillIndex| {
            index
                .search(&base, &query, &|typed| behind_shares(&base, typed))
                .expect("a query")
        };
        let wanted = ask(&memory);
        assert_eq!(ask(&written), wanted, "{words}");
        assert_eq!(ask(&found), wanted, "{words}");
    }
    // No lock, no half-written file, nothing but the index.
    the_one_in(folder.path());
}

#[test]
fn another_library_never_gets_the_index_of_this_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut base = some();
    assert_eq!(kept(folder.path(), &base).1, Kept::Written);
    base.drills[0].name = "Shovel and bucket".to_owned();
    base.content_hash = "of others".to_owned();
    let (answers, how) = kept(folder.path(), &base);
    assert_eq!(how, Kept::Written);
    assert_eq!(answers, in_memory(&base));
    assert_eq!(names_in(folder.path()).len(), 2);
}

#[test]
fn a_damaged_index_is_told_and_built_anew() {
    let folder = tempfile::tempdir().expect("a folder");
    let base = some();
    let expected = in_memory(&base);
    assert_eq!(kept(folder.path(), &base).1, Kept::Written);
    let path = the_one_in(folder.path());
    let whole = fs::read(&path).expect("written");
    let damages: Vec<Vec<u8>> = vec![
        Vec::new(),
        whole[..20].to_vec(),
        whole[..whole.len() / 2].to_vec(),
        whole[..whole.len() - 1].to_vec(),
        [whole.as_slice(), b"x"].concat(),
        flipped(&whole, 3),
        flipped(&whole, 30),
        flipped(&whole, whole.len() / 3),
        flipped(&whole, whole.len() - 5),
    ];
    for (number, damage) in damages.into_iter().enumerate() {
        fs::write(&path, damage).expect("damaged");
        let (answers, how) = kept(folder.path(), &base);
        assert_eq!(how, Kept::Written, "damage {number}");
        assert_eq!(answers, expected, "damage {number}");
        assert_eq!(
            fs::read(the_one_in(folder.path())).expect("there").len(),
            whole.len()
        );
    }
    assert_eq!(kept(folder.path(), &base).1, Kept::Found);
}

fn flipped(bytes: &[u8], at: usize) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    bytes[at] ^= 0x10;
    bytes
}

#[test]
fn where_nothing_can_be_written_the_answer_is_the_same() {
    let base = some();
    let expected = in_memory(&base);
    let folder = tempfile::tempdir().expect("a folder");
    // A file where the folder should be is refused to everybody, an administrator included.
    let file = folder.path().join("file");
    fs::write(&file, "in the way").expect("written");
    let (answers, how) = kept(&file.join("cache"), &base);
    assert_eq!((how, &answers), (Kept::Not, &expected));
    let (answers, how) = kept(&file, &base);
    assert_eq!((how, &answers), (Kept::Not, &expected));
    assert_eq!(fs::read(&file).expect("there"), b"in the way");
    assert_eq!(names_in(folder.path()), ["file"]);
}

#[cfg(unix)]
#[test]
fn a_read_only_folder_is_read_and_left_as_it_is() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().expect("a folder");
    let cache = folder.path().join("cache");
    let mut base = some();
    let expected = in_memory(&base);
    assert_eq!(kept(&cache, &base).1, Kept::Written);
    let before = names_in(&cache);
    fs::set_permissions(&cache, fs::Permissions::from_mode(0o555)).expect("shut");
    // An administrator may write all the same; then the rest shows nothing.
    let shut = fs::write(cache.join("probe"), "").is_err();
    if shut {
        assert_eq!(kept(&cache, &base), (expected.clone(), Kept::Found));
        base.content_hash = "of others".to_owned();
        assert_eq!(kept(&cache, &base), (expected, Kept::Not));
        assert_eq!(names_in(&cache), before);
    }
    fs::set_permissions(&cache, fs::Permissions::from_mode(0o755)).expect("open");
}

#[test]
fn two_that_build_at_once_do_not_disturb_each_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let base = some();
    let expected = in_memory(&base);
    std::thread::scope(|scope| {
        let ask = || kept(folder.path(), &base);
        let asking: Vec<_> = (0..4).map(|_| scope.spawn(ask)).collect();
        for asked in asking {
            let (answers, how) = asked.join().expect("no panic");
            assert_eq!(answers, expected);
            assert_ne!(how, Kept::Not);
        }
    });
    the_one_in(folder.path());
    assert_eq!(kept(folder.path(), &base).1, Kept::Found);
}

#[test]
fn old_ones_are_cleared_away_and_nothing_else() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("notes.txt"), "mine").expect("written");
    let mut base = some();
    for number in 0..5 {
        base.content_hash = format!("number {number}");
        assert_eq!(kept(folder.path(), &base).1, Kept::Written);
    }
    let names = names_in(folder.path());
    assert_eq!(names.len(), 4, "{names:?}");
    assert!(names.contains(&"notes.txt".to_owned()), "{names:?}");
    assert_eq!(kept(folder.path(), &base).1, Kept::Found);
}

/// A library as large as it must be for its index to be kept, in files of a size that is read.
fn large_library(folder: &Path) {
    let mut text = String::from("faults:\n  - {id: too-fast, name: Too fast, stage: transition}\n");
    fs::write(folder.join("faults.yaml"), &text).expect("written");
    let colours = ["red", "blue", "green", "white", "black", "amber", "violet"];
    for file in 0..3 {
        text.clear();
        text.push_str("drills:\n");
        for number in 0..=LARGE_LIBRARY / 3 {
            let colour = colours[number % colours.len()];
            writeln!(
                text,
                "  - {{id: count-{file}-{number}, name: \"Count {number} with the {colour} tee\", \
                 treats: [{{id: too-fast}}], purpose: \"Slows the change of direction\"}}"
            )
            .expect("text");
        }
        fs::write(folder.join(format!("drills-{file}.yaml")), &text).expect("written");
    }
}

#[test]
fn the_command_keeps_the_index_of_a_large_library_and_of_no_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let (library, cache) = (folder.path().join("library"), folder.path().join("cache"));
    fs::create_dir(&library).expect("made");
    large_library(&library);
    let ask = |large: bool, cache: Option<&Path>| {
        let mut command = Command::cargo_bin("fairwhy").expect("built");
        command.args(["drills", "amber tee", "--format", "json"]);
        for variable in [
            "FAIRWHY_LIBRARY",
            "FAIRWHY_HOME",
            "XDG_DATA_HOME",
            "XDG_CACHE_HOME",
        ] {
            command.env_remove(variable);
        }
        command.env("HOME", folder.path().join("nobody"));
        if large {
            command.arg("--no-shipped").arg("--library").arg(&library);
        }
        if let Some(cache) = cache {
            command.env("XDG_CACHE_HOME", cache);
        }
        command.assert().success().get_output().stdout.clone()
    };
    ask(false, Some(&cache));
    assert!(!cache.exists());
    let first = ask(true, Some(&cache));
    if cfg!(target_os = "linux") {
        the_one_in(&cache.join("fairwhy"));
    }
    assert_eq!(ask(true, Some(&cache)), first);
    // The home folder cannot be made: a file stands in its way.
    fs::write(folder.path().join("nobody"), "").expect("written");
    assert_eq!(ask(true, None), first);
}
