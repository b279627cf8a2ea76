//! `fairwhy show ID`: one entry, whole.

use super::output::Output;
use super::{Failure, Globals, layers};
use crate::knowledge::{KnowledgeBase, nearest};
use crate::report::{Entry, show_json, show_page};
use crate::words::{Circumstances, ReadBy, Reader, Reading};
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

/// The entry with this id, name or alias.
fn find(base: &KnowledgeBase, words: &str) -> Result<Entry, Failure> {
    if let Some(key) = base.find(words) {
        return Ok(Entry::Condition(key));
    }
    if let Some(key) = base.find_drill(words) {
        return Ok(Entry::Drill(key));
    }
    if let Some(key) = base.find_source(words) {
        return Ok(Entry::Source(key));
    }
    let called = |other: &String| other.eq_ignore_ascii_case(words);
    let named = base.drill_keys().find(|key| called(&base.drill(*key).name));
    if let Some(key) = named {
        return Ok(Entry::Drill(key));
    }
    if let Reading::Clear { condition, by, .. } =
        Reader::new(base).read(words, &Circumstances::default())
        && by != ReadBy::Words
    {
        return Ok(Entry::Condition(condition));
    }
    let also = base
        .drill_keys()
        .find(|key| base.drill(*key).aliases.iter().any(called));
    if let Some(key) = also {
        return Ok(Entry::Drill(key));
    }
    let ids = base
        .conditions
        .iter()
        .map(|c| c.id.as_str())
        .chain(base.drills.iter().map(|d| d.id.as_str()))
        .chain(base.sources.iter().map(|s| s.id.as_str()));
    let close = nearest(words, ids, 5);
    Err(Failure::NotUnderstood(if close.is_empty() {
        format!(
            "error: no entry \"{words}\"\n  help: fairwhy drills \"what you see\" finds entries by words"
        )
    } else {
        format!(
            "error: no entry \"{words}\"\n  help: the nearest ids: {}",
            close.join(", ")
        )
    }))
}
