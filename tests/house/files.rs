//! What files are called.

use super::source::files;
use std::collections::BTreeMap;

/// Files of several rooms that still have one name. A command's file is named like the command; take a
/// name out when it stands once.
const STILL_SEVERAL: [&str; 8] = [
    "answer", "body", "drills", "flight", "frame", "plan", "student", "why",
];

/// A file's name says which noun it holds, so no two rooms have the same one.
#[test]
fn a_file_name_stands_once() {
    let mut rooms: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for file in files() {
        let Some((room, name)) = file.name.rsplit_once('/') else {
            continue;
        };
        let name = name.trim_end_matches(".rs");
        if name != "mod" {
            rooms
                .entry(name.to_owned())
                .or_default()
                .push(room.to_owned());
        }
    }
    rooms.retain(|_, rooms| rooms.len() > 1);
    let several: Vec<&str> = rooms.keys().map(String::as_str).collect();
    assert_eq!(several, STILL_SEVERAL, "{rooms:?}");
}
