//! `fairwhy show ID`: one entry, whole.

use super::output::Output;
use super::{Failure, Globals, layers};
use crate::knowledge::KnowledgeBase;
use crate::lesson::Lesson;
use crate::report::{Entry, show_json, show_page};
use crate::words::Reader;
use clap::Args;
use std::io::Write;

#[derive(Debug, Args)]
pub(crate) struct ShowArgs {
    /// An id, or the name of a condition, a drill or a source
    #[arg(value_name = "ID")]
    id: String,
}

pub(crate) fn run(
    args: &ShowArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let base = layers::load(globals)?;
    let entry = find(&base, args.id.trim())?;
    output.print(out, || show_page(&base, entry), || show_json(&base, entry))?;
    Ok(0)
}

/// The entry that an id or a name means.
fn find(base: &KnowledgeBase, words: &str) -> Result<Entry, Failure> {
    let read = |words: &str| Reader::new(base).read(words, &Lesson::default());
    Entry::find(base, words, read).map_err(|close| {
        Failure::NotUnderstood(if close.is_empty() {
            format!(
                "error: no entry \"{words}\"\n  help: fairwhy drills \"what you see\" finds entries by words"
            )
        } else {
            format!(
                "error: no entry \"{words}\"\n  help: the nearest ids: {}",
                close.join(", ")
            )
        })
    })
}
