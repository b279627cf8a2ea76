//! One file of a library, put where it belongs whole or not at all.
//!
//! A text is written beside its place under a name that the reader passes over, brought to the disk,
//! read back and understood, and only then renamed. Whoever reads the folder, at whatever moment,
//! meets the old file or the new one. What is replaced is kept beside it first.

use crate::knowledge::folder::Limits;
use crate::knowledge::{Problem, library_file};
use fs4::fs_std::FileExt;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use tempfile::NamedTempFile;
use thiserror::Error;

/// How long to wait for another program that is saving in the same library; a save takes
/// milliseconds, a full check of a large library about a second.
const PATIENCE: Duration = Duration::from_secs(5);

/// Files in the making; the reader passes over names that start with a dot.
const IN_THE_MAKING: &str = ".fairwhy-";
const IN_THE_MAKING_ENDS: &str = ".part";

/// What may be at the place where a file is to go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Over {
    /// Nothing: a file that is there is left alone, and the save fails.
    Nothing,
    /// The file with this SHA-256 (lowercase hex): it is kept beside its place. One that has been
    /// changed since is left alone, and the save fails.
    This(String),
}

/// A moment of a save at which the machine may let it down; see [`HeldFolder::put_with`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SaveMoment {
    /// The new text is about to be written beside its place.
    Write,
    /// It is about to be brought to the disk.
    Sync,
    /// It is about to be read back.
    ReadBack,
    /// What it replaces is about to be kept.
    Keep,
    /// It is about to be put in its place.
    Put,
    /// The folder is about to be brought to the disk.
    SyncFolder,
}

/// A file that was saved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Saved {
    /// Where it is.
    pub path: PathBuf,
    /// Where the one that stood there is kept.
    pub kept: Option<PathBuf>,
}

/// Why nothing was saved.
#[derive(Debug, Error)]
pub enum SaveError {
    /// The folder cannot be made or opened.
    #[error("the library {} cannot be opened: {error}", folder.display())]
    Folder {
        /// The library.
        folder: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// Another program holds the library.
    #[error("another fairwhy is saving in {}", folder.display())]
    Busy {
        /// The library.
        folder: PathBuf,
    },
    /// There is a file already.
    #[error("{} is there already", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The file is not the one that was read.
    #[error("{} was changed by somebody else in the meantime", path.display())]
    Changed {
        /// The file.
        path: PathBuf,
    },
    /// The place is a link, or lies behind one.
    #[error("{} is a link, and links are not followed", path.display())]
    Link {
        /// The link.
        path: PathBuf,
    },
    /// There is something that is no file, such as a folder or a device.
    #[error("{} is no file", path.display())]
    NoFile {
        /// What is there.
        path: PathBuf,
    },
    /// The system refused.
    #[error("{} cannot be written: {error}", path.display())]
    System {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// What came back from the disk is not what was written, or is no library file.
    #[error("{} did not come back from the disk as it was written", path.display())]
    ReadBack {
        /// The file.
        path: PathBuf,
        /// What the reader says, if it was read.
        problems: Vec<Problem>,
    },
}

/// A coach's library, held so that no other fairwhy writes to it until this is dropped.
///
/// The hold is the system's own lock on the folder (on Windows on a file in it), so it ends with the
/// process, however that ends. Editors know nothing of it; [`Over::This`] is for them.
#[derive(Debug)]
pub struct HeldFolder {
    folder: PathBuf,
    _held: File,
}

impl HeldFolder {
    /// Makes the folder if need be, waits a little for whoever holds it, and clears away what a
    /// program that was killed has left half made.
    ///
    /// # Errors
    ///
    /// [`SaveError::Folder`] and [`SaveError::Busy`].
    pub fn open(folder: &Path) -> Result<Self, SaveError> {
        Self::open_within(folder, PATIENCE)
    }

    /// As [`HeldFolder::open`], waiting as long as is said.
    ///
    /// # Errors
    ///
    /// Those of [`HeldFolder::open`].
    pub fn open_within(folder: &Path, patience: Duration) -> Result<Self, SaveError> {
        let failed = |error| SaveError::Folder {
            folder: folder.to_owned(),
            error,
        };
        fs::create_dir_all(folder).map_err(failed)?;
        let handle = handle(folder).map_err(failed)?;
        let start = Instant::now();
        // Where a file system knows no locks, the rename that refuses to overwrite still holds.
        while let Ok(false) = handle.try_lock_exclusive() {
            if start.elapsed() >= patience {
                return Err(SaveError::Busy {
                    folder: folder.to_owned(),
                });
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        let library = Self {
            folder: folder.to_owned(),
            _held: handle,
        };
        library.sweep();
        Ok(library)
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Saves one library file at a path inside the library, with `/` between its parts.
    ///
    /// # Errors
    ///
    /// See [`SaveError`]; after any of them the library is as it was.
    pub fn put(&self, path: &str, text: &str, over: &Over) -> Result<Saved, SaveError> {
        self.put_with(path, text, over, &mut |_| Ok(()))
    }

    /// As [`HeldFolder::put`], calling `before` ahead of each step; an error from it is taken for one
    /// of the system, so that a test can let every step fail.
    ///
    /// # Errors
    ///
    /// Those of [`HeldFolder::put`].
    pub fn put_with(
        &self,
        path: &str,
        text: &str,
        over: &Over,
        before: &mut dyn FnMut(SaveMoment) -> io::Result<()>,
    ) -> Result<Saved, SaveError> {
        let place = self.place(path)?;
        let failed = |error| SaveError::System {
            path: place.clone(),
            error,
        };
        let folder = place.parent().unwrap_or(&self.folder);
        fs::create_dir_all(folder).map_err(failed)?;
        let old = match over {
            Over::Nothing => None,
            Over::This(hash) => Some(self.unchanged(&place, hash)?),
        };
        let mut step = |step| before(step).map_err(failed);
        step(SaveMoment::Write)?;
        let mut new = in_the_making(folder).map_err(failed)?;
        new.write_all(text.as_bytes()).map_err(failed)?;
        step(SaveMoment::Sync)?;
        new.as_file().sync_all().map_err(failed)?;
        step(SaveMoment::ReadBack)?;
        read_back(new.path(), text, &place)?;
        let mut kept = None;
        if let (Some(old), Over::This(hash)) = (old, over) {
            step(SaveMoment::Keep)?;
            let beside = keep(&place, &old).map_err(failed)?;
            if let Err(error) = step(SaveMoment::Put)
                .and_then(|()| self.unchanged(&place, hash))
                .and_then(|_| same_mode(&place, &new).map_err(failed))
                .and_then(|()| new.persist(&place).map_err(|error| failed(error.error)))
            {
                // The old file never left its place, so the spare copy says nothing new.
                let _ = fs::remove_file(&beside);
                return Err(error);
            }
            kept = Some(beside);
        } else {
            step(SaveMoment::Put)?;
            new.persist_noclobber(&place)
                .map_err(|error| match error.error.kind() {
                    io::ErrorKind::AlreadyExists => SaveError::Exists {
                        path: place.clone(),
                    },
                    _ => failed(error.error),
                })?;
        }
        forget_the_oldest(&place);
        // From here on it is saved. Some systems cannot bring a folder to the disk, and then a power cut
        // in the next seconds may undo the save; to call it undone now would be worse.
        let _ = before(SaveMoment::SyncFolder).and_then(|()| sync_folder(folder));
        Ok(Saved { path: place, kept })
    }

    /// Takes one library file out of its place; what stood there is kept beside it, under a name that
    /// is not read.
    ///
    /// # Errors
    ///
    /// See [`SaveError`]; after any of them the library is as it was.
    pub fn take_out(&self, path: &str, over: &Over) -> Result<Saved, SaveError> {
        let place = self.place(path)?;
        let failed = |error| SaveError::System {
            path: place.clone(),
            error,
        };
        let Over::This(hash) = over else {
            return Err(SaveError::Changed { path: place });
        };
        let old = self.unchanged(&place, hash)?;
        let beside = keep(&place, &old).map_err(failed)?;
        if let Err(error) = self
            .unchanged(&place, hash)
            .and_then(|_| fs::remove_file(&place).map_err(failed))
        {
            let _ = fs::remove_file(&beside);
            return Err(error);
        }
        forget_the_oldest(&place);
        let _ = sync_folder(place.parent().unwrap_or(&self.folder));
        Ok(Saved {
            path: place,
            kept: Some(beside),
        })
    }

    /// Where a path leads inside the library, through no link.
    fn place(&self, path: &str) -> Result<PathBuf, SaveError> {
        let mut place = self.folder.clone();
        for part in path.split('/') {
            place.push(part);
            if fs::symlink_metadata(&place).is_ok_and(|found| found.is_symlink()) {
                return Err(SaveError::Link { path: place });
            }
        }
        Ok(place)
    }

    /// The bytes at a place, if they are still those with this hash.
    fn unchanged(&self, place: &Path, hash: &str) -> Result<Vec<u8>, SaveError> {
        match fs::read(place) {
            Ok(bytes) if sha256(&bytes) == hash => Ok(bytes),
            Ok(_) => Err(SaveError::Changed {
                path: place.to_owned(),
            }),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Err(SaveError::Changed {
                path: place.to_owned(),
            }),
            Err(error) => Err(SaveError::System {
                path: place.to_owned(),
                error,
            }),
        }
    }

    /// Whoever holds the library makes files in it, so those of others are left over.
    fn sweep(&self) {
        let mut open = vec![(self.folder.clone(), 0)];
        while let Some((folder, depth)) = open.pop() {
            for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
                let name = entry.file_name();
                let name = name.to_string_lossy();
                if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                    if depth < Limits::default().depth && !name.starts_with('.') {
                        open.push((entry.path(), depth + 1));
                    }
                } else if name.starts_with(IN_THE_MAKING) && name.ends_with(IN_THE_MAKING_ENDS) {
                    let _ = fs::remove_file(entry.path());
                }
            }
        }
    }
}

/// SHA-256 as lowercase hex.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .fold(String::new(), |mut hex, byte| {
            write!(hex, "{byte:02x}").expect("writing to a string");
            hex
        })
}

/// Writes a file that is no library file, such as a library to share, whole or not at all. What it replaces is
/// kept beside it, unless it says the same.
///
/// # Errors
///
/// [`SaveError::Exists`] when there is one and `replace` does not allow for it, and whatever the
/// system refuses.
pub fn put_file(path: &Path, text: &str, replace: bool) -> Result<Saved, SaveError> {
    let failed = |error| SaveError::System {
        path: path.to_owned(),
        error,
    };
    match fs::metadata(path) {
        Ok(found) if !found.is_file() => {
            return Err(SaveError::NoFile {
                path: path.to_owned(),
            });
        }
        Ok(_) if !replace => {
            return Err(SaveError::Exists {
                path: path.to_owned(),
            });
        }
        _ => {}
    }
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut new = in_the_making(folder).map_err(failed)?;
    new.write_all(text.as_bytes()).map_err(failed)?;
    new.as_file().sync_all().map_err(failed)?;
    let old = fs::read(path).ok().filter(|old| old != text.as_bytes());
    let kept = match old.filter(|_| replace) {
        Some(old) => Some(keep(path, &old).map_err(failed)?),
        None => None,
    };
    let put = if replace {
        new.persist(path)
    } else {
        new.persist_noclobber(path)
    };
    put.map_err(|error| match error.error.kind() {
        io::ErrorKind::AlreadyExists => SaveError::Exists {
            path: path.to_owned(),
        },
        _ => failed(error.error),
    })?;
    forget_the_oldest(path);
    let _ = sync_folder(folder);
    Ok(Saved {
        path: path.to_owned(),
        kept,
    })
}

/// What the lock is on: the folder itself where the system allows it.
fn handle(folder: &Path) -> io::Result<File> {
    if cfg!(windows) {
        let file = folder.join(".lock");
        return fs::OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(file);
    }
    File::open(folder)
}

/// A new file with the usual rights (those of a temporary file would keep a colleague out).
fn in_the_making(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(IN_THE_MAKING).suffix(IN_THE_MAKING_ENDS);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

fn same_mode(place: &Path, new: &NamedTempFile) -> io::Result<()> {
    new.as_file()
        .set_permissions(fs::metadata(place)?.permissions())
}

/// So many copies of what a file was before are kept beside it, the latest.
const MOST_KEPT: usize = 5;

/// What is kept of a file beside it, by number: `a.yaml.before-1`.
fn kept(place: &Path) -> Vec<(u32, PathBuf)> {
    let name = place.file_name().unwrap_or_default().to_string_lossy();
    let folder = place.parent().filter(|path| !path.as_os_str().is_empty());
    let entries = fs::read_dir(folder.unwrap_or(Path::new(".")));
    let numbered = entries.into_iter().flatten().flatten().filter_map(|entry| {
        let own = entry.file_name();
        let number = own
            .to_str()?
            .strip_prefix(&*name)?
            .strip_prefix(".before-")?;
        Some((number.parse().ok()?, entry.path()))
    });
    let mut numbered: Vec<(u32, PathBuf)> = numbered.collect();
    numbered.sort();
    numbered
}

/// Puts a copy beside a file, under the number above the last: `a.yaml.before-1`.
fn keep(place: &Path, bytes: &[u8]) -> io::Result<PathBuf> {
    let folder = place.parent().unwrap_or(place);
    let mut copy = in_the_making(folder)?;
    copy.write_all(bytes)?;
    copy.as_file().sync_all()?;
    let last = kept(place).last().map_or(0, |(number, _)| *number);
    for number in last.saturating_add(1).. {
        let mut name = place.as_os_str().to_owned();
        name.push(format!(".before-{number}"));
        let beside = PathBuf::from(name);
        match copy.persist_noclobber(&beside) {
            Ok(_) => return Ok(beside),
            Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => copy = error.file,
            Err(error) => return Err(error.error),
        }
    }
    Err(io::Error::other("every number for a kept file is taken"))
}

/// Once something is saved, the oldest copies beside it go, so that they do not pile up in the folder.
fn forget_the_oldest(place: &Path) {
    let kept = kept(place);
    let most = kept.len().saturating_sub(MOST_KEPT);
    for (_, path) in &kept[..most] {
        // One that stays does no harm.
        let _ = fs::remove_file(path);
    }
}

fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        File::open(folder)?.sync_all()
    } else {
        Ok(())
    }
}

fn read_back(path: &Path, text: &str, place: &Path) -> Result<(), SaveError> {
    let bytes = fs::read(path).map_err(|error| SaveError::System {
        path: place.to_owned(),
        error,
    })?;
    let damaged = |problems| SaveError::ReadBack {
        path: place.to_owned(),
        problems,
    };
    if bytes != text.as_bytes() {
        return Err(damaged(Vec::new()));
    }
    library_file(text).map(drop).map_err(damaged)
}
