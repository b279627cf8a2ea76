//! `fairwhy retire`: an entry that is no longer used, and what to use instead.

use super::add::left;
use super::library_change::{
    LibraryChange, NOT_SAVED, ToArgs, no_entry, no_place, not_saved, open, unreadable,
};
use super::output::Output;
use super::{Failure, Globals};
use crate::authoring::{Draft, EntryKind};
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
    if matches!(
        found.kind,
        EntryKind::Link | EntryKind::Source | EntryKind::Case
    ) {
        return Err(Failure::NotDone(format!(
            "error: `{id}` is a {}, and only drills, faults, causes and outcomes are retired\n  help: fairwhy remove {id} takes it out, where it is your own",
            found.kind.as_str()
        )));
    }
    let (text, path, over) = own
        .opened(&found, id)
        .map_err(|error| no_place(&error, &own))?;
    let already = own.stack.load().ok().and_then(|loaded| {
        let base = loaded.base;
        let condition = base
            .find(id)
            .map(|key| base.condition(key).retired_for.clone());
        condition
            .or_else(|| {
                base.find_drill(id)
                    .map(|key| base.drill(key).retired_for.clone())
            })
            .flatten()
    });
    if already.as_deref() == Some(heir) {
        writeln!(
            std::io::stderr(),
            "`{id}` is retired for `{heir}` already; nothing was changed."
        )
        .ok();
        return Ok(0);
    }
    let mut draft = Draft::from_text(found.kind, &text)
        .map_err(|error| unreadable(error, found.kind, &path, text.as_bytes()))?;
    draft.set_retired_for(id, heir);
    let checked = own
        .check(&draft, &path, &path)
        .map_err(|(problems, layers)| Failure::broken(problems, &layers).and(NOT_SAVED))?;
    let change = LibraryChange::of(&draft, &checked);
    change.show(args.dry_run, output, out)?;
    if args.dry_run {
        return change.report(None, output, out);
    }
    if !change.agreed(output) {
        return left();
    }
    let saved = own.save(&draft, &path, &path, &over).map_err(not_saved)?;
    change.report(Some(&saved), output, out)
}
