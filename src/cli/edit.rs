//! `fairwhy edit`: an entry in the coach's own editor, checked before it counts.

use super::failure::harmless;
use super::library_change::{
    LibraryChange, NOT_SAVED, ToArgs, no_entry, no_place, not_saved, open, unreadable,
};
use super::output::Output;
use super::terminal::Terminal;
use super::{Failure, Globals, layers};
use crate::authoring::{
    Checked, Draft, EntryInFile, EntryKind, Over, OwnLibrary, Respondent, Saved,
};
use crate::knowledge::folder::Limits;
use clap::Args;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::Path;
use std::process::Command;
use tempfile::TempPath;

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
    let mut own = open(globals, &args.to)?;
    let id = args.id.trim();
    let found = own.find(id).ok_or_else(|| no_entry(&own, id))?;
    let (before, path, over) = own
        .opened(&found, id)
        .map_err(|error| no_place(&error, &own))?;
    let editor = editor(&own, &found)?;
    let copy = copy_of(&before, found.kind)?;
    let mut edit = Edit {
        own: &mut own,
        found: &found,
        before: &before,
        path: &path,
        over: &over,
        copy: &copy,
    };
    let result = edit.run(&editor, output, out);
    layers::left_out(&own.stack, globals);
    match result {
        Ok(None) => {
            let _ = writeln!(std::io::stderr(), "Nothing was changed.");
            Ok(0)
        }
        Ok(Some((draft, checked, saved))) => {
            LibraryChange::of(&draft, &checked).report(Some(&saved), output, out)
        }
        Err(failure) => {
            // What was typed is worth more than a tidy temporary folder, where there is any of it.
            match read_back(&copy) {
                Ok(bytes) if bytes != before.as_bytes() => {}
                _ => return Err(failure),
            }
            let kept = copy.keep();
            let kept = kept.map_err(|error| Failure::NotDone(error.to_string()))?;
            Err(failure.and(&format!("Your text is kept in {}", kept.display())))
        }
    }
}

/// A copy of an entry for the editor.
fn copy_of(text: &str, kind: EntryKind) -> Result<TempPath, Failure> {
    let copy = tempfile::Builder::new()
        .prefix(&format!("fairwhy-{}-", kind.as_str()))
        .suffix(".yaml")
        .tempfile();
    let copy = copy.and_then(|mut copy| {
        copy.write_all(text.as_bytes())?;
        Ok(copy.into_temp_path())
    });
    copy.map_err(|error| {
        Failure::NotDone(format!(
            "error: no copy could be made to edit: {error}\n  help: see that there is room in {}",
            std::env::temp_dir().display()
        ))
    })
}

/// An entry that is being edited in a copy.
struct Edit<'a> {
    own: &'a mut OwnLibrary,
    found: &'a EntryInFile,
    before: &'a str,
    path: &'a str,
    over: &'a Over,
    copy: &'a Path,
}

impl Edit<'_> {
    /// Opens the editor until the text passes or the coach has had enough; `None` when nothing was
    /// changed.
    fn run(
        &mut self,
        editor: &[OsString],
        output: &Output,
        out: &mut dyn Write,
    ) -> Result<Option<(Draft, Checked, Saved)>, Failure> {
        loop {
            open_editor(editor, self.copy)?;
            let bytes = read_back(self.copy)?;
            if bytes == self.before.as_bytes() {
                return Ok(None);
            }
            let name = self.copy.display().to_string();
            match self.checked(&bytes, &name) {
                Ok((draft, checked)) => {
                    let change = LibraryChange::of(&draft, &checked);
                    change.show(false, output, out)?;
                    if !change.agreed(output) {
                        return Err(Failure::NotDone(NOT_SAVED.into()));
                    }
                    let saved = self.own.save(&draft, self.path, &name, self.over);
                    return Ok(Some((draft, checked, saved.map_err(not_saved)?)));
                }
                Err(failure) if again(&failure, output.width) => {}
                Err(failure) => return Err(failure),
            }
        }
    }

    fn checked(&mut self, bytes: &[u8], name: &str) -> Result<(Draft, Checked), Failure> {
        let kind = self.found.kind;
        let draft =
            Draft::from_bytes(kind, bytes).map_err(|error| unreadable(error, kind, name, bytes))?;
        keeps_ids(self.found, &draft, self.before)?;
        let checked = self
            .own
            .check(&draft, self.path, name)
            .map_err(|(problems, layers)| Failure::broken(problems, &layers).and(NOT_SAVED))?;
        Ok((draft, checked))
    }
}

/// What the editor has left: a file, and no larger than a library file may be. What else it may have
/// left, such as a pipe, would never come to an end.
fn read_back(copy: &Path) -> Result<Vec<u8>, Failure> {
    let failed = |why: &str| {
        Failure::NotDone(format!(
            "error: the edited copy {} {why}\n  help: save the text under that name in the editor, and end it\n{NOT_SAVED}",
            copy.display()
        ))
    };
    match fs::symlink_metadata(copy) {
        Ok(found) if found.is_file() => {}
        Ok(_) => return Err(failed("is no file any more")),
        Err(_) => return Err(failed("is gone")),
    }
    let mut bytes = Vec::new();
    let most = Limits::default().file_bytes + 1;
    File::open(copy)
        .and_then(|file| file.take(most).read_to_end(&mut bytes))
        .map_err(|error| failed(&format!("cannot be read: {error}")))?;
    Ok(bytes)
}

/// What the coach has named as an editor, in words; a name with blanks that is a program is one.
fn editor(own: &OwnLibrary, found: &EntryInFile) -> Result<Vec<OsString>, Failure> {
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
fn keeps_ids(found: &EntryInFile, draft: &Draft, before: &str) -> Result<(), Failure> {
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
        Some((kind, id)) => Err(Failure::NotDone(format!(
            "error: the {} `{id}` would be gone, and an id once used is never used for something else\n  help: keep it, and retire it: fairwhy retire {id} --for SUCCESSOR; fairwhy remove {id} takes out one that was never used\n{NOT_SAVED}",
            kind.as_str()
        ))),
    }
}

/// Whether somebody is there who wants to try again.
fn again(failure: &Failure, width: usize) -> bool {
    if !Terminal::is_there() {
        return false;
    }
    let mut terminal = Terminal::new(width);
    terminal.show(&harmless(failure.text()));
    let answer = terminal.ask("Enter opens the editor again, q! leaves > ");
    answer.is_some_and(|answer| answer.trim() != "q!")
}
