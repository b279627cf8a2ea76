//! `fairwhy edit`: an entry in the coach's own editor, checked before it counts.

use super::add::{Terminal, report};
use super::output::Output;
use super::own::{Found, Own, ToArgs, no_entry, over, unreadable};
use super::{Failure, Globals};
use crate::authoring::{Dialogue, Draft, Over};
use clap::Args;
use std::ffi::OsString;
use std::io::{IsTerminal, Write};
use std::path::Path;
use std::process::Command;

#[derive(Debug, Args)]
pub(crate) struct EditArgs {
    /// The entry; one that is not your own is copied into your library and stands in its place
    #[arg(value_name = "ID")]
    id: String,
    #[command(flatten)]
    to: ToArgs,
}

pub(crate) fn run(
    args: &EditArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let mut own = Own::open(globals, &args.to)?;
    let id = args.id.trim();
    let found = own.find(id).ok_or_else(|| no_entry(&own, id))?;
    let (before, path, over) = opened(&own, &found, id)?;
    let editor = editor(&own, &found)?;
    let copy = tempfile::Builder::new()
        .prefix(&format!("fairwhy-{}-", found.kind.as_str()))
        .suffix(".yaml")
        .tempfile()
        .and_then(|mut copy| {
            copy.write_all(before.as_bytes())
                .map(|()| copy.into_temp_path())
        })
        .map_err(|error| {
            Failure::NotDone(format!("error: no copy could be made to edit: {error}"))
        })?;
    let result = loop {
        let edited = open_editor(&editor, &copy).and_then(|()| {
            std::fs::read(&copy).map_err(|error| {
                Failure::NotDone(format!("error: the edited copy cannot be read: {error}"))
            })
        });
        let bytes = match edited {
            Ok(bytes) => bytes,
            Err(failure) => break Err(failure),
        };
        if bytes == before.as_bytes() {
            writeln!(std::io::stderr(), "Nothing was changed.").ok();
            return Ok(0);
        }
        let name = copy.display().to_string();
        let ready = Draft::from_bytes(found.kind, &bytes)
            .map_err(|error| unreadable(error, found.kind, &name, &bytes))
            .and_then(|draft| {
                keeps_ids(&found, &draft, &before)?;
                let checked = own.check(&draft, &path, &name)?;
                Ok((draft, checked))
            });
        match ready {
            Ok((draft, checked)) => {
                break own
                    .save(&draft, &path, &name, &over)
                    .map(|saved| (draft, checked, saved));
            }
            Err(trouble) if again(&trouble, output.width) => {}
            Err(trouble) => break Err(Failure::NotDone(trouble)),
        }
    };
    match result {
        Ok((draft, checked, saved)) => report(&draft, &checked, Some(&saved), output, out),
        Err(failure) if std::fs::read(&copy).is_ok_and(|bytes| bytes == before.as_bytes()) => {
            Err(failure)
        }
        Err(failure) => {
            // What was typed is worth more than a tidy temporary folder.
            let kept = copy
                .keep()
                .map_err(|error| Failure::NotDone(error.to_string()))?;
            let said = format!("Your text is kept in {}", kept.display());
            Err(match failure {
                Failure::NotDone(text) => Failure::NotDone(format!("{}\n{said}", text.trim_end())),
                Failure::NotUnderstood(text) => {
                    Failure::NotUnderstood(format!("{}\n{said}", text.trim_end()))
                }
                Failure::ClosedPipe => Failure::NotDone(said),
            })
        }
    }
}

/// The text to start from, where it is to go, and what may be there. An entry of another layer
/// comes alone, with `replaces:` set.
pub(crate) fn opened(
    own: &Own<'_>,
    found: &Found,
    id: &str,
) -> Result<(String, String, Over), Failure> {
    if found.layer == own.at {
        return Ok((
            found.file.text.clone(),
            found.file.path.clone(),
            over(&found.file),
        ));
    }
    let alone = found.read.as_ref().map(|(_, alone)| alone);
    let draft = alone.and_then(|alone| Draft::from_file(found.kind, alone).ok());
    let Some(mut draft) = draft.filter(|draft| !draft.entries().is_empty()) else {
        let layer = &own.stack.layers[found.layer].name;
        return Err(Failure::NotDone(format!(
            "error: `{id}` stands in {} of {layer}, and cannot be replaced from here\n  help: a link is changed by replacing the entry it leads to: fairwhy edit, with the id of that entry",
            found.file.path
        )));
    };
    draft.set_replaces(id);
    Ok((draft.text().to_owned(), draft.path(), Over::Nothing))
}

/// What the coach has named as an editor, in words; a name with blanks that is a program is one.
fn editor(own: &Own<'_>, found: &Found) -> Result<Vec<OsString>, Failure> {
    let set = |name| std::env::var_os(name).filter(|set: &OsString| !set.is_empty());
    let Some(set) = set("VISUAL").or_else(|| set("EDITOR")) else {
        let help = if found.layer == own.at {
            format!(
                "or edit {} yourself and run fairwhy check",
                own.folder.join(&found.file.path).display()
            )
        } else {
            "for example: EDITOR=nano fairwhy edit ...".to_owned()
        };
        return Err(Failure::NotDone(format!(
            "error: no editor is named\n  help: set VISUAL or EDITOR to the one you use, {help}"
        )));
    };
    if Path::new(&set).is_file() {
        return Ok(vec![set]);
    }
    match set.to_str() {
        Some(text) => Ok(text.split_whitespace().map(OsString::from).collect()),
        None => Ok(vec![set]),
    }
}

fn open_editor(editor: &[OsString], copy: &Path) -> Result<(), Failure> {
    let (program, arguments) = editor.split_first().ok_or_else(|| {
        Failure::NotDone(
            "error: VISUAL or EDITOR is blank\n  help: set it to the editor you use".into(),
        )
    })?;
    let name = program.display();
    let status = Command::new(program).args(arguments).arg(copy).status();
    match status {
        Ok(status) if status.success() => Ok(()),
        Ok(_) => Err(Failure::NotDone(format!(
            "error: {name} ended with an error, so nothing was saved"
        ))),
        Err(error) => Err(Failure::NotDone(format!(
            "error: the editor {name} cannot be started: {error}\n  help: set VISUAL or EDITOR to the one you use"
        ))),
    }
}

/// An id once used is never used for something else, so none may vanish from a file or change its
/// sort. Links have no ids and may go.
fn keeps_ids(found: &Found, draft: &Draft, before: &str) -> Result<(), String> {
    let kind = found.kind;
    let Ok(before) = Draft::from_text(kind, before) else {
        // The file could not be read, so this is the first time that anybody can tell.
        return Ok(());
    };
    let now = draft.entries();
    let mut gone = before
        .entries()
        .into_iter()
        .filter(|entry| !now.contains(entry));
    match gone.next() {
        None => Ok(()),
        Some((kind, id)) => Err(format!(
            "error: the {} `{id}` would be gone, and an id once used is never used for something else\n  help: keep it, and retire it: fairwhy retire {id} --for SUCCESSOR\nNothing was saved.",
            kind.as_str()
        )),
    }
}

/// Whether somebody is there who wants to try again.
fn again(trouble: &str, width: usize) -> bool {
    if !(std::io::stdin().is_terminal() && std::io::stderr().is_terminal()) {
        return false;
    }
    let mut terminal = Terminal {
        input: std::io::stdin().lock(),
        prompt: std::io::stderr(),
        width,
    };
    terminal.show(trouble);
    let answer = terminal.ask("Enter opens the editor again, q! leaves > ");
    answer.is_some_and(|answer| answer.trim() != "q!")
}
