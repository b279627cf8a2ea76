//! The map of the rooms that contributors are given.

use super::source::files;
use std::collections::BTreeSet;
use std::path::Path;

/// The rooms: the folders of the source, and the one file that is a room by itself.
fn rooms() -> BTreeSet<String> {
    let names = files().into_iter().map(|file| file.name);
    let room = |name: String| match name.split_once('/') {
        Some((room, _)) => Some(format!("src/{room}")),
        None => (!["lib.rs", "main.rs", "build.rs"].contains(&name.as_str()))
            .then(|| format!("src/{name}")),
    };
    names.filter_map(room).collect()
}

#[test]
fn the_map_names_every_room_once() {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let page = std::fs::read_to_string(page).expect("DEVELOPERS.md");
    let rows = page.lines().filter_map(|line| line.strip_prefix("| `src/"));
    let named = rows.filter_map(|row| Some(format!("src/{}", row.split_once('`')?.0)));
    let named: Vec<String> = named.collect();
    assert_eq!(named.iter().cloned().collect::<BTreeSet<_>>(), rooms());
    assert_eq!(named.len(), rooms().len());
}
