//! A bundle laid into a folder: what is new goes in, what differs is put beside, nothing is lost.

use super::save::{Library, SaveError, in_the_making, sync_folder};
use crate::knowledge::FileText;
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
/// # Errors
///
/// A link or something else in the way, or a file that cannot be read.
pub fn plan_unpack(folder: &Path, files: &[FileText]) -> Result<Vec<Planned>, UnpackError> {
    let fate = |file: &FileText| -> Result<Planned, UnpackError> {
        Ok(Planned {
            path: file.path.clone(),
            fate: fate(folder, file)?,
        })
    };
    files.iter().map(fate).collect()
}

/// Unpacks into a folder.
///
/// All files are written beside their places first, so that a full disk is met before the first of
/// them is put in place; each is then put in place whole.
///
/// # Errors
///
/// As [`plan_unpack`], and whatever the system refuses.
pub fn unpack(library: &Library, files: &[FileText]) -> Result<Vec<Planned>, UnpackError> {
    let plan = plan_unpack(library.folder(), files)?;
    let mut made = Vec::new();
    for (file, planned) in files.iter().zip(&plan) {
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

fn fate(folder: &Path, file: &FileText) -> Result<Fate, UnpackError> {
    let mut place = folder.to_owned();
    let parts: Vec<&str> = file.path.split('/').collect();
    for (number, part) in parts.iter().enumerate() {
        place.push(part);
        let last = number + 1 == parts.len();
        match fs::symlink_metadata(&place) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Fate::New),
            Err(error) => {
                return Err(UnpackError::System {
                    path: place,
                    error,
                    done: Vec::new(),
                });
            }
            Ok(found) if found.is_symlink() => return Err(UnpackError::Link(place)),
            Ok(found) if last && found.is_file() => {}
            Ok(found) if !last && found.is_dir() => {}
            Ok(_) => return Err(UnpackError::InTheWay(place)),
        }
    }
    let same = |path: &Path| match fs::read(path) {
        Ok(bytes) => Ok(bytes == file.text.as_bytes()),
        Err(error) => Err(UnpackError::System {
            path: path.to_owned(),
            error,
            done: Vec::new(),
        }),
    };
    if same(&place)? {
        return Ok(Fate::Same);
    }
    let mut number = 1_u32;
    loop {
        // The last ending decides what the reader reads, and a text file opens anywhere.
        let name = format!("{}.incoming-{number}.txt", file.path);
        let beside = folder.join(&name);
        match fs::symlink_metadata(&beside) {
            Err(_) => return Ok(Fate::Beside(name)),
            Ok(found) if found.is_file() && same(&beside)? => return Ok(Fate::AlreadyBeside(name)),
            Ok(_) => number += 1,
        }
    }
}
