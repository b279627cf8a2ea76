//! Copies, bringing one back, looking over everything, and forgetting for good.

use super::error::StoreError;
use super::opening::for_owner_alone;
use super::place::StorePlace;
use super::store::Store;
use super::{record, sql};
use chrono::Local;
use sqlx::{Connection, Row};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// What was looked over.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StoreCheck {
    /// What there is of each sort, such as 20 students.
    pub counts: Vec<(&'static str, i64)>,
    /// What is wrong; empty when all is sound.
    pub complaints: Vec<String>,
}

/// What came of forgetting a student.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Forgotten {
    /// How many lessons went.
    pub lessons: usize,
    /// How many outcomes went.
    pub outcomes: usize,
    /// Copies made from here that are still there, and may hold the student: file and day.
    pub backups: Vec<(String, String)>,
}

/// What came of bringing a copy back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Restored {
    /// What is kept now.
    pub now: StoreCheck,
    /// Where the records went that were kept until now.
    pub aside: Option<PathBuf>,
}

impl Store {
    /// Looks everything over: the pages of the file, every reference, the form of every record, who may
    /// read the file. Changes nothing.
    ///
    /// # Errors
    ///
    /// When the records cannot be read at all.
    pub fn check(&mut self) -> Result<StoreCheck, StoreError> {
        let mut checked = StoreCheck::default();
        if self.place().file().is_some() {
            checked.complaints = self.check_file()?;
        }
        checked.counts = self.reading(async |link| {
            let mut counts = Vec::new();
            for (what, statement) in sql::COUNTS {
                let count: i64 = sqlx::query_scalar(statement).fetch_one(&mut *link).await?;
                counts.push((what, count));
            }
            Ok(counts)
        })?;
        if let Err(error) = self.entries(None) {
            checked.complaints.push(error.to_string());
        }
        #[cfg(unix)]
        if let Some(file) = self.place().file() {
            use std::os::unix::fs::PermissionsExt;
            let mode = fs::metadata(file).map_or(0o600, |about| about.permissions().mode());
            if mode & 0o077 != 0 {
                checked
                    .complaints
                    .push(format!("others may read {}", file.display()));
            }
        }
        Ok(checked)
    }

    /// Makes a copy as one SQLite file that was read and looked over before it gets its name; an existing
    /// file is left alone. The records remember it, so that forgetting can name it.
    ///
    /// # Errors
    ///
    /// When the file is there already, cannot be written, or is not sound.
    pub fn backup(&mut self, file: &Path) -> Result<StoreCheck, StoreError> {
        if file.exists() {
            return Err(StoreError::Taken(file.to_owned()));
        }
        let copy = self.copy_beside(file)?;
        let checked = sound(copy.path())?;
        named(copy, file)?;
        self.remember(file)?;
        Ok(checked)
    }

    /// Remembers a file that holds records, so that forgetting a student can name it.
    ///
    /// # Errors
    ///
    /// When the records cannot be written.
    pub fn remember(&mut self, copy: &Path) -> Result<(), StoreError> {
        let day = Local::now().date_naive().to_string();
        let whole = std::path::absolute(copy).unwrap_or_else(|_| copy.to_owned());
        let name = whole.to_string_lossy();
        self.replace(sql::DELETE_BACKUP, sql::INSERT_BACKUP, &name, Some(&day))
    }

    /// A copy in a new file in the folder of another, under no name yet.
    fn copy_beside(&mut self, file: &Path) -> Result<NamedTempFile, StoreError> {
        let shown = file.display().to_string();
        let folder = match file.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        // Its owner's alone, as every temporary file of this crate's is.
        let copy = tempfile::Builder::new()
            .prefix(".fairwhy-")
            .suffix(".part")
            .tempfile_in(folder)
            .map_err(|error| access(&shown, &error))?;
        if self.place().file().is_some() {
            let target = copy.path().to_string_lossy().into_owned();
            let made = self.reading(async |link| {
                let copying = sqlx::query("vacuum into $1").bind(target.as_str());
                copying.execute(link).await?;
                Ok(())
            });
            made.map_err(|error| match error {
                StoreError::Full(_) => StoreError::Full(shown),
                other => other,
            })?;
            return Ok(copy);
        }
        let entries = self.entries(None)?;
        // Begun anew under the name of the temporary file.
        fs::remove_file(copy.path()).map_err(|error| access(&shown, &error))?;
        let mut store = Store::to_write(&StorePlace::File(copy.path().to_owned()), "")?;
        store.take_in(&entries)?;
        store.close()?;
        Ok(copy)
    }

    /// Erases a student: lessons, outcomes, limits, what could be undone, and the free pages of the file,
    /// which are written over and given back. It cannot be taken back.
    ///
    /// # Errors
    ///
    /// As [`Store::student`].
    pub fn forget(&mut self, handle: &str) -> Result<Forgotten, StoreError> {
        let history = self.history(handle)?;
        self.reading(async |link| {
            let mut transaction = link.begin().await?;
            for statement in [sql::DELETE_STUDENT, sql::DELETE_CHANGES_OF] {
                let delete = sqlx::query(statement).bind(handle);
                delete.execute(&mut *transaction).await?;
            }
            let wide = sqlx::query(sql::DELETE_WIDE_CHANGES);
            wide.execute(&mut *transaction).await?;
            transaction.commit().await?;
            sqlx::query("vacuum").execute(link).await?;
            Ok(())
        })?;
        let mut other = Store::connect(self.place(), "ro", "")?;
        let gone = other.reading(async |link| {
            Ok(record::student(link, handle).await?.is_none()
                && record::lessons(link, handle).await?.is_empty()
                && record::outcomes(link, handle).await?.is_empty()
                && record::limits(link, handle).await?.is_none())
        })?;
        if !gone {
            return Err(StoreError::ReadBack(self.place().to_string()));
        }
        Ok(Forgotten {
            lessons: history.lessons.len(),
            outcomes: history.outcomes.len(),
            backups: self.backups()?,
        })
    }

    /// Copies made from here that are still there: file and day.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn backups(&mut self) -> Result<Vec<(String, String)>, StoreError> {
        self.reading(async |link| {
            let all = sqlx::query(sql::BACKUPS).fetch_all(link).await?;
            let mut there = Vec::new();
            for row in all {
                let (file, day): (String, String) = (row.try_get(0)?, row.try_get(1)?);
                if Path::new(&file).exists() {
                    there.push((file, day));
                }
            }
            Ok(there)
        })
    }

    fn restore_on_server(place: &StorePlace, copy: &mut Store) -> Result<Restored, StoreError> {
        let entries = copy.entries(None)?;
        let mut server = Self::to_write(place, "")?;
        if !server.students()?.is_empty() {
            return Err(StoreError::AtOdds(format!(
                "{place} holds records, and a copy is brought back only where there are none"
            )));
        }
        server.take_in(&entries)?;
        Ok(Restored {
            now: server.check()?,
            aside: None,
        })
    }

    /// What SQLite says of the pages of a file and of every reference in it.
    fn check_file(&mut self) -> Result<Vec<String>, StoreError> {
        self.reading(async |link| {
            let mut said: Vec<String> = Vec::new();
            let pages = sqlx::query("pragma integrity_check(20)");
            for row in pages.fetch_all(&mut *link).await? {
                let line: String = row.try_get(0)?;
                if line != "ok" {
                    said.push(line);
                }
            }
            let loose = sqlx::query("pragma foreign_key_check");
            let loose = loose.fetch_all(link).await?;
            if !loose.is_empty() {
                said.push(format!("{} rows hang on no student", loose.len()));
            }
            Ok(said)
        })
    }

    /// Brings a copy back. It is looked over first, in a copy of its own; what is kept until now is moved
    /// aside, never written over. On a server it is taken in, where there is nothing yet.
    ///
    /// # Errors
    ///
    /// When the copy is damaged, holds something else or is from a later version; then nothing was
    /// changed.
    pub fn restore(place: &StorePlace, copy: &Path) -> Result<Restored, StoreError> {
        let from = StorePlace::File(copy.to_owned());
        let missing = || StoreError::NoAccess {
            place: from.to_string(),
            why: "there are no records in it".into(),
        };
        sound(copy)?;
        let mut source = Self::to_read(&from)?.ok_or_else(missing)?;
        let Some(file) = place.file() else {
            return Self::restore_on_server(place, &mut source);
        };
        let new = source.copy_beside(file)?;
        drop(source);
        sound(new.path())?;
        // What was remembered until now is remembered on, so that forgetting can name every copy.
        let until_now = Self::to_read(place).ok().flatten();
        let copies = until_now.and_then(|mut store| store.backups().ok());
        let aside = set_aside(place, file, new)?;
        let mut store = Self::to_write(place, "")?;
        let copies = copies.unwrap_or_default();
        let known = copies.iter().map(|(file, _)| Path::new(file));
        for file in known.chain(aside.as_deref()).chain([copy]) {
            store.remember(file)?;
        }
        Ok(Restored {
            now: store.check()?,
            aside,
        })
    }
}

/// The first name beside a file that is free for what stood there before.
fn name_beside(file: &Path) -> PathBuf {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    (1..)
        .map(|number| file.with_file_name(format!("{stem}-before-{number}.db")))
        .find(|free| !free.exists())
        .expect("numbers do not run out")
}

/// Puts a file in the place of another, which is kept under a name beside it. There is no moment without
/// a whole file in the place, and no writer in between.
fn set_aside(
    place: &StorePlace,
    file: &Path,
    new: NamedTempFile,
) -> Result<Option<PathBuf>, StoreError> {
    let shown = place.to_string();
    if !file.exists() {
        named(new, file)?;
        return Ok(None);
    }
    // Takes back what a crash broke off, and keeps other writers out; a damaged file has none.
    let mut held = Store::connect(place, "rw", "").ok();
    if let Some(store) = &mut held {
        let _ = store.reading(async |link| {
            sqlx::query("begin exclusive").execute(link).await?;
            Ok(())
        });
    }
    let aside = name_beside(file);
    fs::hard_link(file, &aside)
        .or_else(|_| fs::copy(file, &aside).map(|_| ()))
        .map_err(|error| access(&shown, &error))?;
    let journal = |of: &Path| PathBuf::from(format!("{}-journal", of.display()));
    if held.is_none() && journal(file).exists() {
        fs::rename(journal(file), journal(&aside)).map_err(|error| access(&shown, &error))?;
    }
    for_owner_alone(&aside).map_err(|error| access(&shown, &error))?;
    new.as_file()
        .sync_all()
        .map_err(|error| access(&shown, &error))?;
    new.persist(file)
        .map_err(|error| access(&shown, &error.error))?;
    sync_folder(file);
    drop(held);
    Ok(Some(aside))
}

/// Looks a file over from end to end.
fn sound(file: &Path) -> Result<StoreCheck, StoreError> {
    let place = StorePlace::File(file.to_owned());
    let damaged = |why: String| StoreError::Damaged {
        place: place.to_string(),
        why,
    };
    if !file.exists() {
        return Err(StoreError::NoAccess {
            place: place.to_string(),
            why: "there is no such file".into(),
        });
    }
    let mut store =
        Store::to_read(&place)?.ok_or_else(|| damaged("there are no records in it".into()))?;
    let mut checked = store.check()?;
    // Who may read a copy is for its keeper to say.
    checked
        .complaints
        .retain(|line| !line.starts_with("others may read"));
    match checked.complaints.first() {
        None => Ok(checked),
        Some(first) => Err(damaged(first.clone())),
    }
}

/// Gives a finished file its name, unless something has that name.
fn named(copy: NamedTempFile, file: &Path) -> Result<(), StoreError> {
    let shown = file.display().to_string();
    fs::File::open(copy.path())
        .and_then(|file| file.sync_all())
        .map_err(|error| access(&shown, &error))?;
    copy.persist_noclobber(file)
        .map_err(|error| match error.error.kind() {
            io::ErrorKind::AlreadyExists => StoreError::Taken(file.to_owned()),
            _ => access(&shown, &error.error),
        })?;
    sync_folder(file);
    Ok(())
}

/// Has the folder remember a new name; where a system cannot, the file is in its place all the same.
fn sync_folder(file: &Path) {
    let folder = file
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let _ = fs::File::open(folder.unwrap_or(Path::new("."))).and_then(|folder| folder.sync_all());
}

fn access(place: &str, error: &io::Error) -> StoreError {
    match error.kind() {
        io::ErrorKind::StorageFull => StoreError::Full(place.to_owned()),
        _ => StoreError::NoAccess {
            place: place.to_owned(),
            why: error.to_string(),
        },
    }
}
