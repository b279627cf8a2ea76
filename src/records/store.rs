//! The store: one connection, its own runtime, plain calls.

use super::error::StoreError;
use super::history::{History, StudentSummary};
use super::journal::{RecordChange, Undone, reversed};
use super::learning::CallFor;
use super::lesson_record::LessonRecord;
use super::outcome::{DrillResult, Outcome};
use super::place::StorePlace;
use super::record::{self, Record, RowError, Rowed};
use super::student_record::{Student, shape_of_handle};
use super::{called, sql};
use crate::knowledge::nearest;
use chrono::Local;
use sqlx::{AnyConnection, Connection, Row};
use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;
use tokio::runtime::Runtime;

/// How often a write is tried again when another writer was quicker.
const TRIES: u32 = 40;

/// Records, open.
///
/// Every call blocks until it is done; call it from a thread of its own where others must not wait.
/// Opened to read, it never writes. Each change is one transaction, is read back over a connection of
/// its own before the call returns, and can be taken back with [`Store::undo`].
pub struct Store {
    pub(super) place: StorePlace,
    pub(super) coach: String,
    pub(super) runtime: Runtime,
    pub(super) link: AnyConnection,
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store")
            .field("place", &self.place)
            .finish_non_exhaustive()
    }
}

impl Store {
    /// Where the records are.
    #[must_use]
    pub fn place(&self) -> &StorePlace {
        &self.place
    }

    /// Reads.
    pub(super) fn reading<T>(
        &mut self,
        read: impl AsyncFnOnce(&mut AnyConnection) -> Rowed<T>,
    ) -> Result<T, StoreError> {
        let read = self.runtime.block_on(read(&mut self.link));
        read.map_err(|error| error.at(&self.place.to_string()))
    }

    /// Makes one change in one transaction, and reads back what it left. `work` says what is to be
    /// changed, given what is there; it runs again when another writer was quicker.
    pub(super) fn change<T>(
        &mut self,
        mut work: impl AsyncFnMut(&mut AnyConnection) -> Rowed<(RecordChange, T)>,
    ) -> Result<T, StoreError> {
        let shown = self.place.to_string();
        let day = Local::now().date_naive().to_string();
        let mut tried = 0;
        let (change, result, number) = loop {
            let once = async {
                let mut transaction = match &self.place {
                    StorePlace::File(_) => self.link.begin_with("begin immediate").await?,
                    StorePlace::Server(_) => self.link.begin().await?,
                };
                let (change, result) = work(&mut transaction).await?;
                if change.is_empty() {
                    return Ok((change, result, 0));
                }
                change.make(&mut transaction).await?;
                for handle in change.handles() {
                    called::settle(&mut transaction, &handle).await?;
                }
                let number = change.note(&mut transaction, &day, &self.coach).await?;
                transaction.commit().await?;
                Ok::<_, RowError>((change, result, number))
            };
            match self.runtime.block_on(once) {
                Ok(done) => break done,
                Err(error) if error.passes() && tried < TRIES => {
                    tried += 1;
                    std::thread::sleep(Duration::from_millis(u64::from(tried)));
                }
                Err(error) => return Err(error.at(&shown)),
            }
        };
        self.read_back(&change, number)?;
        Ok(result)
    }

    /// Reads what a change left over a connection of its own, which has nothing in its memory.
    fn read_back(&self, change: &RecordChange, number: i64) -> Result<(), StoreError> {
        let mut other = Self::connect(&self.place, "ro", "")?;
        let as_meant = other.reading(async |link| {
            for entry in &change.later {
                if record::current(link, entry).await?.as_ref() != Some(entry) {
                    return Ok(false);
                }
            }
            let stays: Vec<_> = change.later.iter().map(Record::key).collect();
            for entry in change.earlier.iter().filter(|e| !stays.contains(&e.key())) {
                if record::current(link, entry).await?.is_some() {
                    return Ok(false);
                }
            }
            Ok(true)
        })?;
        // Somebody else may have changed it again since, which is no loss.
        if as_meant || other.changed_since(number)? {
            Ok(())
        } else {
            Err(StoreError::ReadBack(self.place.to_string()))
        }
    }

    /// Whether anything was changed after a change.
    fn changed_since(&mut self, number: i64) -> Result<bool, StoreError> {
        self.reading(async |link| {
            let since = sqlx::query_scalar(sql::CHANGES_SINCE).bind(number);
            Ok(since.fetch_one(link).await.map(|count: i64| count > 0)?)
        })
    }

    /// Keeps a new student, with what was said of the body.
    ///
    /// # Errors
    ///
    /// When the handle is not written as one, or is taken.
    pub fn add_student(
        &mut self,
        student: &Student,
        limits: Option<&str>,
    ) -> Result<(), StoreError> {
        shape_of_handle(&student.handle).map_err(|write| StoreError::HandleShape {
            handle: student.handle.clone(),
            write,
        })?;
        let entry = Record::Student {
            student: student.clone(),
            limits: limits.map(str::to_owned),
        };
        self.change(async |link| {
            if record::student(link, &student.handle).await?.is_some() {
                return Err(StoreError::HandleTaken(student.handle.clone()).into());
            }
            let change = RecordChange {
                what: format!("the record of {} begun", student.handle),
                later: vec![entry.clone()],
                ..RecordChange::default()
            };
            Ok((change, ()))
        })
    }

    /// Every student, by handle.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn students(&mut self) -> Result<Vec<StudentSummary>, StoreError> {
        self.reading(async |link| {
            let all = sqlx::query(sql::STUDENTS).fetch_all(link).await?;
            all.iter()
                .map(|row| {
                    let lessons: Option<i64> = row.try_get(1)?;
                    let last: Option<String> = row.try_get(2)?;
                    Ok(StudentSummary {
                        student: serde_json::from_str(row.try_get::<&str, _>(0)?)?,
                        lessons: usize::try_from(lessons.unwrap_or(0)).unwrap_or(0),
                        last: last.and_then(|day| day.parse().ok()),
                    })
                })
                .collect()
        })
    }

    /// One student.
    ///
    /// # Errors
    ///
    /// [`StoreError::NoStudent`] with the handles that come nearest.
    pub fn student(&mut self, handle: &str) -> Result<Student, StoreError> {
        self.reading(async |link| Ok(known(link, handle).await?.1))
    }

    /// Whether a student goes by this handle.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn has(&mut self, handle: &str) -> Result<bool, StoreError> {
        self.reading(async |link| Ok(record::student(link, handle).await?.is_some()))
    }

    /// What was said of a student's body.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn limits(&mut self, handle: &str) -> Result<Option<String>, StoreError> {
        self.reading(async |link| record::limits(link, handle).await)
    }

    /// Everything kept of a student but the limits.
    ///
    /// # Errors
    ///
    /// As [`Store::student`].
    pub fn history(&mut self, handle: &str) -> Result<History, StoreError> {
        self.reading(async |link| {
            Ok(History {
                student: known(link, handle).await?.1,
                lessons: record::lessons(link, handle).await?,
                outcomes: record::outcomes(link, handle).await?,
            })
        })
    }

    /// Changes what is known of a student and of the body; what another coach changed meanwhile stays,
    /// since `edit` is given the record as it then is.
    ///
    /// # Errors
    ///
    /// As [`Store::student`].
    pub fn edit_student(
        &mut self,
        handle: &str,
        edit: impl Fn(&mut Student, &mut Option<String>),
    ) -> Result<Student, StoreError> {
        self.change(async |link| {
            let (revision, mut student) = known(link, handle).await?;
            let mut limits = record::limits(link, handle).await?;
            let earlier = Record::Student {
                student: student.clone(),
                limits: limits.clone(),
            };
            edit(&mut student, &mut limits);
            handle.clone_into(&mut student.handle);
            // Holds the row until the end, or finds that another was quicker.
            let text = serde_json::to_string(&student)?;
            let claim = sqlx::query(sql::CHANGE_STUDENT).bind(text);
            let claimed = claim.bind(handle).bind(revision).execute(link).await?;
            if claimed.rows_affected() == 0 {
                return Err(RowError::Again(handle.to_owned()));
            }
            let change = RecordChange {
                what: format!("the record of {handle} edited"),
                earlier: vec![earlier],
                later: vec![Record::Student {
                    student: student.clone(),
                    limits,
                }],
                ..RecordChange::default()
            };
            Ok((change, student))
        })
    }

    /// Keeps a lesson as a new one, also when there is another of the same day. Its number and, where it
    /// names none, its coach are set here.
    ///
    /// # Errors
    ///
    /// As [`Store::student`].
    pub fn add_lesson(
        &mut self,
        handle: &str,
        lesson: &LessonRecord,
    ) -> Result<LessonRecord, StoreError> {
        let coach = self.coach.clone();
        self.change(async |link| {
            known(link, handle).await?;
            let mut lesson = lesson.clone();
            lesson.number = record::next_number(link, sql::LAST_LESSON_NUMBER, handle).await?;
            if lesson.coach.is_empty() {
                lesson.coach.clone_from(&coach);
            }
            let change = RecordChange {
                what: format!("lesson {} of {handle}", lesson.number),
                later: vec![Record::Lesson {
                    handle: handle.to_owned(),
                    lesson: lesson.clone(),
                }],
                ..RecordChange::default()
            };
            Ok((change, lesson))
        })
    }

    /// Keeps how a drill went. Where it names no lesson, it belongs to the last in which the drill was
    /// given, if there is one.
    ///
    /// # Errors
    ///
    /// As [`Store::student`].
    pub fn add_outcome(&mut self, handle: &str, outcome: &Outcome) -> Result<Outcome, StoreError> {
        let coach = self.coach.clone();
        self.change(async |link| {
            known(link, handle).await?;
            let mut outcome = outcome.clone();
            outcome.number = record::next_number(link, sql::LAST_OUTCOME_NUMBER, handle).await?;
            if outcome.coach.is_empty() {
                outcome.coach.clone_from(&coach);
            }
            if outcome.lesson.is_none() {
                let lessons = record::lessons(link, handle).await?;
                let given = |lesson: &&LessonRecord| {
                    lesson
                        .prescribed
                        .iter()
                        .any(|given| given.drill == outcome.drill)
                };
                outcome.lesson = lessons.iter().rev().find(given).map(|lesson| lesson.number);
            }
            let change = RecordChange {
                what: format!("{} of {handle}: {}", outcome.drill, outcome.result.as_str()),
                later: vec![Record::Outcome {
                    handle: handle.to_owned(),
                    outcome: outcome.clone(),
                }],
                ..RecordChange::default()
            };
            Ok((change, outcome))
        })
    }

    /// Takes the last change back; called again, the change stands again. On a server it is the last
    /// change of this coach.
    ///
    /// # Errors
    ///
    /// When there is none, or what it left was changed since.
    pub fn undo(&mut self) -> Result<Undone, StoreError> {
        let by = self.place.file().is_none().then(|| self.coach.clone());
        self.change(async |link| reversed(link, by.as_deref()).await)
    }

    /// Everything: each student, with lessons and outcomes behind; of one student when a handle is given.
    ///
    /// # Errors
    ///
    /// As [`Store::student`].
    pub fn entries(&mut self, handle: Option<&str>) -> Result<Vec<Record>, StoreError> {
        self.reading(async |link| {
            let handles: Vec<String> = match handle {
                Some(handle) => {
                    known(link, handle).await?;
                    vec![handle.to_owned()]
                }
                None => {
                    let handles = sqlx::query_scalar(sql::HANDLES);
                    handles.fetch_all(&mut *link).await?
                }
            };
            let mut entries = Vec::new();
            for handle in handles {
                let Some((_, student)) = record::student(link, &handle).await? else {
                    continue;
                };
                let limits = record::limits(link, &handle).await?;
                entries.push(Record::Student { student, limits });
                let lessons = record::lessons(link, &handle).await?.into_iter();
                entries.extend(lessons.map(|lesson| Record::Lesson {
                    handle: handle.clone(),
                    lesson,
                }));
                let outcomes = record::outcomes(link, &handle).await?.into_iter();
                entries.extend(outcomes.map(|outcome| Record::Outcome {
                    handle: handle.clone(),
                    outcome,
                }));
            }
            Ok(entries)
        })
    }

    /// Takes entries in, all or none, numbers and all; what is there already word for word is left.
    /// Returns how many were new.
    ///
    /// # Errors
    ///
    /// When one is at odds with what is kept under its number, or hangs on no student.
    pub fn take_in(&mut self, entries: &[Record]) -> Result<usize, StoreError> {
        for entry in entries {
            shape_of_handle(entry.handle()).map_err(|write| StoreError::HandleShape {
                handle: entry.handle().to_owned(),
                write,
            })?;
        }
        self.change(async |link| {
            let mut change = RecordChange {
                what: "records brought in".into(),
                ..RecordChange::default()
            };
            let mut keys = BTreeSet::new();
            let mut students: BTreeSet<&str> = BTreeSet::new();
            for entry in entries {
                let (_, handle, number) = entry.key();
                let at_odds = |why: String| Err(StoreError::AtOdds(why).into());
                if !keys.insert(entry.key()) {
                    return at_odds(format!(
                        "one thing of {handle} (number {number}) comes twice"
                    ));
                }
                match record::current(link, entry).await? {
                    Some(there) if there == *entry => {}
                    Some(_) => {
                        return at_odds(format!(
                            "something else of {handle} is kept under the number {number}"
                        ));
                    }
                    None => change.later.push(entry.clone()),
                }
                if let Record::Student { .. } = entry {
                    students.insert(handle);
                } else if !students.contains(handle)
                    && record::student(link, handle).await?.is_none()
                {
                    return at_odds(format!(
                        "there is no student {handle} for something of theirs"
                    ));
                }
            }
            let new = change.later.len();
            Ok((change, new))
        })
    }

    /// Whether these records may move rows and effects; off until it is said.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn learns(&mut self) -> Result<bool, StoreError> {
        Ok(self.setting("learning")?.as_deref() == Some("on"))
    }

    /// Every call for a finding.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn calls_for(&mut self, finding: &str) -> Result<Vec<CallFor>, StoreError> {
        self.reading(async |link| {
            let all = sqlx::query(sql::CALLED_FOR).bind(finding);
            let mut calls = Vec::new();
            for row in all.fetch_all(link).await? {
                calls.push(CallFor {
                    handle: row.try_get(0)?,
                    start: row.try_get(1)?,
                    changed: called::known(row.try_get(2)?),
                });
            }
            Ok(calls)
        })
    }

    /// For each drill by id how many tries were told, and how many worked, a partly for a half.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn tries(&mut self) -> Result<BTreeMap<String, (usize, f64)>, StoreError> {
        self.reading(async |link| {
            let mut tries: BTreeMap<String, (usize, f64)> = BTreeMap::new();
            for row in sqlx::query(sql::RESULTS).fetch_all(link).await? {
                let (result, count): (String, i64) = (row.try_get(1)?, row.try_get(2)?);
                let success = DrillResult::parse(&result).map_or(0.0, DrillResult::success);
                let of = tries.entry(row.try_get(0)?).or_default();
                of.0 += usize::try_from(count).unwrap_or(0);
                of.1 += success * count as f64;
            }
            Ok(tries)
        })
    }

    /// A setting of these records.
    ///
    /// # Errors
    ///
    /// When the records cannot be read.
    pub fn setting(&mut self, name: &str) -> Result<Option<String>, StoreError> {
        self.reading(async |link| {
            let value = sqlx::query_scalar(sql::SETTING).bind(name);
            Ok(value.fetch_optional(link).await?)
        })
    }

    /// Changes a setting, or takes it out.
    ///
    /// # Errors
    ///
    /// When the records cannot be written.
    pub fn set(&mut self, name: &str, value: Option<&str>) -> Result<(), StoreError> {
        self.replace(sql::DELETE_SETTING, sql::INSERT_SETTING, name, value)
    }

    /// Takes a row of two columns out, and puts another in.
    pub(super) fn replace(
        &mut self,
        delete: &'static str,
        insert: &'static str,
        key: &str,
        value: Option<&str>,
    ) -> Result<(), StoreError> {
        self.reading(async |link| {
            let mut transaction = link.begin().await?;
            sqlx::query(delete)
                .bind(key)
                .execute(&mut *transaction)
                .await?;
            if let Some(value) = value {
                let insert = sqlx::query(insert).bind(key).bind(value);
                insert.execute(&mut *transaction).await?;
            }
            transaction.commit().await?;
            Ok(())
        })
    }
}

/// The student, or the error that says who comes nearest.
async fn known(link: &mut AnyConnection, handle: &str) -> Rowed<(i64, Student)> {
    if let Some(found) = record::student(link, handle).await? {
        return Ok(found);
    }
    let handles: Vec<String> = sqlx::query_scalar(sql::HANDLES).fetch_all(link).await?;
    let near = nearest(handle, handles.iter().map(String::as_str), 3);
    Err(StoreError::NoStudent {
        handle: handle.to_owned(),
        nearest: near.into_iter().map(str::to_owned).collect(),
    }
    .into())
}
