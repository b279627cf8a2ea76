//! The coach's own library at hand: where it is, what a draft would change in it, and saving.

use super::layers::{Stack, stack};
use super::{Failure, Globals, home};
use crate::authoring::{
    Checked, Draft, DraftError, EntryKind, Library, Over, SaveError, Saved, check, find_entry,
    holds_id, names_in, sha256,
};
use crate::knowledge::{
    self, FileText, LayerText, LibraryFile, Paint, Problem, Severity, library_file, report_problems,
};
use clap::Args;
use std::path::PathBuf;

/// Where own entries go.
#[derive(Clone, Debug, Args)]
pub(crate) struct ToArgs {
    /// The library to write to (left out: your own, below FAIRWHY_HOME or the platform's data folder)
    #[arg(long, value_name = "DIR")]
    to: Option<PathBuf>,
}

/// The layers a command works on, and which of them it may write to.
pub(crate) struct Own<'g> {
    globals: &'g Globals,
    /// All layers.
    pub stack: Stack,
    /// The place among them of the one to write to.
    pub at: usize,
    /// Its folder.
    pub folder: PathBuf,
}

/// An entry and the file it stands in.
pub(crate) struct Found {
    /// What it is.
    pub kind: EntryKind,
    /// The place of its layer.
    pub layer: usize,
    /// Its file.
    pub file: FileText,
    /// What the file says, and the entry alone; `None` when the file cannot be read.
    pub read: Option<(LibraryFile, LibraryFile)>,
}

impl<'g> Own<'g> {
    /// Reads every layer; the own one need not be there yet.
    pub fn open(globals: &'g Globals, to: &ToArgs) -> Result<Self, Failure> {
        let folder = match &to.to {
            Some(to) => to.clone(),
            None => home::own_library()?,
        };
        let mut stack = match stack(globals, None) {
            // With nothing else to read, the library that is written to stands alone.
            Err(Failure::NotUnderstood(_)) if to.to.is_some() => Stack::default(),
            other => other?,
        };
        let at = stack.with(&folder)?;
        Ok(Self {
            globals,
            stack,
            at,
            folder,
        })
    }

    /// The layer to write to.
    pub fn layer(&self) -> &LayerText {
        &self.stack.layers[self.at]
    }

    /// The entry that stands for an id: the own one first, then the uppermost below it.
    pub fn find(&self, id: &str) -> Option<Found> {
        let others = (0..self.stack.layers.len())
            .rev()
            .filter(|at| *at != self.at);
        std::iter::once(self.at)
            .chain(others)
            .find_map(|at| self.find_in(at, id))
    }

    /// The entry with an id in one layer.
    pub fn find_in(&self, at: usize, id: &str) -> Option<Found> {
        let holding = self.stack.layers[at].files.iter();
        // Names of links are made up of two ids, so their text holds only the parts.
        let part = id.split("-to-").next().unwrap_or(id);
        let mut holding = holding.filter(|file| file.text.contains(part));
        holding.find_map(|file| {
            let (kind, read) = match library_file(&file.text) {
                Ok(read) => {
                    let (kind, alone) = find_entry(&read, id)?;
                    (kind, Some((read, alone)))
                }
                Err(_) => (holds_id(&file.text, id)?, None),
            };
            Some(Found {
                kind,
                layer: at,
                file: file.clone(),
                read,
            })
        })
    }

    /// What is wrong with putting `draft` at `path`, or what it would change; `name` is what the
    /// coach calls the draft.
    pub fn check(&self, draft: &Draft, path: &str, name: &str) -> Result<Checked, String> {
        let file = FileText {
            path: path.to_owned(),
            text: draft.text().to_owned(),
        };
        check(&self.stack.layers, self.at, &[file]).map_err(|problems| {
            let errors = problems
                .into_iter()
                .filter(|problem| problem.severity == Severity::Error);
            let here =
                |problem: &Problem| problem.layer == self.layer().name && problem.file == path;
            let errors: Vec<Problem> = errors
                .map(|problem| {
                    if here(&problem) {
                        named(draft.as_given(problem), name)
                    } else {
                        problem
                    }
                })
                .collect();
            let mut layers = self.stack.layers.clone();
            layers.push(draft.given_layer(name));
            let page = report_problems(&errors, &layers, Paint::Plain);
            format!("{}\nNothing was saved.", page.trim_end())
        })
    }

    /// Saves a draft that was checked, unless the library has changed so that it no longer fits.
    pub fn save(
        &mut self,
        draft: &Draft,
        path: &str,
        name: &str,
        over: &Over,
    ) -> Result<Saved, Failure> {
        let library = Library::open(&self.folder).map_err(not_saved)?;
        // Somebody may have saved something between the check and the hold.
        let mut now = match stack(self.globals, None) {
            Err(Failure::NotUnderstood(_)) => Stack::default(),
            other => other?,
        };
        let at = now.with(&self.folder)?;
        if now.layers != self.stack.layers {
            let before = std::mem::replace(&mut self.stack, now);
            self.at = at;
            let was = |stack: &Stack| {
                let layer = stack
                    .layers
                    .iter()
                    .find(|layer| layer.name == self.layer().name);
                layer
                    .and_then(|layer| layer.files.iter().find(|file| file.path == path))
                    .cloned()
            };
            if was(&before) == was(&self.stack) {
                self.check(draft, path, name).map_err(Failure::NotDone)?;
            }
        }
        library.put(path, draft.text(), over).map_err(not_saved)
    }
}

/// How to put something in the place of a file as it was read.
pub(crate) fn over(file: &FileText) -> Over {
    Over::This(sha256(file.text.as_bytes()))
}

/// A save that failed, in words.
pub(crate) fn not_saved(error: SaveError) -> Failure {
    let mut text = format!("error: {}", said(&error.to_string()));
    if let SaveError::ReadBack { problems, .. } = &error {
        for problem in problems {
            text.push_str(&format!("\n  line {}: {}", problem.line, problem.message));
        }
    }
    Failure::NotDone(format!(
        "{text}\n  help: {}\nNothing was saved.",
        error.help()
    ))
}

/// What the system says, without its error numbers.
pub(crate) fn said(text: &str) -> String {
    match text.find(" (os error") {
        Some(at) => text[..at].to_owned(),
        None => text.to_owned(),
    }
}

/// A draft that could not be read, in words.
pub(crate) fn unreadable(error: DraftError, kind: EntryKind, name: &str, text: &[u8]) -> String {
    let noun = kind.as_str();
    match &error {
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
            let problems: Vec<Problem> = problems
                .iter()
                .cloned()
                .map(|problem| named(problem, name))
                .collect();
            let text = String::from_utf8_lossy(text);
            let layer = LayerText::new(name, [("", text.as_ref())]);
            let page = report_problems(&problems, &[layer], Paint::Plain);
            format!("{}\nNothing was saved.", page.trim_end())
        }
    }
}

/// A problem of a draft, under the name the coach gave it.
fn named(problem: Problem, name: &str) -> Problem {
    Problem {
        layer: name.to_owned(),
        ..problem
    }
}

/// Nothing has that id: the nearest that are there, or the file to open when it is a source or a case.
pub(crate) fn no_entry(own: &Own<'_>, id: &str) -> Failure {
    for (layer, folder) in own.stack.layers.iter().zip(&own.stack.folders) {
        let holding = layer.files.iter().filter(|file| file.text.contains(id));
        for file in holding {
            let Ok(read) = library_file(&file.text) else {
                continue;
            };
            let sort = if read.sources.iter().any(|source| source.id == id) {
                "source"
            } else if read.cases.iter().any(|case| case.id == id) {
                "case"
            } else {
                continue;
            };
            let help = match folder {
                Some(folder) => format!(
                    "open {} yourself, then run fairwhy check",
                    folder.join(&file.path).display()
                ),
                None => {
                    format!("it ships with fairwhy; write a {sort} of your own under another id")
                }
            };
            return Failure::NotUnderstood(format!(
                "error: `{id}` is a {sort}, and only drills, faults, causes, outcomes and links are changed from here\n  help: {help}"
            ));
        }
    }
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
