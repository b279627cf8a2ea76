//! What is wrong with a library, said to the person who wrote it.

use serde::Serialize;

/// Whether a problem stops loading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// It would make an answer wrong or a file ambiguous; nothing is loaded.
    Error,
    /// A gap or a matter of style; it never stops a lesson.
    Warning,
}

/// One thing that is wrong, where it is, and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Problem {
    /// The layer, as its folder was given, or `shipped`.
    pub layer: String,
    /// The file, relative to the layer; empty when the problem is with the folder itself.
    pub file: String,
    /// From 1; 0 when the problem has no line.
    pub line: usize,
    /// From 1; 0 when the problem has no column.
    pub column: usize,
    /// Whether it stops loading.
    pub severity: Severity,
    /// A stable kebab-case code, listed in `docs/format.md`.
    pub code: &'static str,
    /// What is wrong, in one sentence, with the offending words.
    pub message: String,
    /// What to write instead.
    pub help: Option<String>,
}
