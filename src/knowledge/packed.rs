//! A file that ships, as it was read when the program was built: what it says, and where its entries
//! start.
//!
//! Written by `build.rs` and read by the same types of the same state of the code, never stored: the
//! form may change with every build. JSON, since the types leave out what is not said, and a strength
//! is a word or a number.

use super::document::LibraryFile;
use super::node::{Content, Node, Place, read};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// Every list of a library file, in the order in which [`Packed::places`] goes through them.
pub(crate) const LISTS: [&str; 21] = [
    "outcomes",
    "faults",
    "causes",
    "drills",
    "sources",
    "links",
    "facts",
    "body_words",
    "stages",
    "cases",
    "sayings",
    "synonyms",
    "opposites",
    "shorthand",
    "clubs",
    "denials",
    "hedges",
    "topics",
    "flights",
    "numbers",
    "word_lists",
];

/// What a file says, and where.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Packed {
    pub(crate) file: LibraryFile,
    /// Line and column of every entry, list by list; behind a condition those of its `caused_by`.
    pub(crate) places: Vec<(usize, usize)>,
}

/// A file in its packed form; `None` when there is nothing in it, or something wrong with it, which
/// the program says when it reads the text.
#[cfg_attr(not(test), allow(dead_code, reason = "used when the program is built"))]
pub(crate) fn pack(text: &str) -> Option<String> {
    let root = read(text).ok().flatten()?;
    let file = serde_yaml::from_str(text).ok()?;
    let lists = LISTS.iter().filter_map(|list| items(&root, list));
    let places = lists
        .flatten()
        .flat_map(|item| {
            let causes = items(item, "caused_by").unwrap_or_default();
            std::iter::once(item.at).chain(causes.iter().map(|cause| cause.at))
        })
        .map(|Place { line, column }| (line, column))
        .collect();
    serde_json::to_string(&Packed { file, places }).ok()
}

/// The list under a key.
pub(crate) fn items<'n>(node: &'n Node, key: &str) -> Option<&'n [Node]> {
    match &node.get(key)?.content {
        Content::List(items) => Some(items),
        _ => None,
    }
}

/// SHA-256 over the files of a layer, sorted by path; each text goes in behind its length, so that no
/// two libraries can run into the same bytes.
pub(crate) fn digest<'t>(files: impl ExactSizeIterator<Item = (&'t str, &'t str)>) -> String {
    let mut hash = Sha256::new();
    hash.update(files.len().to_le_bytes());
    for (path, text) in files {
        for text in [path, text] {
            hash.update(text.len().to_le_bytes());
            hash.update(text.as_bytes());
        }
    }
    hex(hash)
}

/// What was hashed, as lowercase hex.
pub(crate) fn hex(hash: Sha256) -> String {
    hash.finalize().iter().fold(String::new(), |mut hex, byte| {
        write!(hex, "{byte:02x}").expect("writing to a string");
        hex
    })
}
