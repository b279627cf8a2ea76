//! The coach's own library at hand: what a change would do is shown first, then it is saved.

use super::failure::{Failure, harmless};
use super::output::Output;
use super::terminal::Terminal;
use super::{Format, Globals, home, layers};
use crate::authoring::{
    Checked, Draft, DraftError, EntryKind, OwnError, OwnLibrary, PlaceError, Respondent, SaveError,
    Saved, names_in,
};
use crate::knowledge::{self, LayerText, Problem, Status};
use crate::report::{Page, change_json, change_page};
use clap::Args;
use serde_json::{Value, json};
use std::io::{ErrorKind, Write};
use std::path::PathBuf;

/// What is said last when nothing came of it.
pub(crate) const NOT_SAVED: &str = "Nothing was saved.";

/// Where own entries go.
#[derive(Clone, Debug, Args)]
pub(crate) struct ToArgs {
    /// The library to write to (left out: your own, below FAIRWHY_HOME or the platform's data folder)
    #[arg(long, value_name = "DIR")]
    pub to: Option<PathBuf>,
}

/// Reads every layer; the own one need not be there yet.
pub(crate) fn open(globals: &Globals, to: &ToArgs) -> Result<OwnLibrary, Failure> {
    let folder = match &to.to {
        Some(to) => to.clone(),
        None => home::own_library()?,
    };
    // With nothing else to read, the library that is written to stands alone.
    if to.to.is_none() && globals.no_shipped && globals.library.is_empty() {
        layers::stack(globals)?;
    }
    OwnLibrary::open(layers::wanted(globals), &folder)
        .map_err(|problems| Failure::broken(problems, &[]).and(NOT_SAVED))
}

/// A change of the library that was checked, before it is saved.
pub(crate) struct LibraryChange<'a> {
    /// What it is about.
    pub names: Vec<String>,
    /// What it would do.
    pub checked: &'a Checked,
    /// The text it would leave in the file; `None` when the file would go.
    pub text: Option<&'a str>,
    /// Whether the coach's own layout would be lost.
    pub rewritten: bool,
    /// Whether a drill in it is on trial.
    pub on_trial: bool,
    /// What is done with them, in the past tense.
    pub done: &'static str,
}

impl<'a> LibraryChange<'a> {
    /// That of a draft.
    pub fn of(draft: &'a Draft, checked: &'a Checked) -> Self {
        let drills = &draft.file().drills;
        let on_trial = |drill: &knowledge::DrillText| drill.status == Some(Status::Trial);
        Self {
            names: draft.names(),
            checked,
            text: Some(draft.text()),
            rewritten: draft.rewritten(),
            on_trial: drills.iter().any(on_trial),
            done: "Saved",
        }
    }

    /// Shows what it would do. A program gets all of it afterwards.
    pub fn show(&self, dry_run: bool, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
        if output.format == Format::Json {
            return Ok(());
        }
        let names = self.names.join(", ");
        let headline = if dry_run {
            format!("Checked {names}; nothing was saved")
        } else {
            format!("What {names} changes")
        };
        output.print(out, || self.page(&headline), || json!(null))?;
        out.flush()?;
        Ok(())
    }

    /// What it would do, below a line that says what that is.
    pub fn page(&self, headline: &str) -> Page {
        let mut page = change_page(self.checked, headline);
        if self.on_trial {
            page.text("It is on trial, and says so wherever it appears; fairwhy edit changes that once it has proved itself.");
        }
        if self.rewritten {
            page.text("The text has to be laid out anew, so comments in it are lost.");
        }
        page
    }

    /// Shows what it would do, and saves it with `save` when that is wanted and agreed to.
    pub fn offer(
        &self,
        dry_run: bool,
        output: &Output,
        out: &mut dyn Write,
        save: impl FnOnce() -> Result<Saved, OwnError>,
    ) -> Result<u8, Failure> {
        self.show(dry_run, output, out)?;
        if dry_run {
            return self.report(None, output, out);
        }
        if !self.agreed(output) {
            return left();
        }
        let saved = save().map_err(not_saved)?;
        self.report(Some(&saved), output, out)
    }

    /// Asks whether to save, when somebody is there to answer.
    pub fn agreed(&self, output: &Output) -> bool {
        if output.format == Format::Json || !Terminal::is_there() {
            return true;
        }
        let mut terminal = Terminal::new(output.width);
        loop {
            match terminal
                .ask("Save it? (y or n) > ")
                .as_deref()
                .map(str::trim)
            {
                Some("y" | "Y" | "yes") => return true,
                None | Some("n" | "N" | "no" | "q!") => return false,
                Some(_) => {}
            }
        }
    }

    /// Says where it is saved; a program is told everything.
    pub fn report(
        &self,
        saved: Option<&Saved>,
        output: &Output,
        out: &mut dyn Write,
    ) -> Result<u8, Failure> {
        let place = saved.map(|saved| saved.path.display().to_string());
        let kept = saved.and_then(|saved| saved.kept.as_ref());
        let kept = kept.map(|kept| kept.display().to_string());
        if output.format == Format::Json {
            let mut value = json!({
                "entries": self.names, "saved": place, "kept": kept, "rewritten": self.rewritten, "text": self.text,
            });
            let change = change_json(self.checked);
            if let (Some(all), Value::Object(more)) = (value.as_object_mut(), change) {
                all.extend(more);
            }
            writeln!(out, "{value}")?;
            return Ok(0);
        }
        // Paths are to be copied, so no margin breaks them.
        if let Some(place) = place {
            let names = self.names.join(", ");
            let into = if self.text.is_some() { "in" } else { "from" };
            writeln!(out, "\n{} {names}\n{into} {}", self.done, harmless(&place))?;
        }
        if let Some(kept) = kept {
            writeln!(out, "What stood there is kept in {}", harmless(&kept))?;
        }
        Ok(0)
    }
}

/// Nothing was saved, as somebody wanted it.
pub(crate) fn left() -> Result<u8, Failure> {
    Err(Failure::NotDone(NOT_SAVED.into()))
}

/// A save that failed, in words.
pub(crate) fn not_saved(error: OwnError) -> Failure {
    match error {
        OwnError::Save(error) => not_written(&error),
        OwnError::Broken(problems, layers) => Failure::broken(problems, &layers).and(NOT_SAVED),
    }
}

/// A file that could not be put where it belongs, in words.
pub(crate) fn not_written(error: &SaveError) -> Failure {
    let mut text = format!("error: {}", said(&error.to_string()));
    if let SaveError::ReadBack { problems, .. } = error {
        for problem in problems {
            text.push_str(&format!("\n  line {}: {}", problem.line, problem.message));
        }
    }
    let help = match error {
        SaveError::Folder { .. } => {
            "name a folder that you may write to with --to DIR, or set FAIRWHY_HOME"
        }
        SaveError::Busy { .. } => "wait a moment and try again",
        SaveError::Exists { .. } => {
            "give --replace to put the new one in its place; the old one is kept beside it"
        }
        SaveError::Changed { .. } => "look at what is there now, then try again",
        SaveError::Link { .. } => {
            "put a real folder or file in its place, or name another folder with --to DIR"
        }
        SaveError::NoFile { .. } => "name a file, or write - for standard output",
        SaveError::System { error, .. } if error.kind() == ErrorKind::NotFound => {
            "make the folder first, or name another place"
        }
        SaveError::System { .. } => {
            "see that there is room on the disk and that you may write there; nothing was changed"
        }
        SaveError::ReadBack { .. } => "check the disk; the library itself was not changed",
    };
    Failure::NotDone(format!("{text}\n  help: {help}\n{NOT_SAVED}"))
}

/// A draft without a place, in words.
pub(crate) fn no_place(error: &PlaceError, own: &OwnLibrary) -> Failure {
    let help = match error {
        PlaceError::Taken { id, .. } => format!(
            "--replace puts yours in its place and keeps the old one; fairwhy edit {id} opens it, in {}",
            own.folder.display()
        ),
        PlaceError::OtherKind { new, .. } => format!("give the new {} an id of its own", new.as_str()),
        PlaceError::TwoFiles { .. } => "add them one by one".to_owned(),
        PlaceError::Loses { .. } => "fairwhy edit changes one entry of a file".to_owned(),
        PlaceError::Retired { .. } => "give the new entry an id of its own".to_owned(),
        PlaceError::NotAlone { kind, .. } if *kind != EntryKind::Link => {
            format!("write a {} of your own under another id", kind.as_str())
        }
        PlaceError::NotAlone { .. } => {
            "a link is changed by replacing the entry it leads to: fairwhy edit, with the id of that entry".to_owned()
        }
    };
    Failure::NotDone(format!("error: {error}\n  help: {help}\n{NOT_SAVED}"))
}

/// What the system says, without its error numbers.
pub(crate) fn said(text: &str) -> String {
    match text.find(" (os error") {
        Some(at) => text[..at].to_owned(),
        None => text.to_owned(),
    }
}

/// A draft that could not be read, in words.
pub(crate) fn unreadable(error: DraftError, kind: EntryKind, name: &str, text: &[u8]) -> Failure {
    let noun = kind.as_str();
    let text = match &error {
        DraftError::Empty => format!(
            "error: {error}: {name} holds no entry\n  help: fairwhy add {noun} --template prints one to start from"
        ),
        DraftError::TooLarge => {
            format!("error: {error}\n  help: spread its entries over several files")
        }
        DraftError::NotText { .. } => {
            format!("error: {name}: {error}\n  help: save it again with the encoding UTF-8")
        }
        DraftError::OtherKind { found, .. } => {
            let found: Vec<String> = found
                .iter()
                .map(|kind| {
                    format!(
                        "fairwhy add {} adds the {} in it",
                        kind.as_str(),
                        kind.list()
                    )
                })
                .collect();
            let help = if found.is_empty() {
                format!("fairwhy add {noun} --template prints one to start from")
            } else {
                found.join("; ")
            };
            format!("error: {name}: {error}\n  help: {help}")
        }
        DraftError::Problems(problems) => {
            let problems = problems.iter().cloned().map(|problem| Problem {
                layer: name.to_owned(),
                ..problem
            });
            let text = String::from_utf8_lossy(text);
            let layer = LayerText::new(name, [("", text.as_ref())]);
            return Failure::broken(problems.collect(), &[layer]).and(NOT_SAVED);
        }
    };
    Failure::NotDone(text)
}

/// Nothing has that id: the nearest that are there.
pub(crate) fn no_entry(own: &OwnLibrary, id: &str) -> Failure {
    let ids: Vec<String> = own
        .stack
        .layers
        .iter()
        .flat_map(|layer| &layer.files)
        .flat_map(names_in)
        .collect();
    let near = knowledge::nearest(id, ids.iter().map(String::as_str), 5);
    let help = if near.is_empty() {
        "fairwhy drills \"what you see\" finds entries by words".to_owned()
    } else {
        format!("the nearest ids: {}", near.join(", "))
    };
    Failure::NotUnderstood(format!("error: no entry \"{id}\"\n  help: {help}"))
}
