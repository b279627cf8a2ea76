//! Students, and what is kept of them.

use super::page::Page;
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::records::{
    History, LearnedEffect, LearnedRow, LessonRecord, MeasuredNumber, Outcome, Picture, ROW_WEIGHT,
    StoreCheck, Student, StudentSummary, Tally, call_holds,
};
use chrono::NaiveDate;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// The name of an entry by its id, or the id where the library no longer has it.
pub(super) fn named<'a>(base: &'a KnowledgeBase, id: &'a str) -> &'a str {
    if let Some(key) = base.find(id) {
        return &base.condition(key).name;
    }
    base.find_drill(id)
        .map_or(id, |key| base.drill(key).name.as_str())
}

fn names<'a>(base: &KnowledgeBase, ids: impl IntoIterator<Item = &'a String>) -> String {
    let names: Vec<&str> = ids.into_iter().map(|id| named(base, id)).collect();
    names.join("; ")
}

/// So many of something whose word is in the plural, such as `1 student` or `2 changes that can be undone`.
#[must_use]
pub fn how_many<N: std::fmt::Display>(count: N, what: &str) -> String {
    let count = count.to_string();
    if count != "1" {
        return format!("{count} {what}");
    }
    let (first, rest) = what.split_once(' ').unwrap_or((what, ""));
    let one = match first.strip_suffix("ies") {
        Some(stem) => format!("{stem}y"),
        None => first.trim_end_matches('s').to_owned(),
    };
    format!("1 {one} {rest}").trim_end().to_owned()
}

/// Every student on a line.
#[must_use]
pub fn students_page(students: &[StudentSummary], today: NaiveDate) -> Page {
    let mut page = Page::new();
    if students.is_empty() {
        page.text("No students are kept yet.");
        return page;
    }
    let rows: Vec<[String; 4]> = students
        .iter()
        .map(|one| {
            let until = one.student.kept_until(one.last);
            [
                one.student.handle.clone(),
                one.lessons.to_string(),
                one.last
                    .map_or_else(|| "-".to_owned(), |day| day.to_string()),
                if until < today {
                    format!("{until} (passed)")
                } else {
                    until.to_string()
                },
            ]
        })
        .collect();
    page.grid(["Student", "Lessons", "Last", "Kept until"], rows);
    page
}

/// The same for a program.
#[must_use]
pub fn students_json(students: &[StudentSummary], today: NaiveDate) -> Value {
    let rows: Vec<Value> = students
        .iter()
        .map(|one| {
            let until = one.student.kept_until(one.last);
            json!({
                "handle": one.student.handle, "lessons": one.lessons, "last": one.last,
                "kept_until": until, "past_keeping": until < today,
            })
        })
        .collect();
    json!({"students": rows})
}

/// One student, with every lesson in order; what was said of the body only where it is given.
#[must_use]
pub fn student_page(base: &KnowledgeBase, history: &History, limits: Option<&str>) -> Page {
    let student = &history.student;
    let mut page = Page::new();
    page.heading(student.handle.clone());
    page.lines(about(base, student, limits));
    if history.lessons.is_empty() {
        page.text("No lesson is kept yet.");
    }
    for lesson in &history.lessons {
        let by = if lesson.coach.is_empty() {
            String::new()
        } else {
            format!(", by {}", lesson.coach)
        };
        let what = if lesson.is_numbers() {
            "numbers"
        } else {
            "lesson"
        };
        page.heading(format!("{}, {what} {}{by}", lesson.day, lesson.number));
        page.lines(lesson_lines(base, lesson));
        let outcomes = history.outcomes_of(lesson.number);
        page.bullets(outcomes.map(|outcome| outcome_line(base, outcome)));
    }
    let loose: Vec<String> = history
        .outcomes
        .iter()
        .filter(|outcome| outcome.lesson.is_none())
        .map(|outcome| outcome_line(base, outcome))
        .collect();
    page.heading_if(!loose.is_empty(), "Drills of no lesson that is kept");
    page.bullets(loose);
    page
}

fn about(base: &KnowledgeBase, student: &Student, limits: Option<&str>) -> Vec<(String, String)> {
    let mut lines = Vec::new();
    let mut line = |label: &str, text: String| {
        if !text.is_empty() {
            lines.push((label.to_owned(), text));
        }
    };
    let plays = student
        .handed
        .map(|hand| format!("{}-handed", hand.as_str()));
    line("Plays: ", plays.unwrap_or_default());
    line(
        "Level: ",
        student
            .level
            .map_or_else(String::new, |level| level.words().to_owned()),
    );
    let suits: Vec<&str> = student.suits.iter().map(|suits| suits.words()).collect();
    line("Has to suit: ", suits.join("; "));
    let facts: Vec<&str> = student
        .facts
        .iter()
        .map(|id| {
            base.find_fact(id)
                .map_or(id.as_str(), |key| base.fact(key).name.as_str())
        })
        .collect();
    line("Facts: ", facts.join("; "));
    line("Goals: ", student.goals.join("; "));
    line("Limits: ", limits.unwrap_or_default().to_owned());
    lines
}

fn lesson_lines(base: &KnowledgeBase, lesson: &LessonRecord) -> Vec<(String, String)> {
    let mut lines = Vec::new();
    let mut line = |label: &str, text: String| {
        if !text.is_empty() {
            lines.push((label.to_owned(), text));
        }
    };
    if lesson.is_numbers() {
        line("From: ", lesson.note.join("; "));
    }
    line("Seen: ", names(base, &lesson.seen));
    line("Not there: ", names(base, &lesson.ruled_out));
    let counted = |one: &Tally| format!("{} of {} {}", one.shown, one.of, named(base, &one.what));
    line("Counted: ", each(&lesson.counts, counted));
    let measured = |one: &MeasuredNumber| format!("{} {} {}", one.quantity, one.value, one.unit);
    line("Measured: ", each(&lesson.measured, measured));
    let ours = lesson.started_at().map(|id| named(base, id).to_owned());
    line("Our first: ", ours.unwrap_or_default());
    let called = lesson.coach_says.as_ref().map(|id| {
        let because = lesson.reason.as_ref().map(|why| format!(", because {why}"));
        format!("{}{}", named(base, id), because.unwrap_or_default())
    });
    line("The coach: ", called.unwrap_or_default());
    line(
        "Given: ",
        names(base, lesson.prescribed.iter().map(|given| &given.drill)),
    );
    let picture = |one: &Picture| format!("{} ({})", one.file, one.day);
    line("Pictures: ", each(&lesson.pictures, picture));
    lines
}

fn each<T>(of: &[T], said: impl Fn(&T) -> String) -> String {
    of.iter().map(said).collect::<Vec<_>>().join("; ")
}

fn outcome_line(base: &KnowledgeBase, outcome: &Outcome) -> String {
    let reps = outcome.reps.map(|reps| format!(", {reps} times"));
    let note = outcome.note.as_ref().map(|note| format!(" ({note})"));
    format!(
        "{}: {}: {}{}{}",
        outcome.day,
        named(base, &outcome.drill),
        outcome.result.as_str(),
        reps.unwrap_or_default(),
        note.unwrap_or_default()
    )
}

fn lesson_json(history: &History, lesson: &LessonRecord) -> Value {
    let outcomes: Vec<&Outcome> = history.outcomes_of(lesson.number).collect();
    let given = lesson.prescribed.iter();
    let drills: Vec<&str> = given.map(|given| given.drill.as_str()).collect();
    json!({
        "number": lesson.number, "date": lesson.day, "coach": lesson.coach,
        "seen": lesson.seen, "slight": lesson.slight, "ruled_out": lesson.ruled_out,
        "started_at": lesson.started_at(), "coach_says": lesson.coach_says,
        "reason": lesson.reason, "prescribed": drills, "counts": lesson.counts,
        "measured": lesson.measured, "pictures": lesson.pictures,
        "library": lesson.library, "note": lesson.note, "outcomes": outcomes,
    })
}

/// The same for a program.
#[must_use]
pub fn student_json(history: &History, limits: Option<&str>) -> Value {
    let student = &history.student;
    let lessons: Vec<Value> = history
        .lessons
        .iter()
        .map(|lesson| lesson_json(history, lesson))
        .collect();
    let loose: Vec<&Outcome> = history
        .outcomes
        .iter()
        .filter(|outcome| outcome.lesson.is_none())
        .collect();
    let mut value = json!({
        "handle": student.handle, "handed": student.handed, "level": student.level,
        "suits": student.suits, "facts": student.facts, "goals": student.goals,
        "added": student.added, "kept_until": student.kept_until(history.last()),
        "lessons": lessons, "outcomes": loose,
    });
    if let Some(limits) = limits {
        value["limits"] = json!(limits);
    }
    value
}

/// What was looked over, in words.
#[must_use]
pub fn checked_page(checked: &StoreCheck) -> Page {
    let mut page = Page::new();
    let counts: Vec<String> = checked
        .counts
        .iter()
        .map(|(what, count)| how_many(*count, what))
        .collect();
    if checked.complaints.is_empty() {
        page.text(format!("All is sound: {}.", counts.join(", ")));
    } else {
        page.warning("The records are not sound.");
        page.bullets(checked.complaints.iter().cloned());
        page.text(counts.join(", "));
    }
    page
}

/// What the records moved, in a line; none where they moved nothing.
#[must_use]
pub fn learned_line(
    base: &KnowledgeBase,
    moved: &BTreeMap<ConditionKey, LearnedRow>,
) -> Option<String> {
    let each: Vec<String> = moved
        .iter()
        .filter_map(|(finding, row)| {
            let (start, ended) = row
                .ended_at
                .iter()
                .max_by_key(|(key, ended)| (**ended, std::cmp::Reverse(**key)))?;
            Some(format!(
                "{}: in {} of your {} students it ended at {}",
                base.condition(*finding).name,
                ended,
                row.students,
                base.condition(*start).name
            ))
        })
        .collect();
    (!each.is_empty()).then(|| format!("Moved by your own lessons. {}.", each.join("; ")))
}

/// What the records say of an entry: the library, the data, and what comes of both.
#[must_use]
pub fn learned_page(
    base: &KnowledgeBase,
    row: Option<&LearnedRow>,
    effects: &[(ConditionKey, LearnedEffect)],
) -> Page {
    let mut page = Page::new();
    if let Some(row) = row {
        learned_starts(&mut page, base, row);
    }
    if let Some((_, first)) = effects.first() {
        page.heading(format!(
            "As {} of your own move it",
            how_many(first.told, "tries")
        ));
        let rows = effects.iter().map(|(key, effect)| {
            [
                base.condition(*key).name.clone(),
                hundred(effect.prior),
                format!("{} of {}", effect.worked, effect.told),
                format!(
                    "{} ({:.0} to {:.0})",
                    hundred(effect.posterior),
                    100.0 * effect.low,
                    100.0 * effect.high
                ),
            ]
        });
        page.grid(["Works on", "Library", "Worked", "Both"], rows.collect());
    }
    page
}

fn hundred(share: f64) -> String {
    format!("{:.0} in 100", 100.0 * share)
}

/// Where it starts: the library, the coach's own calls, and both.
fn learned_starts(page: &mut Page, base: &KnowledgeBase, row: &LearnedRow) {
    page.heading(format!(
        "As {} of your own move it",
        how_many(row.students, "students")
    ));
    let mut shown: Vec<(ConditionKey, f64)> = row.posterior.entries().to_vec();
    shown.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let rows: Vec<[String; 4]> = shown
        .into_iter()
        .take(8)
        .map(|(key, posterior)| {
            [
                base.condition(key).name.clone(),
                hundred(row.prior.share(key)),
                format!("{:.1}", row.data.get(&key).copied().unwrap_or(0.0)),
                hundred(posterior),
            ]
        })
        .collect();
    page.grid(["Where it starts", "Library", "Your count", "Both"], rows);
    page.text(format!(
            "The library counts as {ROW_WEIGHT:.0} students. A call counts {:.2}, less when the start was treated and nothing changed.",
            call_holds(None)
        ));
}

/// The same for a program.
#[must_use]
pub fn learned_json(
    base: &KnowledgeBase,
    row: Option<&LearnedRow>,
    effects: &[(ConditionKey, LearnedEffect)],
) -> Value {
    let id = |key: &ConditionKey| base.condition(*key).id.clone();
    let shares = |row: &crate::causal::Row| {
        let entries = row.entries().iter();
        entries
            .map(|(key, share)| json!({"id": id(key), "share": share}))
            .collect::<Vec<_>>()
    };
    let effects: Vec<Value> = effects
        .iter()
        .map(|(key, effect)| {
            json!({
                "id": id(key), "prior": effect.prior, "told": effect.told, "worked": effect.worked,
                "posterior": effect.posterior, "low": effect.low, "high": effect.high,
            })
        })
        .collect();
    let row = row.map(|row| {
        let data: Vec<Value> =
            row.data.iter().map(|(key, count)| json!({"id": id(key), "count": count})).collect();
        json!({
            "weight": ROW_WEIGHT, "students": row.students, "prior": shares(&row.prior), "data": data,
            "posterior": shares(&row.posterior),
        })
    });
    json!({"row": row, "effects": effects})
}

/// Who it is and what there was last time, in a line or two.
#[must_use]
pub fn last_time(base: &KnowledgeBase, history: &History, limits: bool) -> String {
    let student = &history.student;
    let mut text = match history.check_ups().next_back() {
        None => format!("{}: no earlier lesson is kept.", student.handle),
        Some(last) => {
            let mut text = format!(
                "{}, last time ({}): {}",
                student.handle,
                last.day,
                names(base, &last.seen)
            );
            if let Some(start) = last.worked_on() {
                text.push_str(&format!("; worked on: {}", named(base, start)));
            }
            for outcome in history.outcomes_of(last.number) {
                let drill = named(base, &outcome.drill);
                text.push_str(&format!("; {drill}: {}", outcome.result.as_str()));
            }
            text.push('.');
            text
        }
    };
    if !student.goals.is_empty() {
        text.push_str(&format!(" Goal: {}.", student.goals.join("; ")));
    }
    if limits {
        text.push_str(" There are limits on record.");
    }
    text
}
