//! A file that ships, as it was read when the program was built: what it says, and where its entries
//! start.
//!
//! Written by `build.rs` and read by the same types of the same state of the code, never stored: the
//! form may change with every build. JSON, since the types leave out what is not said, and a strength
//! is a word or a number.

use super::document::LibraryFile;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// What a file says, and where.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Packed {
    pub(crate) file: LibraryFile,
    /// Line and column of every entry, list by list in the order of `build.rs`; behind a condition those
    /// of its `caused_by`.
    pub(crate) places: Vec<(usize, usize)>,
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
