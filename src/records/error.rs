//! Why records could not be read or kept.

use std::path::PathBuf;

/// Why the store did not do what was asked. Nothing was changed, unless it says so.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// No student goes by this handle.
    #[error("no student goes by \"{handle}\"")]
    NoStudent {
        /// The handle.
        handle: String,
        /// Handles that come nearest, best first.
        nearest: Vec<String>,
    },
    /// Another student goes by it.
    #[error("a student goes by \"{0}\" already")]
    HandleTaken(String),
    /// The handle is not written as one; the text says what to write.
    #[error("\"{handle}\" cannot be a handle")]
    HandleShape {
        /// The handle.
        handle: String,
        /// What to write.
        write: String,
    },
    /// There is nothing to undo.
    #[error("there is nothing to undo")]
    NothingToUndo,
    /// What a change left has been changed since.
    #[error("change {0} cannot be undone: what it left has been changed since")]
    ChangedSince(i64),
    /// The file holds something else, or is damaged.
    #[error("{place} is not sound: {why}")]
    Damaged {
        /// Where.
        place: String,
        /// What is wrong with it.
        why: String,
    },
    /// The records were written by a later version of the program.
    #[error("{place} was written by a later version (its form is {found}, ours {known})")]
    FromLater {
        /// Where.
        place: String,
        /// The form of the file.
        found: i64,
        /// The latest form that is known here.
        known: i64,
    },
    /// Somebody else is writing, and did not finish in time.
    #[error("{0} is being written by somebody else")]
    Busy(String),
    /// There is no room left.
    #[error("there is no room left to write {0}")]
    Full(String),
    /// The place may not be written to, or not be read.
    #[error("{place} cannot be used: {why}")]
    NoAccess {
        /// Where.
        place: String,
        /// What the system says.
        why: String,
    },
    /// A file is there already.
    #[error("{0} is there already and was left as it is")]
    Taken(PathBuf),
    /// What was read back is not what was written.
    #[error("what was read back from {0} is not what was written")]
    ReadBack(String),
    /// The program was built without the means to reach a server.
    #[error("this program was built without PostgreSQL")]
    NoServer,
    /// Two entries of what was brought in are at odds, or one is at odds with what is kept.
    #[error("{0}")]
    AtOdds(String),
    /// Anything else that the database says.
    #[error("{place}: {source}")]
    Database {
        /// Where.
        place: String,
        /// What it says.
        source: sqlx::Error,
    },
    /// A record does not have the form of one.
    #[error("a record in {place} does not have the form of one: {source}")]
    Form {
        /// Where.
        place: String,
        /// What is wrong.
        source: serde_json::Error,
    },
}

impl StoreError {
    /// What the database said, as what it means.
    pub(super) fn of(place: &str, error: sqlx::Error) -> Self {
        let place = place.to_owned();
        let code = match &error {
            sqlx::Error::Database(said) => said.code().map(|code| code.into_owned()),
            sqlx::Error::Io(said) => {
                let why = said.to_string();
                return Self::NoAccess { place, why };
            }
            _ => None,
        };
        let Some(code) = code else {
            return Self::Database {
                place,
                source: error,
            };
        };
        // SQLite's result codes; the low byte is the primary one. PostgreSQL's are five letters.
        let primary = code.parse::<i64>().map(|code| code & 0xff);
        let why = || match &error {
            sqlx::Error::Database(said) => said.message().to_owned(),
            other => other.to_string(),
        };
        match (primary, code.as_str()) {
            (Ok(5 | 6), _) | (_, "55P03") => Self::Busy(place),
            (Ok(13), _) | (_, "53100") => Self::Full(place),
            (Ok(11 | 26), _) => Self::Damaged { place, why: why() },
            (Ok(3 | 8 | 10 | 14), _) => Self::NoAccess { place, why: why() },
            _ => Self::Database {
                place,
                source: error,
            },
        }
    }
}
