//! `fairwhy remove`: an own entry taken out again.

use super::library_change::{LibraryChange, NOT_SAVED, ToArgs, no_entry, open, unreadable};
use super::output::Output;
use super::{Failure, Globals, layers};
use crate::authoring::{EntryKind, OwnLibrary, without};
use clap::Args;
use std::io::Write;

#[derive(Debug, Args)]
pub(crate) struct RemoveArgs {
    /// The entry of your own, a source or a case too; a link is named as CAUSE-to-EFFECT
    #[arg(value_name = "ID")]
    id: String,
    /// Check it and show what it would change, but remove nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    to: ToArgs,
}

pub(crate) fn run(
    args: &RemoveArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let mut own = open(globals, &args.to)?;
    let id = args.id.trim();
    let Some(found) = own.find_in(own.at, id) else {
        return Err(not_own(&own, id));
    };
    let path = found.file.path.clone();
    let rest = without(&found, id)
        .map_err(|error| unreadable(error, found.kind, &path, found.file.text.as_bytes()))?;
    let checked = own.check_text(&path, rest.text.clone());
    let checked = checked.map_err(|problems| {
        let instead = match found.kind {
            EntryKind::Source | EntryKind::Case => String::new(),
            _ => format!(", or keep it: fairwhy retire {id} --for SUCCESSOR"),
        };
        let help = format!("  help: first take out what names it{instead}");
        let broken = Failure::broken(problems, &own.stack.layers);
        broken.and(&help).and(NOT_SAVED)
    })?;
    layers::left_out(&own.stack, globals);
    let change = LibraryChange {
        names: vec![id.to_owned()],
        checked: &checked,
        text: rest.text.as_deref(),
        rewritten: rest.rewritten,
        on_trial: false,
        done: "Removed",
    };
    let save = || own.change(&path, rest.text.as_deref(), &found.over());
    change.offer(args.dry_run, output, out, save)
}

/// What is not the coach's own cannot be removed, or is not there at all.
fn not_own(own: &OwnLibrary, id: &str) -> Failure {
    let Some(other) = own.find(id) else {
        return no_entry(own, id);
    };
    let help = match other.kind {
        EntryKind::Link | EntryKind::Source | EntryKind::Case => {
            "what another library says stays there".to_owned()
        }
        _ => format!(
            "fairwhy retire {id} --for SUCCESSOR puts another in its place, fairwhy edit {id} changes it for you"
        ),
    };
    Failure::NotDone(format!(
        "error: `{id}` is not your own: it stands in {} of {}\n  help: {help}\n{NOT_SAVED}",
        other.file.path, own.stack.layers[other.layer].name
    ))
}
