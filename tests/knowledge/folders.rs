//! Folders as they are found on a disk.

use super::*;

#[test]
fn a_folder_is_read_at_any_depth_and_in_order() {
    let folder = folder_with(&[
        ("b.yaml", b"# nothing yet\n"),
        (
            "a/deep/er/x.YML",
            b"\xef\xbb\xbffaults:\r\n  - {id: b, name: B, stage: top}\r\n",
        ),
        ("a/notes.txt", b"not read"),
        (".hidden/x.yaml", b"\0"),
        ("a/a.yaml", ONE_FAULT),
    ]);
    let layer = folder::read(folder.path()).expect("reads");
    let paths: Vec<&str> = layer.files.iter().map(|file| file.path.as_str()).collect();
    assert_eq!(paths, ["a/a.yaml", "a/deep/er/x.YML", "b.yaml"]);
    let loaded = load(&[layer], Strictness::Lesson).expect("loads");
    assert_eq!(loaded.base.conditions.len(), 2);
    assert_eq!(loaded.base.conditions[1].origin.line, 2);
}

#[test]
fn a_folder_that_is_no_library_says_why() {
    let folder = folder_with(&[("a.yaml", ONE_FAULT), ("notes/b.txt", b"x")]);
    assert_eq!(codes_in(&folder.path().join("nowhere")), ["folder-missing"]);
    assert_eq!(codes_in(&folder.path().join("a.yaml")), ["not-a-folder"]);
    assert_eq!(codes_in(&folder.path().join("notes")), ["empty-library"]);
}

#[test]
fn a_file_that_is_no_text_is_named_with_its_line() {
    let folder = folder_with(&[("a.yaml", b"# fine\n# caf\xe9\n"), ("b.yaml", b"a: b\0c\n")]);
    let found = folder::read(folder.path()).expect_err("not UTF-8");
    assert_eq!(found[0].code, "not-utf-8");
    assert_eq!((found[0].line, found[0].column), (2, 6));
    fs::remove_file(folder.path().join("a.yaml")).expect("it is there");
    assert_eq!(codes_in(folder.path()), ["forbidden-character"]);
}

#[cfg(unix)]
#[test]
fn what_may_not_be_read_is_named() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = folder_with(&[("a.yaml", ONE_FAULT), ("shut/b.yaml", ONE_FAULT)]);
    let none = fs::Permissions::from_mode(0o000);
    fs::set_permissions(folder.path().join("a.yaml"), none.clone()).expect("ours");
    fs::set_permissions(folder.path().join("shut"), none).expect("ours");
    // The superuser reads everything, so there is nothing to see as one.
    if fs::read(folder.path().join("a.yaml")).is_err() {
        assert_eq!(
            codes_in(folder.path()),
            ["file-unreadable", "folder-unreadable"]
        );
    }
    let open = fs::Permissions::from_mode(0o700);
    fs::set_permissions(folder.path().join("shut"), open).expect("ours");
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_folder_is_not_followed() {
    use std::os::unix::fs::symlink;
    let outside = folder_with(&[(
        "secret.yaml",
        b"faults:\n  - {id: b, name: B, stage: top}\n",
    )]);
    let folder = folder_with(&[("a.yaml", ONE_FAULT), ("sub/b.txt", b"x")]);
    let link = |to: &Path, name: &str| symlink(to, folder.path().join(name)).expect("can link");
    link(&outside.path().join("secret.yaml"), "out.yaml");
    link(outside.path(), "outside");
    link(folder.path(), "sub/round-in-a-circle");
    link(&folder.path().join("a.yaml"), "same.yaml");
    // It may have been a folder of files.
    link(&outside.path().join("gone"), "nowhere");
    let layer = folder::read(folder.path()).expect("reads");
    assert_eq!(layer.files.len(), 1);
    let skipped: Vec<&str> = layer.skipped.iter().map(|p| p.file.as_str()).collect();
    assert_eq!(skipped.len(), 3, "{skipped:?}");
    assert!(layer.skipped.iter().all(|p| p.code == "link-not-followed"));
    let loaded = load(&[layer], Strictness::Lesson).expect("loads");
    assert!(
        loaded
            .warnings
            .iter()
            .any(|p| p.code == "link-not-followed")
    );
    // The library itself may be a link.
    let home = folder_with(&[]);
    symlink(folder.path(), home.path().join("mine")).expect("can link");
    assert!(folder::read(&home.path().join("mine")).is_ok());
}

#[cfg(unix)]
#[test]
fn a_pipe_named_like_a_file_does_not_hang_the_reader() {
    let folder = folder_with(&[("a.yaml", ONE_FAULT)]);
    let made = std::process::Command::new("mkfifo")
        .arg(folder.path().join("b.yaml"))
        .status();
    if made.is_ok_and(|status| status.success()) {
        let layer = folder::read(folder.path()).expect("reads");
        assert_eq!(layer.files.len(), 1);
        // It is passed over, and not in silence.
        assert_eq!(layer.skipped[0].code, "not-a-file");
        assert_eq!(layer.skipped[0].file, "b.yaml");
    }
}

#[test]
fn a_file_of_a_hundred_megabytes_is_refused_unread() {
    let folder = folder_with(&[("a.yaml", ONE_FAULT)]);
    let file = fs::File::create(folder.path().join("big.yaml")).expect("can be made");
    file.set_len(100 << 20).expect("a sparse file");
    assert_eq!(codes_in(folder.path()), ["file-too-large"]);
}

#[test]
fn folders_inside_folders_come_to_an_end() {
    let deep = format!("{}a.yaml", "d/".repeat(folder::Limits::default().depth + 2));
    let folder = folder_with(&[(&deep, ONE_FAULT)]);
    assert_eq!(codes_in(folder.path()), ["folders-too-deep"]);
}
