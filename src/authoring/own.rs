//! The library that a coach writes to, among all that is read with it.

use super::checked::check;
use super::draft::{Draft, DraftError};
use super::file_entries::{find_entry, holds_id, with_entry, without_entry};
use super::keys::without_item;
use super::save::{HeldFolder, Over, SaveError, Saved, sha256};
use super::{Checked, EntryKind};
use crate::knowledge::{
    FileText, LayerText, LibraryFile, Problem, Severity, Stack, Status, Wanted, library_file,
    library_text,
};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// The layers a coach works on, and which of them is written to.
#[derive(Debug)]
pub struct OwnLibrary {
    wanted: Wanted,
    /// All layers.
    pub stack: Stack,
    /// The place among them of the one to write to.
    pub at: usize,
    /// Its folder.
    pub folder: PathBuf,
}

/// An entry and the file it stands in.
#[derive(Debug)]
pub struct EntryInFile {
    /// What it is.
    pub kind: EntryKind,
    /// The place of its layer.
    pub layer: usize,
    /// Its file.
    pub file: FileText,
    /// What the file says, and the entry alone; `None` when the file cannot be read.
    pub read: Option<(LibraryFile, LibraryFile)>,
}

impl EntryInFile {
    /// How to put something in the place of the file as it was read.
    #[must_use]
    pub fn over(&self) -> Over {
        over(&self.file)
    }
}

fn over(file: &FileText) -> Over {
    Over::This(sha256(file.text.as_bytes()))
}

/// Why a draft has no place in the library.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PlaceError {
    /// There is an entry of its id, and it was not said to replace it.
    #[error("{} `{id}` is there already, in {file}", kind.as_str())]
    Taken {
        /// What is there.
        kind: EntryKind,
        /// Its id.
        id: String,
        /// Its file.
        file: String,
    },
    /// There is something else of its id.
    #[error("`{id}` is a {}, and an id is never used for something else", kind.as_str())]
    OtherKind {
        /// What is there.
        kind: EntryKind,
        /// What was to be put there.
        new: EntryKind,
        /// The id of both.
        id: String,
    },
    /// Its entries would go into two files.
    #[error("the entries stand in two files, {first} and {second}")]
    TwoFiles {
        /// One of them.
        first: String,
        /// The other.
        second: String,
    },
    /// Another entry of the file would be gone.
    #[error("{file} holds `{id}` too, which would be gone")]
    Loses {
        /// The file.
        file: String,
        /// The other entry.
        id: String,
    },
    /// The id was retired.
    #[error("`{id}` was retired for `{heir}`, and a retired id is not used again")]
    Retired {
        /// The id.
        id: String,
        /// Its successor.
        heir: String,
    },
    /// A link, source or case of another layer.
    #[error("the {} `{id}` stands in {file} of {layer}, and cannot be replaced from here", kind.as_str())]
    NotAlone {
        /// What it is.
        kind: EntryKind,
        /// Its name.
        id: String,
        /// The file.
        file: String,
        /// The layer.
        layer: String,
    },
}

impl OwnLibrary {
    /// Reads every layer; the own one need not be there yet.
    ///
    /// # Errors
    ///
    /// What keeps a folder that was asked for from being read.
    pub fn open(wanted: Wanted, folder: &Path) -> Result<Self, Vec<Problem>> {
        let mut stack = Stack::read(&wanted)?;
        let at = stack.own(folder);
        Ok(Self {
            wanted,
            stack,
            at,
            folder: folder.to_owned(),
        })
    }

    /// The layer to write to.
    #[must_use]
    pub fn layer(&self) -> &LayerText {
        &self.stack.layers[self.at]
    }

    /// The entry that stands for an id: the own one first, then the uppermost below it. A source or a case
    /// may have the id of another entry, which goes before it.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<EntryInFile> {
        let others = (0..self.stack.layers.len())
            .rev()
            .filter(|at| *at != self.at);
        let mut layers = std::iter::once(self.at).chain(others);
        layers
            .clone()
            .find_map(|at| self.find_among(at, id, EntryKind::ALL))
            .or_else(|| layers.find_map(|at| self.find_among(at, id, EntryKind::FOUND)))
    }

    /// The same in one layer, also when its file cannot be read.
    #[must_use]
    pub fn find_in(&self, at: usize, id: &str) -> Option<EntryInFile> {
        self.find_among(at, id, EntryKind::ALL)
            .or_else(|| self.find_among(at, id, EntryKind::FOUND))
    }

    fn find_among(&self, at: usize, id: &str, kinds: &[EntryKind]) -> Option<EntryInFile> {
        let broken = self.stack.broken.iter().filter(|_| at == self.at);
        let holding = self.stack.layers[at].files.iter().chain(broken);
        // Names of links are made up of two ids, so their text holds only the parts.
        let part = id.split("-to-").next().unwrap_or(id);
        let mut holding = holding.filter(|file| file.text.contains(part));
        holding.find_map(|file| {
            let (kind, read) = match library_file(&file.text) {
                Ok(read) => {
                    let (kind, alone) = find_entry(&read, id, kinds)?;
                    (kind, Some((read, alone)))
                }
                Err(_) => {
                    let kind = holds_id(&file.text, id).filter(|kind| kinds.contains(kind))?;
                    (kind, None)
                }
            };
            Some(EntryInFile {
                kind,
                layer: at,
                file: file.clone(),
                read,
            })
        })
    }

    /// The text to start a change of an entry from, where it is to go, and what may be there. An entry
    /// of another layer comes alone, with `replaces:` set.
    ///
    /// # Errors
    ///
    /// [`PlaceError::NotAlone`].
    pub fn opened(
        &self,
        found: &EntryInFile,
        id: &str,
    ) -> Result<(String, String, Over), PlaceError> {
        if found.layer == self.at {
            let file = &found.file;
            return Ok((file.text.to_string(), file.path.clone(), found.over()));
        }
        let alone = found.read.as_ref().map(|(_, alone)| alone);
        let draft = alone.and_then(|alone| Draft::from_file(found.kind, alone).ok());
        let Some(mut draft) = draft.filter(|draft| !draft.entries().is_empty()) else {
            return Err(PlaceError::NotAlone {
                kind: found.kind,
                id: id.to_owned(),
                file: found.file.path.clone(),
                layer: self.stack.layers[found.layer].name.clone(),
            });
        };
        draft.set_replaces(id);
        Ok((draft.text().to_owned(), draft.path(), Over::Nothing))
    }

    /// A changed entry in the place of the one that was found: the draft, its file, and what may be there.
    /// In the own layer the rest of the file stays; an entry of another layer comes alone, and replaces it.
    ///
    /// # Errors
    ///
    /// When `text` is no library file with that one entry.
    pub fn in_place(
        &self,
        found: &EntryInFile,
        id: &str,
        text: &str,
    ) -> Result<(Draft, String, Over), DraftError> {
        let mut draft = Draft::from_text(found.kind, text)?;
        if found.layer != self.at {
            draft.set_replaces(id);
            return Ok((draft.clone(), draft.path(), Over::Nothing));
        }
        if let Some((whole, _)) = &found.read {
            let file = with_entry(whole, found.kind, id, draft.file());
            draft = Draft::from_file(found.kind, &file)?;
        }
        Ok((draft, found.file.path.clone(), found.over()))
    }

    /// Settles status and place of a draft: which file of the library it becomes, and what may be
    /// there.
    ///
    /// # Errors
    ///
    /// See [`PlaceError`].
    pub fn place(
        &self,
        draft: &mut Draft,
        status: Option<Status>,
        replace: bool,
    ) -> Result<(String, Over), PlaceError> {
        match status {
            Some(status) => draft.set_status(status),
            None => draft.set_on_trial(),
        }
        let Some(found) = self.standing(draft, replace)? else {
            let path = draft.path();
            let there = self.layer().files.iter().find(|file| file.path == path);
            return Ok(match there {
                Some(file) if replace => (path, over(file)),
                _ => (path, Over::Nothing),
            });
        };
        keeps_all(&found, draft)?;
        // What the old one stood in the place of, the new one must too, and is asked for no twice.
        for (_, id) in draft.entries() {
            let in_layer = |at| self.find_among(at, &id, EntryKind::ALL).is_some();
            if in_layer(self.at) && (0..self.at).any(in_layer) {
                draft.set_replaces(&id);
            }
        }
        Ok((found.file.path.clone(), found.over()))
    }

    /// What of this layer a draft would stand in the place of, all of it in one file.
    fn standing(
        &self,
        draft: &mut Draft,
        replace: bool,
    ) -> Result<Option<EntryInFile>, PlaceError> {
        let mut ids = draft.entries();
        if draft.kind() == EntryKind::Link {
            let names = draft.names().into_iter();
            ids.extend(names.map(|name| (EntryKind::Link, name)));
        }
        let mut standing: Option<EntryInFile> = None;
        for (kind, id) in &ids {
            let in_layer = |at| self.find_among(at, id, EntryKind::ALL);
            let Some(found) = in_layer(self.at) else {
                let below = (0..self.at).rev().find_map(in_layer);
                if replace && *kind != EntryKind::Link && below.is_some() {
                    draft.set_replaces(id);
                }
                continue;
            };
            let (there, id, file) = (found.kind, id.clone(), found.file.path.clone());
            if !replace {
                let kind = there;
                return Err(PlaceError::Taken { kind, id, file });
            }
            if there != *kind {
                let (kind, new) = (there, *kind);
                return Err(PlaceError::OtherKind { kind, new, id });
            }
            match &standing {
                Some(first) if first.file.path != file => {
                    let (first, second) = (first.file.path.clone(), file);
                    return Err(PlaceError::TwoFiles { first, second });
                }
                Some(_) => {}
                None => standing = Some(found),
            }
        }
        Ok(standing)
    }

    /// What is wrong with putting `draft` at `path`, or what it would change; `name` is what the coach
    /// calls the draft. Other files of the own library that have a slip in them are left out, and are
    /// in [`Stack::left_out`] from then on.
    ///
    /// # Errors
    ///
    /// The errors, those of the draft at its lines as given, and the layers to show them with.
    pub fn check(
        &mut self,
        draft: &Draft,
        path: &str,
        name: &str,
    ) -> Result<Checked, (Vec<Problem>, Vec<LayerText>)> {
        let text = draft.text().to_owned();
        self.check_text(path, Some(text)).map_err(|problems| {
            let own = self.layer().name.clone();
            let here = |problem: &Problem| problem.layer == own && problem.file == path;
            let as_given = |problem: Problem| Problem {
                layer: name.to_owned(),
                ..draft.as_given(problem)
            };
            let problems = problems.into_iter();
            let problems = problems
                .map(|problem| {
                    if here(&problem) {
                        as_given(problem)
                    } else {
                        problem
                    }
                })
                .collect();
            let mut layers = self.stack.layers.clone();
            layers.push(draft.given_layer(name));
            (problems, layers)
        })
    }

    /// The same for a file's whole text, or for the file being gone.
    ///
    /// # Errors
    ///
    /// The errors.
    pub fn check_text(
        &mut self,
        path: &str,
        text: Option<String>,
    ) -> Result<Checked, Vec<Problem>> {
        let file = FileText {
            path: path.to_owned(),
            text: text.unwrap_or_default().into(),
        };
        let own = self.layer().name.clone();
        let elsewhere = |problem: &Problem| {
            problem.severity == Severity::Error && problem.layer == own && problem.file != path
        };
        let files = [file];
        let checked = match check(&self.stack.layers, self.at, &files) {
            Err(problems) if problems.iter().any(elsewhere) => {
                // What is broken without the change is left out; what the change breaks is not.
                let _ = self.stack.load();
                check(&self.stack.layers, self.at, &files)
            }
            other => other,
        };
        checked.map_err(|mut problems| {
            problems.retain(|problem| problem.severity == Severity::Error);
            problems
        })
    }

    /// Saves a draft that was checked, unless the library has changed so that it no longer fits.
    ///
    /// # Errors
    ///
    /// See [`OwnError`].
    pub fn save(
        &mut self,
        draft: &Draft,
        path: &str,
        name: &str,
        over: &Over,
    ) -> Result<Saved, OwnError> {
        let library = HeldFolder::open(&self.folder)?;
        if self.changed_under(path)? {
            self.check(draft, path, name)
                .map_err(|(problems, layers)| OwnError::Broken(problems, layers))?;
        }
        Ok(library.put(path, draft.text(), over)?)
    }

    /// Takes a file out of the library, or puts `text` in its place; what stood there is kept beside.
    ///
    /// # Errors
    ///
    /// See [`OwnError`].
    pub fn change(
        &mut self,
        path: &str,
        text: Option<&str>,
        over: &Over,
    ) -> Result<Saved, OwnError> {
        let library = HeldFolder::open(&self.folder)?;
        if self.changed_under(path)? {
            self.check_text(path, text.map(str::to_owned))
                .map_err(|problems| OwnError::Broken(problems, self.stack.layers.clone()))?;
        }
        Ok(match text {
            Some(text) => library.put(path, text, over)?,
            None => library.take_out(path, over)?,
        })
    }

    /// Reads the layers anew, since somebody may have saved something between the check and the hold;
    /// whether they did, but for the file at `path`, which the save itself looks at.
    fn changed_under(&mut self, path: &str) -> Result<bool, OwnError> {
        let mut now =
            Stack::read(&self.wanted).map_err(|problems| OwnError::Broken(problems, Vec::new()))?;
        let at = now.own(&self.folder);
        if !self.stack.broken.is_empty() {
            let _ = now.load();
        }
        if now.layers == self.stack.layers {
            return Ok(false);
        }
        let before = std::mem::replace(&mut self.stack, now);
        let was_at = std::mem::replace(&mut self.at, at);
        let was = |stack: &Stack, at: usize| {
            let mut files = stack.layers.get(at)?.files.iter().chain(&stack.broken);
            files.find(|file| file.path == path).cloned()
        };
        Ok(was(&before, was_at) == was(&self.stack, self.at))
    }
}

/// Why a change was not saved.
#[derive(Debug, Error)]
pub enum OwnError {
    /// It could not be put on the disk.
    #[error(transparent)]
    Save(#[from] SaveError),
    /// The library has changed, and the change no longer fits; with the layers to show it with.
    #[error("the library has errors with the change in it")]
    Broken(Vec<Problem>, Vec<LayerText>),
}

/// A file that is replaced whole must not take other entries with it, and a retired id stays so.
fn keeps_all(found: &EntryInFile, draft: &Draft) -> Result<(), PlaceError> {
    let Some((old, alone)) = &found.read else {
        return Ok(());
    };
    let kept = library_file(draft.text()).unwrap_or_default();
    let kept: Vec<&str> = kept.ids().collect();
    if let Some(other) = old.ids().find(|id| !kept.contains(id)) {
        return Err(PlaceError::Loses {
            file: found.file.path.clone(),
            id: other.to_owned(),
        });
    }
    let was = alone
        .drills
        .iter()
        .filter_map(|drill| drill.retired_for.as_ref().map(|heir| (&drill.id, heir)));
    let conditions = [&alone.outcomes, &alone.faults, &alone.causes]
        .into_iter()
        .flatten();
    let also =
        conditions.filter_map(|entry| entry.retired_for.as_ref().map(|heir| (&entry.id, heir)));
    match was.chain(also).next() {
        Some((id, heir)) => Err(PlaceError::Retired {
            id: id.clone(),
            heir: heir.clone(),
        }),
        None => Ok(()),
    }
}

/// An entry taken out of the file it stands in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remainder {
    /// What is left of the file; `None` when it held nothing else.
    pub text: Option<String>,
    /// Whether it had to be written anew, so that comments in it are gone.
    pub rewritten: bool,
}

/// A file without one of its entries.
///
/// # Errors
///
/// A file that cannot be read, which only a person can mend.
pub fn without(found: &EntryInFile, id: &str) -> Result<Remainder, DraftError> {
    let Some((file, _)) = &found.read else {
        let problems = library_file(&found.file.text).err().unwrap_or_default();
        return Err(DraftError::Problems(problems));
    };
    let rest = without_entry(file, found.kind, id);
    if rest == LibraryFile::default() {
        return Ok(Remainder {
            text: None,
            rewritten: false,
        });
    }
    let cut = without_item(&found.file.text, id, |text| {
        library_file(text).is_ok_and(|read| read == rest)
    });
    let rewritten = cut.is_none();
    let text = cut.or_else(|| library_text(&rest).ok());
    Ok(Remainder { text, rewritten })
}
