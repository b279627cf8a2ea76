//! A bundle laid into a folder: what is new goes in, what differs is put beside, nothing is lost.

use super::check::with_files;
use super::draft::names_in;
use super::save::{Library, SaveError, in_the_making, sync_folder};
use crate::knowledge::{FileText, LayerText, Problem, Severity, Strictness, load};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// What becomes of one file of a bundle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fate {
    /// There was none; it is put in its place.
    New,
    /// The same file is there already.
    Same,
    /// Another file is there, and stays; this one is put beside it, under a name that is not read.
    Beside(String),
    /// Another file is there, and this one already stands beside it.
    AlreadyBeside(String),
}

/// One file of a bundle, and what becomes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Planned {
    /// Its path in the bundle, and in the folder.
    pub path: String,
    /// What becomes of it.
    pub fate: Fate,
    /// Why it cannot stand with what is there, when it cannot.
    pub why: Option<String>,
}

/// A bundle on its way into a folder that is, or will be, a layer.
#[derive(Clone, Copy, Debug)]
pub struct Unpacking<'a> {
    /// Where it goes.
    pub folder: &'a Path,
    /// The whole library, the folder's own layer included, perhaps empty.
    pub layers: &'a [LayerText],
    /// The folder's own layer.
    pub own: usize,
    /// The files of the bundle.
    pub files: &'a [FileText],
}

/// Why a bundle was not unpacked.
#[derive(Debug, Error)]
pub enum UnpackError {
    /// A part of a path is a link in the folder.
    #[error("{} is a link, and links are not followed", .0.display())]
    Link(PathBuf),
    /// A part of a path is in the way: a folder where a file belongs, or the reverse.
    #[error("{} is in the way", .0.display())]
    InTheWay(PathBuf),
    /// The library is broken as it is, so nothing can be said about what fits into it.
    #[error("the library has errors already")]
    Broken(Vec<Problem>),
    /// The library is held, or cannot be opened.
    #[error(transparent)]
    Library(#[from] SaveError),
    /// The system refused.
    #[error("{} cannot be written: {error}", path.display())]
    System {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
        /// Files that were put in place before it, each of them whole.
        done: Vec<String>,
    },
}

/// What unpacking into a folder would do; nothing is written.
///
/// A file that cannot stand with what is there (an entry of that id is there already, an entry that
/// it names is not) is put beside its place, where it is not read, so that the library stays whole.
///
/// # Errors
///
/// A library that is broken already, a link or something else in the way, or a file that cannot be
/// read.
pub fn plan_unpack(unpacking: &Unpacking<'_>) -> Result<Vec<Planned>, UnpackError> {
    let mut plan = Vec::new();
    for file in unpacking.files {
        plan.push(Planned {
            path: file.path.clone(),
            fate: fate(unpacking.folder, file, false)?,
            why: None,
        });
    }
    let misfits = misfits(unpacking, &plan)?;
    for (file, planned) in unpacking.files.iter().zip(&mut plan) {
        planned.why = match planned.fate {
            Fate::Beside(_) | Fate::AlreadyBeside(_) => Some("another file is there".to_owned()),
            _ => misfits.get(&file.path).cloned(),
        };
        if planned.fate == Fate::New && planned.why.is_some() {
            planned.fate = fate(unpacking.folder, file, true)?;
        }
    }
    Ok(plan)
}

/// New files that would break the library, with what each would break.
fn misfits(
    unpacking: &Unpacking<'_>,
    plan: &[Planned],
) -> Result<BTreeMap<String, String>, UnpackError> {
    let Unpacking {
        layers, own, files, ..
    } = *unpacking;
    let layer = &layers[own];
    let mut found: BTreeMap<String, String> = BTreeMap::new();
    let mut taken: BTreeSet<String> = BTreeSet::new();
    for file in &layer.files {
        taken.extend(names_in(file));
    }
    let new = files
        .iter()
        .zip(plan)
        .filter(|(_, planned)| planned.fate == Fate::New);
    let new: Vec<&FileText> = new.map(|(file, _)| file).collect();
    for file in &new {
        if let Some(id) = names_in(file).into_iter().find(|id| taken.contains(id)) {
            found.insert(
                file.path.clone(),
                format!("an entry `{id}` is there already"),
            );
        }
    }
    // What is left is checked as a whole; a file that is left out can leave another without what
    // it names, so this goes on until nothing more is left out.
    loop {
        let fitting = new.iter().filter(|file| !found.contains_key(&file.path));
        let fitting: Vec<FileText> = fitting.map(|file| (*file).clone()).collect();
        let Err(problems) = load(&with_files(layers, own, &fitting), Strictness::ErrorsOnly) else {
            return Ok(found);
        };
        let errors = problems
            .iter()
            .filter(|problem| problem.severity == Severity::Error);
        let blamed: Vec<(String, String)> = errors
            .filter(|error| {
                error.layer == layer.name && fitting.iter().any(|file| file.path == error.file)
            })
            .map(|error| (error.file.clone(), error.message.clone()))
            .collect();
        if blamed.is_empty() {
            // Some errors show in another file than the one that brought them, such as a circle.
            if fitting.is_empty() || load(layers, Strictness::ErrorsOnly).is_err() {
                return Err(UnpackError::Broken(problems));
            }
            let why = problems
                .first()
                .map(|problem| problem.message.clone())
                .unwrap_or_default();
            for file in fitting {
                found.insert(file.path, why.clone());
            }
            continue;
        }
        for (path, why) in blamed {
            found.entry(path).or_insert(why);
        }
    }
}

/// Unpacks into a folder.
///
/// All files are written beside their places first, so that a full disk is met before the first of
/// them is put in place; each is then put in place whole.
///
/// # Errors
///
/// As [`plan_unpack`], and whatever the system refuses.
pub fn unpack(library: &Library, unpacking: &Unpacking<'_>) -> Result<Vec<Planned>, UnpackError> {
    let plan = plan_unpack(unpacking)?;
    let mut made = Vec::new();
    for (file, planned) in unpacking.files.iter().zip(&plan) {
        let name = match &planned.fate {
            Fate::New => &planned.path,
            Fate::Beside(name) => name,
            Fate::Same | Fate::AlreadyBeside(_) => continue,
        };
        let place = library.folder().join(name);
        let parent = place.parent().unwrap_or(library.folder());
        let made_one = fs::create_dir_all(parent).and_then(|()| {
            let mut part = in_the_making(parent)?;
            part.write_all(file.text.as_bytes())?;
            part.as_file().sync_all()?;
            Ok(part)
        });
        match made_one {
            Ok(part) => made.push((part, place, name)),
            Err(error) => {
                return Err(UnpackError::System {
                    path: place,
                    error,
                    done: Vec::new(),
                });
            }
        }
    }
    let mut done = Vec::new();
    for (part, place, name) in made {
        let put = part.persist_noclobber(&place).map_err(|error| error.error);
        let put = put.and_then(|_| sync_folder(place.parent().unwrap_or(library.folder())));
        let put = put.and_then(|()| fs::read(&place));
        if let Err(error) = put {
            return Err(UnpackError::System {
                path: place,
                error,
                done,
            });
        }
        done.push(name.clone());
    }
    Ok(plan)
}

/// What becomes of one file by what is on the disk; `beside` puts it beside its place even if that
/// is free.
fn fate(folder: &Path, file: &FileText, beside: bool) -> Result<Fate, UnpackError> {
    let system = |path: &Path, error| UnpackError::System {
        path: path.to_owned(),
        error,
        done: Vec::new(),
    };
    let mut place = folder.to_owned();
    let mut free = false;
    let parts: Vec<&str> = file.path.split('/').collect();
    for (number, part) in parts.iter().enumerate() {
        place.push(part);
        let last = number + 1 == parts.len();
        match fs::symlink_metadata(&place) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                free = true;
                break;
            }
            Err(error) => return Err(system(&place, error)),
            Ok(found) if found.is_symlink() => return Err(UnpackError::Link(place)),
            Ok(found) if last && found.is_file() => {}
            Ok(found) if !last && found.is_dir() => {}
            Ok(_) => return Err(UnpackError::InTheWay(place)),
        }
    }
    let same = |path: &Path| match fs::read(path) {
        Ok(bytes) => Ok(bytes == file.text.as_bytes()),
        Err(error) => Err(system(path, error)),
    };
    if free && !beside {
        return Ok(Fate::New);
    }
    if !free && same(&place)? {
        return Ok(Fate::Same);
    }
    let mut number = 1_u32;
    loop {
        // The last ending decides what the reader reads, and a text file opens anywhere.
        let name = format!("{}.incoming-{number}.txt", file.path);
        let other = folder.join(&name);
        match fs::symlink_metadata(&other) {
            Err(_) => return Ok(Fate::Beside(name)),
            Ok(found) if found.is_file() && same(&other)? => {
                return Ok(Fate::AlreadyBeside(name));
            }
            Ok(_) => number += 1,
        }
    }
}
