//! Records opened, begun where there are none, and brought into the form of today.

use super::error::StoreError;
use super::place::StorePlace;
use super::sql;
use super::store::Store;
use sqlx::{AnyConnection, Connection, Row};
use std::path::Path;
use std::sync::Once;

impl Store {
    /// Opens records to read them; `None` where none are kept yet. Nothing is made and nothing written,
    /// but for two things: records in an earlier form are first brought into ours, and a write that a
    /// crash broke off is taken back, as SQLite does it.
    ///
    /// # Errors
    ///
    /// When what is there cannot be read, or was written by a later version.
    pub fn to_read(place: &StorePlace) -> Result<Option<Self>, StoreError> {
        if place.file().is_some_and(|file| !file.exists()) {
            return Ok(None);
        }
        let mut store = match Self::connect(place, "ro", "") {
            Err(StoreError::NoAccess { .. }) if place.file().is_some() => {
                Self::connect(place, "rw", "")?
            }
            connected => connected?,
        };
        match store.form() {
            Ok(Some(form)) if form == sql::FORM => Ok(Some(store)),
            Ok(None) => Ok(None),
            // A journal is left of a write that was broken off: it takes a writer to clear it up.
            Ok(Some(_)) | Err(StoreError::NoAccess { .. }) => {
                drop(store);
                Self::to_write(place, "").map(Some)
            }
            Err(error) => Err(error),
        }
    }

    /// Opens records to write; they are begun where there are none. A file is readable by its owner
    /// alone. `coach` is who writes; empty when that is not said.
    ///
    /// # Errors
    ///
    /// When the place cannot be written, or what is there is not ours, damaged, or from a later version.
    pub fn to_write(place: &StorePlace, coach: &str) -> Result<Self, StoreError> {
        if let Some(file) = place.file() {
            begin_file(place, file)?;
        }
        let mut store = Self::connect(place, "rw", coach)?;
        match store.form()? {
            Some(form) if form == sql::FORM => {}
            None if place.file().is_some() => return Err(something_else(place)),
            _ => store.migrate()?,
        }
        if coach.is_empty() && place.file().is_none() {
            store.coach = store.reading(async |link| {
                Ok(sqlx::query_scalar("select cast(current_user as text)")
                    .fetch_one(link)
                    .await?)
            })?;
        }
        Ok(store)
    }

    pub(super) fn connect(place: &StorePlace, mode: &str, coach: &str) -> Result<Self, StoreError> {
        static DRIVERS: Once = Once::new();
        DRIVERS.call_once(sqlx::any::install_default_drivers);
        let shown = place.to_string();
        if place.file().is_none() && !cfg!(feature = "academy") {
            return Err(StoreError::NoServer);
        }
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|error| StoreError::NoAccess {
                place: shown.clone(),
                why: error.to_string(),
            })?;
        let address = place.address(mode);
        let link = runtime
            .block_on(async {
                let mut link = AnyConnection::connect(&address).await?;
                if place.file().is_some() {
                    settle(&mut link).await?;
                }
                Ok(link)
            })
            .map_err(|error| StoreError::of(&shown, error))?;
        Ok(Self {
            place: place.clone(),
            coach: coach.to_owned(),
            runtime,
            link,
        })
    }

    /// The form of the tables; `None` where there are none yet.
    fn form(&mut self) -> Result<Option<i64>, StoreError> {
        let found = self.reading(async |link| {
            let query = sqlx::query_scalar::<_, Option<i64>>(sql::FORM_FOUND);
            match query.fetch_one(link).await {
                Ok(found) => Ok(found),
                // No such table, in the words of each database.
                Err(sqlx::Error::Database(said))
                    if matches!(said.code().as_deref(), Some("1" | "42P01")) =>
                {
                    Ok(None)
                }
                Err(error) => Err(error.into()),
            }
        })?;
        if self.place.file().is_some() && found.is_some() && !self.is_ours()? {
            return Err(something_else(&self.place));
        }
        match found {
            Some(found) if found > sql::FORM => Err(StoreError::FromLater {
                place: self.place.to_string(),
                found,
                known: sql::FORM,
            }),
            found => Ok(found),
        }
    }

    /// Whether a file bears our mark.
    fn is_ours(&mut self) -> Result<bool, StoreError> {
        let mark = self.reading(async |link| {
            let row = sqlx::query("pragma application_id").fetch_one(link).await?;
            let wide = || row.try_get::<i64, _>(0).map(|id| id as i32);
            Ok(row.try_get::<i32, _>(0).or_else(|_| wide())?)
        })?;
        Ok(i64::from(mark) == sql::APPLICATION)
    }

    fn migrate(&mut self) -> Result<(), StoreError> {
        let place = self.place.to_string();
        let migrations = sql::migrations(self.place.file().is_none());
        let run = migrations.run(&mut self.link);
        self.runtime.block_on(run).map_err(|error| match error {
            sqlx::migrate::MigrateError::Execute(error)
            | sqlx::migrate::MigrateError::ExecuteMigration(error, _) => {
                StoreError::of(&place, error)
            }
            other => StoreError::Damaged {
                place,
                why: other.to_string(),
            },
        })
    }

    /// Closes the connection, and says when that failed.
    pub(super) fn close(self) -> Result<(), StoreError> {
        let place = self.place.to_string();
        let closed = self.runtime.block_on(self.link.close());
        closed.map_err(|error| StoreError::of(&place, error))
    }
}

/// What SQLite promises with these (sqlite.org, PRAGMA statements, from memory): `full` and more, so
/// that a commit outlives a power cut; deleted content overwritten; a writer waits for another.
async fn settle(link: &mut AnyConnection) -> Result<(), sqlx::Error> {
    for pragma in [
        "pragma busy_timeout = 10000",
        "pragma synchronous = extra",
        "pragma foreign_keys = on",
        "pragma secure_delete = on",
        "pragma cell_size_check = on",
    ] {
        sqlx::query(pragma).execute(&mut *link).await?;
    }
    Ok(())
}

/// Makes a file with its tables, if there is none, so that others see it whole or not at all; takes from
/// one that is there what others than its owner may do with it.
fn begin_file(place: &StorePlace, file: &Path) -> Result<(), StoreError> {
    let failed = |error: std::io::Error| match error.kind() {
        std::io::ErrorKind::StorageFull => StoreError::Full(place.to_string()),
        _ => StoreError::NoAccess {
            place: place.to_string(),
            why: error.to_string(),
        },
    };
    if file.exists() {
        return for_owner_alone(file).map_err(failed);
    }
    let folder = match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(folder).map_err(failed)?;
    // A file made here is its owner's alone from the first moment.
    let mut part = tempfile::Builder::new();
    let part = part.prefix(".fairwhy-").suffix(".part");
    let new = part.tempfile_in(folder).map_err(failed)?;
    let mut store = Store::connect(&StorePlace::File(new.path().to_owned()), "rw", "")?;
    store.place = place.clone();
    store.migrate()?;
    store.reading(async |link| {
        sqlx::query(sql::MARK).execute(link).await?;
        Ok(())
    })?;
    store.close()?;
    new.as_file().sync_all().map_err(failed)?;
    match new.persist_noclobber(file) {
        Ok(_) => Ok(()),
        // Somebody else was quicker.
        Err(error) if error.error.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
        Err(error) => Err(failed(error.error)),
    }
}

/// Takes from everybody but the owner what they may do with a file.
pub(super) fn for_owner_alone(file: &Path) -> std::io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(file)?.permissions().mode();
        if mode & 0o077 != 0 {
            std::fs::set_permissions(file, std::fs::Permissions::from_mode(mode & 0o700))?;
        }
    }
    let _ = file;
    Ok(())
}

fn something_else(place: &StorePlace) -> StoreError {
    StoreError::Damaged {
        place: place.to_string(),
        why: "it is a database that holds something else".into(),
    }
}
