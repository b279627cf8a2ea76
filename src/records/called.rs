//! What each call of a coach came to: a row for each finding of a lesson whose start was called. It is
//! worked out from lessons and outcomes at every change, and is never the only place of anything.

use super::lesson_record::LessonRecord;
use super::outcome::Outcome;
use super::record::{self, Rowed};
use super::sql;
use crate::measure::{BallCount, Verdict, count_change};
use sqlx::{AnyConnection, Row};
use std::collections::BTreeMap;

/// The start behind one finding of one lesson, as the coach called it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Call {
    pub start: String,
    /// Whether the finding changed once that start was treated: 1 gone, 0 as before or worse; none when
    /// it was not treated, or nobody has looked since.
    pub changed: Option<f64>,
}

/// Stands in the table for what nobody knows yet.
const UNKNOWN: f64 = -1.0;

/// What the table says, where it is known.
pub(super) fn known(changed: Option<f64>) -> Option<f64> {
    changed.filter(|changed| *changed >= 0.0)
}

/// Every call of a student, by lesson and finding; lessons in order.
pub(super) fn calls(
    lessons: &[LessonRecord],
    outcomes: &[Outcome],
) -> BTreeMap<(i64, String), Call> {
    let mut all = BTreeMap::new();
    let check_ups = lessons.iter().filter(|lesson| !lesson.is_numbers());
    let lessons: Vec<&LessonRecord> = check_ups.collect();
    for (place, lesson) in lessons.iter().enumerate() {
        let Some(start) = &lesson.coach_says else {
            continue;
        };
        let told: Vec<f64> = outcomes
            .iter()
            .filter(|outcome| outcome.lesson == Some(lesson.number))
            .map(|outcome| outcome.result.success())
            .collect();
        let treated = !lesson.prescribed.is_empty() || !told.is_empty();
        let next = lessons.get(place + 1);
        for finding in &lesson.seen {
            let looked = next.and_then(|next| changed(finding, lesson, next));
            let said = (!told.is_empty()).then(|| told.iter().sum::<f64>() / told.len() as f64);
            let call = Call {
                start: start.clone(),
                changed: looked.or(said).filter(|_| treated),
            };
            all.insert((lesson.number, finding.clone()), call);
        }
    }
    all
}

/// How far a finding has gone from one lesson to the next, from 0 to 1; none where nobody looked. Half
/// stands for slight where it was plain, and for a count that fell by more than chance leaves.
fn changed(finding: &String, before: &LessonRecord, after: &LessonRecord) -> Option<f64> {
    if after.ruled_out.contains(finding) {
        return Some(1.0);
    }
    if !after.seen.contains(finding) {
        return None;
    }
    let fell = fallen(finding, before, after);
    let slighter = after.slight.contains(finding) && !before.slight.contains(finding);
    Some(if slighter || fell { 0.5 } else { 0.0 })
}

fn fallen(finding: &str, before: &LessonRecord, after: &LessonRecord) -> bool {
    let count = |lesson: &LessonRecord| {
        let found = lesson.counts.iter().find(|count| count.what == finding)?;
        Some(BallCount {
            shown: found.shown,
            of: found.of,
        })
    };
    count(before)
        .zip(count(after))
        .is_some_and(|(before, after)| {
            let change = count_change(before, after);
            change.verdict == Verdict::Real && change.difference < 0.0
        })
}

/// Brings the table of a student's calls up to what lessons and outcomes say.
pub(super) async fn settle(link: &mut AnyConnection, handle: &str) -> Rowed<()> {
    let lessons = record::lessons(link, handle).await?;
    let outcomes = record::outcomes(link, handle).await?;
    let wanted = calls(&lessons, &outcomes);
    let there = sqlx::query(sql::CALLED_OF).bind(handle);
    let mut standing = BTreeMap::new();
    for row in there.fetch_all(&mut *link).await? {
        let call = Call {
            start: row.try_get(2)?,
            changed: known(row.try_get(3)?),
        };
        let key: (i64, String) = (row.try_get(0)?, row.try_get(1)?);
        standing.insert(key, call);
    }
    for (key, call) in &standing {
        if wanted.get(key) != Some(call) {
            let delete = sqlx::query(sql::DELETE_CALLED).bind(handle).bind(key.0);
            delete.bind(key.1.as_str()).execute(&mut *link).await?;
        }
    }
    for (key, call) in &wanted {
        if standing.get(key) != Some(call) {
            sqlx::query(sql::INSERT_CALLED)
                .bind(handle)
                .bind(key.0)
                .bind(key.1.as_str())
                .bind(call.start.as_str())
                // A statement is prepared once, with one type for each place, and none has no type.
                .bind(call.changed.unwrap_or(UNKNOWN))
                .execute(&mut *link)
                .await?;
        }
    }
    Ok(())
}
