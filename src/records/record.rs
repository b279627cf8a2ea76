//! Records as they lie in the tables.

use super::error::StoreError;
use super::lesson_record::LessonRecord;
use super::outcome::Outcome;
use super::sql;
use super::student_record::Student;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use sqlx::{AnyConnection, Row};

/// One record, whole: what a change is made of, and a line of an export.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
#[allow(
    clippy::large_enum_variant,
    reason = "most entries are lessons, the largest"
)]
pub enum Record {
    /// A student, with what was said of the body.
    Student {
        /// The student.
        student: Student,
        /// What was said of the body.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        limits: Option<String>,
    },
    /// A lesson.
    Lesson {
        /// Whose.
        handle: String,
        /// The lesson.
        lesson: LessonRecord,
    },
    /// How a drill went.
    Outcome {
        /// For whom.
        handle: String,
        /// How it went.
        outcome: Outcome,
    },
}

impl Record {
    /// Whose it is.
    #[must_use]
    pub fn handle(&self) -> &str {
        match self {
            Self::Student { student, .. } => &student.handle,
            Self::Lesson { handle, .. } | Self::Outcome { handle, .. } => handle,
        }
    }

    /// What tells it from every other: the table, the handle, the number.
    pub(super) fn key(&self) -> (u8, &str, i64) {
        match self {
            Self::Student { student, .. } => (0, &student.handle, 0),
            Self::Lesson { handle, lesson } => (1, handle, lesson.number),
            Self::Outcome { handle, outcome } => (2, handle, outcome.number),
        }
    }
}

/// What the database or the form of a record says, before the place is known.
#[derive(Debug)]
pub(super) enum RowError {
    Sql(sqlx::Error),
    Form(serde_json::Error),
    Other(StoreError),
    /// Another writer was quicker.
    Again(String),
}

impl From<sqlx::Error> for RowError {
    fn from(error: sqlx::Error) -> Self {
        Self::Sql(error)
    }
}

impl From<serde_json::Error> for RowError {
    fn from(error: serde_json::Error) -> Self {
        Self::Form(error)
    }
}

impl From<StoreError> for RowError {
    fn from(error: StoreError) -> Self {
        Self::Other(error)
    }
}

impl RowError {
    pub(super) fn at(self, place: &str) -> StoreError {
        match self {
            Self::Sql(error) => StoreError::of(place, error),
            Self::Form(source) => StoreError::Form {
                place: place.to_owned(),
                source,
            },
            Self::Other(error) => error,
            Self::Again(what) => StoreError::Busy(what),
        }
    }

    /// Whether the same would go through another time: two writers chose one number, or one key.
    pub(super) fn passes(&self) -> bool {
        if matches!(self, Self::Again(_)) {
            return true;
        }
        let Self::Sql(sqlx::Error::Database(said)) = self else {
            return false;
        };
        said.is_unique_violation() || matches!(said.code().as_deref(), Some("40001" | "40P01"))
    }
}

pub(super) type Rowed<T> = Result<T, RowError>;

async fn record<T: DeserializeOwned>(
    link: &mut AnyConnection,
    statement: &'static str,
    handle: &str,
    number: i64,
) -> Rowed<Option<T>> {
    let row = sqlx::query(statement).bind(handle).bind(number);
    let row = row.fetch_optional(link).await?;
    row.map(|row| Ok(serde_json::from_str(row.try_get::<&str, _>(0)?)?))
        .transpose()
}

async fn records<T: DeserializeOwned>(
    link: &mut AnyConnection,
    statement: &'static str,
    handle: &str,
) -> Rowed<Vec<T>> {
    let rows = sqlx::query(statement).bind(handle).fetch_all(link).await?;
    rows.iter()
        .map(|row| Ok(serde_json::from_str(row.try_get::<&str, _>(0)?)?))
        .collect()
}

/// The student with the revision, if there is one of this handle.
pub(super) async fn student(
    link: &mut AnyConnection,
    handle: &str,
) -> Rowed<Option<(i64, Student)>> {
    let row = sqlx::query(sql::STUDENT).bind(handle);
    let row = row.fetch_optional(link).await?;
    row.map(|row| {
        Ok((
            row.try_get(0)?,
            serde_json::from_str(row.try_get::<&str, _>(1)?)?,
        ))
    })
    .transpose()
}

pub(super) async fn limits(link: &mut AnyConnection, handle: &str) -> Rowed<Option<String>> {
    let row = sqlx::query(sql::LIMITS).bind(handle);
    let row = row.fetch_optional(link).await?;
    Ok(row.map(|row| row.try_get(0)).transpose()?)
}

pub(super) async fn lessons(link: &mut AnyConnection, handle: &str) -> Rowed<Vec<LessonRecord>> {
    records(link, sql::LESSONS, handle).await
}

pub(super) async fn outcomes(link: &mut AnyConnection, handle: &str) -> Rowed<Vec<Outcome>> {
    records(link, sql::OUTCOMES, handle).await
}

/// The number after the last one in use.
pub(super) async fn next_number(
    link: &mut AnyConnection,
    statement: &'static str,
    handle: &str,
) -> Rowed<i64> {
    let last: Option<i64> = sqlx::query_scalar(statement)
        .bind(handle)
        .fetch_one(link)
        .await?;
    Ok(last.unwrap_or(0) + 1)
}

/// What stands now under the key of an entry.
pub(super) async fn current(link: &mut AnyConnection, like: &Record) -> Rowed<Option<Record>> {
    let handle = like.handle().to_owned();
    Ok(match like {
        Record::Student { .. } => match student(link, &handle).await? {
            Some((_, student)) => Some(Record::Student {
                student,
                limits: limits(link, &handle).await?,
            }),
            None => None,
        },
        Record::Lesson { lesson, .. } => record(link, sql::LESSON, &handle, lesson.number)
            .await?
            .map(|lesson| Record::Lesson { handle, lesson }),
        Record::Outcome { outcome, .. } => record(link, sql::OUTCOME, &handle, outcome.number)
            .await?
            .map(|outcome| Record::Outcome { handle, outcome }),
    })
}

/// Writes an entry: in the place of the one with its key, or as a new one.
pub(super) async fn put(link: &mut AnyConnection, entry: &Record, over: bool) -> Rowed<()> {
    match entry {
        Record::Student { student, limits } => {
            let text = serde_json::to_string(student)?;
            if over {
                let update = sqlx::query(sql::UPDATE_STUDENT).bind(text);
                update
                    .bind(student.handle.as_str())
                    .execute(&mut *link)
                    .await?;
            } else {
                let insert = sqlx::query(sql::INSERT_STUDENT).bind(student.handle.as_str());
                insert.bind(text).execute(&mut *link).await?;
            }
            put_limits(link, &student.handle, limits.as_deref()).await?;
        }
        Record::Lesson { handle, lesson } => {
            let statement = if over {
                sql::UPDATE_LESSON
            } else {
                sql::INSERT_LESSON
            };
            sqlx::query(statement)
                .bind(handle.as_str())
                .bind(lesson.number)
                .bind(lesson.day.to_string())
                .bind(serde_json::to_string(lesson)?)
                .execute(link)
                .await?;
        }
        Record::Outcome { handle, outcome } => {
            let statement = if over {
                sql::UPDATE_OUTCOME
            } else {
                sql::INSERT_OUTCOME
            };
            sqlx::query(statement)
                .bind(handle.as_str())
                .bind(outcome.number)
                .bind(outcome.drill.as_str())
                .bind(outcome.result.as_str())
                .bind(serde_json::to_string(outcome)?)
                .execute(link)
                .await?;
        }
    }
    Ok(())
}

pub(super) async fn put_limits(
    link: &mut AnyConnection,
    handle: &str,
    limits: Option<&str>,
) -> Rowed<()> {
    let delete = sqlx::query(sql::DELETE_LIMITS).bind(handle);
    delete.execute(&mut *link).await?;
    if let Some(limits) = limits {
        let insert = sqlx::query(sql::INSERT_LIMITS).bind(handle).bind(limits);
        insert.execute(link).await?;
    }
    Ok(())
}

/// Takes an entry out.
pub(super) async fn take_out(link: &mut AnyConnection, entry: &Record) -> Rowed<()> {
    let (_, handle, number) = entry.key();
    let query = match entry {
        Record::Student { .. } => sqlx::query(sql::DELETE_STUDENT).bind(handle),
        Record::Lesson { .. } => sqlx::query(sql::DELETE_LESSON).bind(handle).bind(number),
        Record::Outcome { .. } => sqlx::query(sql::DELETE_OUTCOME).bind(handle).bind(number),
    };
    query.execute(link).await?;
    Ok(())
}
