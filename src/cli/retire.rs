//! `fairwhy retire`: an entry that is no longer used, and what to use instead.

use super::library_change::{
    LibraryChange, NOT_SAVED, ToArgs, no_entry, no_place, open, unreadable,
};
use super::output::Output;
use super::{Failure, Globals};
use crate::authoring::{Draft, EntryKind};
use crate::knowledge::KnowledgeBase;
use clap::Args;
use std::io::Write;

#[derive(Debug, Args)]
pub(crate) struct RetireArgs {
    /// The entry; its id is kept, and never used for anything else
    #[arg(value_name = "ID")]
    id: String,
    /// What to use instead
    #[arg(long = "for", value_name = "SUCCESSOR")]
    heir: String,
    /// Check it and show what it would change, but save nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    to: ToArgs,
}

pub(crate) fn run(
    args: &RetireArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let mut own = open(globals, &args.to)?;
    let (id, heir) = (args.id.trim(), args.heir.trim());
    let found = own.find(id).ok_or_else(|| no_entry(&own, id))?;
    if own.find(heir).is_none() {
        return Err(no_entry(&own, heir));
    }
    if let EntryKind::Link | EntryKind::Source | EntryKind::Case = found.kind {
        let kind = found.kind.as_str();
        return Err(Failure::NotDone(format!(
            "error: `{id}` is a {kind}, and only drills, faults, causes and outcomes are retired\n  help: fairwhy remove {id} takes it out, where it is your own"
        )));
    }
    let opened = own.opened(&found, id);
    let (text, path, over) = opened.map_err(|error| no_place(&error, &own))?;
    let loaded = own.stack.load().ok();
    let already = loaded.and_then(|loaded| retired_for(&loaded.base, id));
    if already.as_deref() == Some(heir) {
        let said = format!("`{id}` is retired for `{heir}` already; nothing was changed.");
        writeln!(std::io::stderr(), "{said}").ok();
        return Ok(0);
    }
    let mut draft = Draft::from_text(found.kind, &text)
        .map_err(|error| unreadable(error, found.kind, &path, text.as_bytes()))?;
    draft.set_retired_for(id, heir);
    let broken = |(problems, layers): (_, Vec<_>)| Failure::broken(problems, &layers);
    let checked = own.check(&draft, &path, &path);
    let checked = checked.map_err(|error| broken(error).and(NOT_SAVED))?;
    let save = || own.save(&draft, &path, &path, &over);
    LibraryChange::of(&draft, &checked).offer(args.dry_run, output, out, save)
}

/// What an entry is retired for, if it is.
fn retired_for(base: &KnowledgeBase, id: &str) -> Option<String> {
    match base.find(id) {
        Some(key) => base.condition(key).retired_for.clone(),
        None => base.drill(base.find_drill(id)?).retired_for.clone(),
    }
}
