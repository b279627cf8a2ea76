//! `fairwhy show ID`: one entry, whole.

use super::output::Output;
use super::trouble::clipped;
use super::{Failure, Globals, layers, records};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::Lesson;
use crate::records::{LearnedEffect, LearnedRow, Store, learned_effect, learned_rows};
use crate::report::{LibraryEntry, learned_json, learned_page, show_json, show_page};
use crate::words::Reader;
use clap::Args;
use std::io::Write;

#[derive(Debug, Args)]
pub(crate) struct ShowArgs {
    /// An id, or the name of a condition, a drill or a source
    #[arg(value_name = "ID")]
    id: String,
    /// Leave out what was learnt from your lessons
    #[arg(long)]
    without_records: bool,
}

pub(crate) fn run(
    args: &ShowArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let base = layers::load(globals)?;
    let entry = find(&base, args.id.trim())?;
    let learned = if args.without_records {
        None
    } else {
        learned(&base, entry)?
    };
    output.print(
        out,
        || {
            let mut page = show_page(&base, entry);
            if let Some((row, effects)) = &learned {
                page.blocks
                    .extend(learned_page(&base, row.as_ref(), effects).blocks);
            }
            page
        },
        || {
            let mut value = show_json(&base, entry);
            if let Some((row, effects)) = &learned {
                value["learned"] = learned_json(&base, row.as_ref(), effects);
            }
            value
        },
    )?;
    Ok(0)
}

/// What the records say of an entry: its row, or its effects.
type Learned = (Option<LearnedRow>, Vec<(ConditionKey, LearnedEffect)>);

/// What the records say, where there are any and it was opted into.
fn learned(base: &KnowledgeBase, entry: LibraryEntry) -> Result<Option<Learned>, Failure> {
    let Some(mut store) = Store::to_read(&records::place()?).map_err(records::refused)? else {
        return Ok(None);
    };
    if !store.learns().map_err(records::refused)? {
        return Ok(None);
    }
    let mut learned: Learned = (None, Vec::new());
    match entry {
        LibraryEntry::Condition(key) => {
            let calls = store
                .calls_for(&base.condition(key).id)
                .map_err(records::refused)?;
            learned.0 = learned_rows(base, &[(key, calls)].into(), None).remove(&key);
        }
        LibraryEntry::Drill(key) => {
            let drill = base.drill(key);
            let tries = store.tries().map_err(records::refused)?;
            if let Some((told, worked)) = tries.get(&drill.id) {
                let moved = drill.treats.iter().map(|treats| {
                    (
                        treats.condition,
                        learned_effect(treats.effect.get(), *told, *worked),
                    )
                });
                learned.1 = moved.collect();
            }
        }
        LibraryEntry::Source(_) => {}
    }
    Ok((learned.0.is_some() || !learned.1.is_empty()).then_some(learned))
}

/// The entry that an id or a name means.
fn find(base: &KnowledgeBase, words: &str) -> Result<LibraryEntry, Failure> {
    let read = |words: &str| Reader::new(base).read(words, &Lesson::default());
    LibraryEntry::find(base, words, read).map_err(|close| {
        let words = clipped(words);
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
