//! A bundle laid into a folder: what is new goes in, what differs is put beside, nothing is lost.

use super::check::with_files;
use super::draft::names_in;
use super::save::{Library, SaveError, beside, in_the_making, sha256, sync_folder};
use crate::knowledge::folder::LAYING;
use crate::knowledge::{FileText, LayerText, Problem, Severity, Strictness, load};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;
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
    },
    /// What came back from the disk is not what was written.
    #[error("{} did not come back from the disk as it was written", .0.display())]
    ReadBack(PathBuf),
}

/// A moment of unpacking at which the machine may let it down; see [`unpack_with`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnpackStep {
    /// A file is about to be written beside its place.
    Write,
    /// The list of what is being laid is about to be put in its place.
    List,
    /// A file is about to be put in its place, where it is not read as long as it is listed.
    Put,
    /// The list is about to be taken away, by which all of them count.
    Unlist,
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

/// Unpacks into a folder, all of it or nothing.
///
/// All files are written beside their places first, so that a full disk is met early. A list of them
/// is then put into the folder, which keeps the reader from them while they are put in place, and
/// taken away at the end: whoever reads the folder, at whatever moment, meets none of them or all.
/// What a program that was killed leaves behind is taken out by [`Library::open`].
///
/// # Errors
///
/// As [`plan_unpack`], and whatever the system refuses; the folder is then as it was.
pub fn unpack(library: &Library, unpacking: &Unpacking<'_>) -> Result<Vec<Planned>, UnpackError> {
    unpack_with(library, unpacking, &mut |_| Ok(()))
}

/// As [`unpack`], calling `before` ahead of each step; an error from it is taken for one of the
/// system, so that a test can let every step fail.
///
/// # Errors
///
/// Those of [`unpack`].
pub fn unpack_with(
    library: &Library,
    unpacking: &Unpacking<'_>,
    before: &mut dyn FnMut(UnpackStep) -> io::Result<()>,
) -> Result<Vec<Planned>, UnpackError> {
    let plan = plan_unpack(unpacking)?;
    let laid = lay(library, unpacking.files, &plan, before);
    if laid.is_err() {
        library.take_back();
    }
    laid.map(|()| plan)
}

/// A file on its way: written beside its place, and not yet in it.
struct Part<'a> {
    part: NamedTempFile,
    place: PathBuf,
    name: &'a str,
    text: &'a str,
}

fn lay(
    library: &Library,
    files: &[FileText],
    plan: &[Planned],
    before: &mut dyn FnMut(UnpackStep) -> io::Result<()>,
) -> Result<(), UnpackError> {
    let refused = |path: &Path| {
        let path = path.to_owned();
        move |error| UnpackError::System { path, error }
    };
    let mut parts = Vec::new();
    for (file, planned) in files.iter().zip(plan) {
        let name = match &planned.fate {
            Fate::New => &planned.path,
            Fate::Beside(name) => name,
            Fate::Same | Fate::AlreadyBeside(_) => continue,
        };
        let place = library.folder().join(name);
        let made = before(UnpackStep::Write).and_then(|()| written(&place, &file.text));
        match made {
            Ok(part) => parts.push(Part {
                part,
                place,
                name,
                text: &file.text,
            }),
            Err(error) => {
                // Parts go by themselves, and then the folders that were made for them.
                let mut places: Vec<PathBuf> = parts.into_iter().map(|part| part.place).collect();
                places.push(place.clone());
                places.iter().for_each(|place| library.clear_empty(place));
                return Err(refused(&place)(error));
            }
        }
    }
    if parts.is_empty() {
        return Ok(());
    }
    let lines = parts.iter();
    let lines = lines.map(|part| format!("{} {}\n", sha256(part.text.as_bytes()), part.name));
    let list = library.folder().join(LAYING);
    let listed = before(UnpackStep::List)
        .and_then(|()| written(&list, &lines.collect::<String>()))
        .and_then(|part| part.persist(&list).map_err(|error| error.error))
        .and_then(|_| sync_folder(library.folder()));
    if let Err(error) = listed {
        let places: Vec<PathBuf> = parts.into_iter().map(|part| part.place).collect();
        places.iter().for_each(|place| library.clear_empty(place));
        return Err(refused(&list)(error));
    }
    for Part {
        part, place, text, ..
    } in parts
    {
        let put = before(UnpackStep::Put)
            .and_then(|()| part.persist_noclobber(&place).map_err(|error| error.error))
            .and_then(|_| sync_folder(place.parent().unwrap_or(library.folder())))
            .and_then(|()| fs::read(&place));
        match put {
            Ok(bytes) if bytes == text.as_bytes() => {}
            Ok(_) => return Err(UnpackError::ReadBack(place)),
            Err(error) => return Err(refused(&place)(error)),
        }
    }
    before(UnpackStep::Unlist)
        .and_then(|()| fs::remove_file(&list))
        .map_err(refused(&list))?;
    // They count now. If the power goes before this is on the disk, none of them does: no harm.
    let _ = sync_folder(library.folder());
    Ok(())
}

/// A text written beside a place and brought to the disk.
fn written(place: &Path, text: &str) -> io::Result<NamedTempFile> {
    let folder = place.parent().unwrap_or(place);
    fs::create_dir_all(folder)?;
    let mut part = in_the_making(folder)?;
    part.write_all(text.as_bytes())?;
    part.as_file().sync_all()?;
    Ok(part)
}

/// What becomes of one file by what is on the disk; `aside` puts it beside its place even if that
/// is free.
fn fate(folder: &Path, file: &FileText, aside: bool) -> Result<Fate, UnpackError> {
    let system = |path: &Path, error| UnpackError::System {
        path: path.to_owned(),
        error,
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
    if free && !aside {
        return Ok(Fate::New);
    }
    if !free && same(&place)? {
        return Ok(Fate::Same);
    }
    let mut number = 1_u32;
    loop {
        let name = beside(&file.path, number);
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
