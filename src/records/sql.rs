//! Every statement. Each runs unchanged on SQLite and on PostgreSQL; a test runs them on both.

use sqlx::SqlSafeStr;
use sqlx::migrate::{Migration, MigrationType, Migrator};

/// The latest form of the tables that is known here.
pub(super) const FORM: i64 = 1;

/// Marks a SQLite file as ours, in its header.
pub(super) const APPLICATION: i64 = 0x6677_7201;
pub(super) const MARK: &str = "pragma application_id = 1719104001";

/// How the tables came to be. A migration that was ever run is never changed.
pub(super) fn migrations(server: bool) -> Migrator {
    let first = if server {
        include_str!("migrations/postgres/0001_records.sql")
    } else {
        include_str!("migrations/sqlite/0001_records.sql")
    };
    Migrator::with_migrations(vec![Migration::new(
        1,
        "records".into(),
        MigrationType::Simple,
        first.into_sql_str(),
        false,
    )])
}

pub(super) const FORM_FOUND: &str = "select max(version) from _sqlx_migrations";

pub(super) const STUDENT: &str = "select revision, record from student where handle = $1";
pub(super) const HANDLES: &str = "select handle from student order by handle";
pub(super) const STUDENTS: &str = "select s.record, l.lessons, l.day from student s left join \
    (select handle, count(*) as lessons, max(day) as day from lesson group by handle) l \
    on l.handle = s.handle order by s.handle";
pub(super) const INSERT_STUDENT: &str =
    "insert into student (handle, revision, record) values ($1, 1, $2)";
pub(super) const UPDATE_STUDENT: &str =
    "update student set revision = revision + 1, record = $1 where handle = $2";
/// Only when nobody changed it in between.
pub(super) const CHANGE_STUDENT: &str = "update student set revision = revision + 1, record = $1 \
    where handle = $2 and revision = $3";
pub(super) const DELETE_STUDENT: &str = "delete from student where handle = $1";

pub(super) const LIMITS: &str = "select limits from health where handle = $1";
pub(super) const DELETE_LIMITS: &str = "delete from health where handle = $1";
pub(super) const INSERT_LIMITS: &str = "insert into health (handle, limits) values ($1, $2)";

pub(super) const LESSON: &str = "select record from lesson where handle = $1 and number = $2";
/// A day is written year first, so that its letters order as the days do.
pub(super) const LESSONS: &str = "select record from lesson where handle = $1 order by day, number";
pub(super) const LAST_LESSON_NUMBER: &str = "select max(number) from lesson where handle = $1";
pub(super) const INSERT_LESSON: &str =
    "insert into lesson (handle, number, day, record) values ($1, $2, $3, $4)";
pub(super) const UPDATE_LESSON: &str =
    "update lesson set day = $3, record = $4 where handle = $1 and number = $2";
pub(super) const DELETE_LESSON: &str = "delete from lesson where handle = $1 and number = $2";

pub(super) const OUTCOME: &str = "select record from outcome where handle = $1 and number = $2";
pub(super) const OUTCOMES: &str = "select record from outcome where handle = $1 order by number";
pub(super) const LAST_OUTCOME_NUMBER: &str = "select max(number) from outcome where handle = $1";
pub(super) const INSERT_OUTCOME: &str =
    "insert into outcome (handle, number, drill, result, record) values ($1, $2, $3, $4, $5)";
pub(super) const UPDATE_OUTCOME: &str =
    "update outcome set drill = $3, result = $4, record = $5 where handle = $1 and number = $2";
pub(super) const DELETE_OUTCOME: &str = "delete from outcome where handle = $1 and number = $2";

pub(super) const CALLED_OF: &str =
    "select number, finding, start, changed from called where handle = $1";
pub(super) const DELETE_CALLED: &str =
    "delete from called where handle = $1 and number = $2 and finding = $3";
pub(super) const INSERT_CALLED: &str =
    "insert into called (handle, number, finding, start, changed) values ($1, $2, $3, $4, $5)";

pub(super) const CALLED_FOR: &str =
    "select handle, start, changed from called where finding = $1 order by handle, number";
pub(super) const RESULTS: &str =
    "select drill, result, count(*) from outcome group by drill, result order by drill, result";

pub(super) const SETTING: &str = "select value from setting where name = $1";
pub(super) const DELETE_SETTING: &str = "delete from setting where name = $1";
pub(super) const INSERT_SETTING: &str = "insert into setting (name, value) values ($1, $2)";

pub(super) const BACKUPS: &str = "select file, day from backup order by day, file";
pub(super) const DELETE_BACKUP: &str = "delete from backup where file = $1";
pub(super) const INSERT_BACKUP: &str = "insert into backup (file, day) values ($1, $2)";

pub(super) const INSERT_CHANGE: &str = "insert into journal \
    (day, coach, what, handle, undoes, earlier, later) values ($1, $2, $3, $4, $5, $6, $7) \
    returning number";
pub(super) const LAST_CHANGE: &str = "select max(number) from journal";
pub(super) const CHANGES_SINCE: &str = "select count(*) from journal where number > $1";
pub(super) const LAST_CHANGE_BY: &str = "select max(number) from journal where coach = $1";
pub(super) const CHANGE: &str =
    "select what, handle, undoes, earlier, later from journal where number = $1";
pub(super) const DELETE_OLD_CHANGES: &str = "delete from journal where number <= $1";
pub(super) const DELETE_CHANGES_OF: &str = "delete from journal where handle = $1";
/// Changes that touch several students name none.
pub(super) const DELETE_WIDE_CHANGES: &str = "delete from journal where handle = ''";

/// What a table holds, to hold a copy against it.
pub(super) const COUNTS: [(&str, &str); 5] = [
    ("students", "select count(*) from student"),
    ("lessons", "select count(*) from lesson"),
    ("outcomes", "select count(*) from outcome"),
    ("limits", "select count(*) from health"),
    ("changes that can be undone", "select count(*) from journal"),
];
