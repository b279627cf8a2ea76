//! The editor schema of a library file.

use super::document::LibraryFile;

/// The JSON Schema (draft 2020-12) of a library file, generated from the types the reader uses.
///
/// An editor that is given it completes keys and words, and underlines what `fairwhy check` would
/// refuse; the checks that need more than one entry at a time it cannot make.
#[must_use]
pub fn schema() -> serde_json::Value {
    let mut schema = schemars::schema_for!(LibraryFile);
    schema.insert("title".to_owned(), "A fairwhy library file".into());
    schema.to_value()
}
