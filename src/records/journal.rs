//! What was changed, so that it can be taken back, and the taking back too.

use super::error::StoreError;
use super::record::{self, Record, Rowed};
use super::sql;
use sqlx::{AnyConnection, Row};
use std::collections::{BTreeMap, BTreeSet};

/// So many changes can be taken back.
const KEPT: i64 = 500;

/// One change: what stood before, and what stands after, under the same keys or new ones.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct RecordChange {
    /// What was done, in words, such as `lesson 3 of heron`.
    pub what: String,
    /// What stood before.
    pub earlier: Vec<Record>,
    /// What stands after.
    pub later: Vec<Record>,
    /// The change that this one takes back.
    pub undoes: Option<i64>,
}

impl RecordChange {
    /// The one student it is about; empty when it is about several.
    fn handle(&self) -> &str {
        let mut handles = self.earlier.iter().chain(&self.later).map(Record::handle);
        match handles.next() {
            Some(first) if handles.all(|other| other == first) => first,
            _ => "",
        }
    }

    /// Whether nothing is changed by it.
    pub(super) fn is_empty(&self) -> bool {
        self.earlier.is_empty() && self.later.is_empty()
    }

    /// Every student it is about.
    pub(super) fn handles(&self) -> BTreeSet<String> {
        let all = self.earlier.iter().chain(&self.later);
        all.map(|entry| entry.handle().to_owned()).collect()
    }

    /// Puts `later` in the place of `earlier`.
    pub(super) async fn make(&self, link: &mut AnyConnection) -> Rowed<()> {
        let stands: BTreeSet<_> = self.earlier.iter().map(Record::key).collect();
        let stays: BTreeSet<_> = self.later.iter().map(Record::key).collect();
        // Lessons hang on students, so that they go first and come last.
        let mut leaving: Vec<&Record> = self
            .earlier
            .iter()
            .filter(|e| !stays.contains(&e.key()))
            .collect();
        leaving.sort_by_key(|entry| std::cmp::Reverse(entry.key()));
        for entry in leaving {
            record::take_out(link, entry).await?;
        }
        let mut coming: Vec<&Record> = self.later.iter().collect();
        coming.sort_by_key(|entry| entry.key());
        for entry in coming {
            record::put(link, entry, stands.contains(&entry.key())).await?;
        }
        Ok(())
    }

    /// Writes it down, and lets go of what is too old to be taken back.
    pub(super) async fn note(
        &self,
        link: &mut AnyConnection,
        day: &str,
        coach: &str,
    ) -> Rowed<i64> {
        let row = sqlx::query(sql::INSERT_CHANGE)
            .bind(day)
            .bind(coach)
            .bind(self.what.as_str())
            .bind(self.handle())
            .bind(self.undoes.unwrap_or(0))
            .bind(serde_json::to_string(&self.earlier)?)
            .bind(serde_json::to_string(&self.later)?)
            .fetch_one(&mut *link)
            .await?;
        let number: i64 = row.try_get(0)?;
        if number > KEPT {
            let old = sqlx::query(sql::DELETE_OLD_CHANGES).bind(number - KEPT);
            old.execute(link).await?;
        }
        Ok(number)
    }
}

/// What was taken back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    /// What it was, in words.
    pub what: String,
    /// Whether it was itself the taking back of something, which therefore stands again.
    pub again: bool,
}

/// The last change, as the change that takes it back.
pub(super) async fn reversed(
    link: &mut AnyConnection,
    by: Option<&str>,
) -> Rowed<(RecordChange, Undone)> {
    let number: Option<i64> = match by {
        None => {
            let last = sqlx::query_scalar(sql::LAST_CHANGE);
            last.fetch_one(&mut *link).await?
        }
        Some(coach) => {
            let last = sqlx::query_scalar(sql::LAST_CHANGE_BY).bind(coach);
            last.fetch_one(&mut *link).await?
        }
    };
    let number = number.ok_or(StoreError::NothingToUndo)?;
    let row = sqlx::query(sql::CHANGE).bind(number);
    let row = row.fetch_one(&mut *link).await?;
    let what: String = row.try_get(0)?;
    let undoes: Option<i64> = row.try_get(2)?;
    let undoes = undoes.filter(|number| *number > 0);
    let earlier: Vec<Record> = serde_json::from_str(row.try_get::<&str, _>(3)?)?;
    let later: Vec<Record> = serde_json::from_str(row.try_get::<&str, _>(4)?)?;
    for entry in &later {
        if record::current(link, entry).await?.as_ref() != Some(entry) {
            return Err(StoreError::ChangedSince(number).into());
        }
    }
    still_whole(link, &earlier, &later, number).await?;
    let undone = Undone {
        what: what.clone(),
        again: undoes.is_some(),
    };
    let change = RecordChange {
        what,
        earlier: later,
        later: earlier,
        undoes: Some(number),
    };
    Ok((change, undone))
}

/// A student who would go takes every lesson along: only those of the same change may be there.
async fn still_whole(
    link: &mut AnyConnection,
    earlier: &[Record],
    later: &[Record],
    number: i64,
) -> Rowed<()> {
    let stays: BTreeSet<_> = earlier.iter().map(Record::key).collect();
    let mut of: BTreeMap<&str, usize> = BTreeMap::new();
    for entry in later {
        *of.entry(entry.handle()).or_default() += 1;
    }
    for entry in later {
        if !matches!(entry, Record::Student { .. }) || stays.contains(&entry.key()) {
            continue;
        }
        let handle = entry.handle();
        let there = 1
            + record::lessons(link, handle).await?.len()
            + record::outcomes(link, handle).await?.len();
        if Some(&there) != of.get(handle) {
            return Err(StoreError::ChangedSince(number).into());
        }
    }
    Ok(())
}
