//! The next check-up against the last.

use super::page::Page;
use super::student_pages::named;
use crate::knowledge::KnowledgeBase;
use crate::measure::Change;
use crate::records::{
    Advice, CountChange, Held, History, LessonRecord, QuantityChange, SinceLast, Tally,
    counts_since, measured_since,
};
use serde_json::{Value, json};

/// Every lesson of a student on a line.
#[must_use]
pub fn lessons_page(base: &KnowledgeBase, history: &History) -> Page {
    let mut page = Page::new();
    if history.lessons.is_empty() {
        page.text(format!(
            "{}: no lesson is kept yet.",
            history.student.handle
        ));
        return page;
    }
    let list = |ids: &mut dyn Iterator<Item = &str>| {
        ids.map(|id| named(base, id)).collect::<Vec<_>>().join("; ")
    };
    let rows: Vec<[String; 5]> = history
        .lessons
        .iter()
        .map(|lesson| {
            let told = history.outcomes_of(lesson.number);
            let told: Vec<&str> = told.map(|one| one.result.as_str()).collect();
            [
                lesson.number.to_string(),
                lesson.day.to_string(),
                list(&mut lesson.seen.iter().map(String::as_str)),
                list(&mut lesson.worked_on().into_iter()),
                told.join(", "),
            ]
        })
        .collect();
    page.grid(["No.", "Day", "Seen", "Worked on", "Drills went"], rows);
    page
}

/// The same for a program.
#[must_use]
pub fn lessons_json(history: &History) -> Value {
    super::student_json(history, None)["lessons"].take()
}

/// What to look at first, before anything was seen today.
#[must_use]
pub fn look_first_page(base: &KnowledgeBase, history: &History, since: Option<&SinceLast>) -> Page {
    let mut page = Page::new();
    let Some(since) = since else {
        page.text(format!(
            "{}: no lesson is kept yet, so there is nothing to hold against.",
            history.student.handle
        ));
        return page;
    };
    page.heading(format!(
        "{}, last time {}",
        history.student.handle, since.last.day
    ));
    page.lines(last_lines(base, history, &since.last));
    page.heading("Look at these first");
    let start = since.start.iter().map(|(start, _)| start);
    let findings = since.findings.iter().map(|one| &one.finding);
    let mut ids: Vec<&String> = Vec::new();
    for id in start.chain(findings) {
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    page.steps(ids.into_iter().map(|id| what_to_look_for(base, id)));
    page
}

fn what_to_look_for(base: &KnowledgeBase, id: &str) -> String {
    let Some(key) = base.find(id) else {
        return id.to_owned();
    };
    let condition = base.condition(key);
    match condition.look_for.as_str() {
        "" => condition.name.clone(),
        look_for => format!("{}: {look_for}", condition.name),
    }
}

fn last_lines(
    base: &KnowledgeBase,
    history: &History,
    last: &LessonRecord,
) -> Vec<(String, String)> {
    let mut lines = Vec::new();
    if let Some(start) = last.worked_on() {
        lines.push(("Worked on: ".to_owned(), named(base, start).to_owned()));
    }
    let drills: Vec<String> = last
        .prescribed
        .iter()
        .map(|given| {
            let told = history.outcomes_of(last.number);
            let told: Vec<&str> = told
                .filter(|one| one.drill == given.drill)
                .map(|one| one.result.as_str())
                .collect();
            let told = if told.is_empty() {
                "not told yet".to_owned()
            } else {
                told.join(", ")
            };
            format!("{} ({told})", named(base, &given.drill))
        })
        .collect();
    if !drills.is_empty() {
        lines.push(("Given: ".to_owned(), drills.join("; ")));
    }
    lines
}

/// What held, and what follows.
#[must_use]
pub fn since_page(base: &KnowledgeBase, history: &History, since: Option<&SinceLast>) -> Page {
    let mut page = Page::new();
    let Some(since) = since else {
        page.text(format!(
            "{}: the first lesson that is kept.",
            history.student.handle
        ));
        return page;
    };
    page.heading(format!(
        "{}, since {}",
        history.student.handle, since.last.day
    ));
    page.lines(last_lines(base, history, &since.last));
    let head = [
        "Last time and now",
        "Held?",
        "Explained by what was worked on",
    ];
    page.grid(head, held_rows(base, since));
    page.bullets(changed(base, &since.counts, &since.measured));
    page.text(words(base, since));
    page
}

/// What was there last time, whether it held, and whether what was worked on explains it.
fn held_rows(base: &KnowledgeBase, since: &SinceLast) -> Vec<[String; 3]> {
    let explained = |explained: Option<bool>| match explained {
        Some(true) => "yes",
        Some(false) => "no",
        None => "-",
    };
    let mut rows: Vec<[String; 3]> = Vec::new();
    if let Some((start, held)) = &since.start
        && since.findings.iter().all(|one| one.finding != *start)
    {
        rows.push([
            format!("{} (worked on)", named(base, start)),
            held.as_str().to_owned(),
            "-".to_owned(),
        ]);
    }
    rows.extend(since.findings.iter().map(|one| {
        [
            named(base, &one.finding).to_owned(),
            one.held.as_str().to_owned(),
            explained(one.explained).to_owned(),
        ]
    }));
    rows
}

/// Counts and numbers against the last of the same, each in a line.
fn changed<'a>(
    base: &'a KnowledgeBase,
    counts: &'a [CountChange],
    measured: &'a [QuantityChange],
) -> impl Iterator<Item = String> + 'a {
    let counts = counts.iter().map(|count| {
        let Tally { shown, of, what } = &count.before;
        format!(
            "{}: {shown} of {of}, then {} of {}: {}",
            named(base, what),
            count.after.shown,
            count.after.of,
            count.change.verdict.words()
        )
    });
    let measured = measured.iter().map(|one| {
        format!(
            "{}: {} then {} {}: {}{}",
            one.before.quantity,
            one.before.value,
            one.after.value,
            one.after.unit,
            one.change.verdict.words(),
            smallest(&one.change, &one.after.unit)
        )
    });
    counts.chain(measured)
}

/// Numbers that are new on the timeline, against the last of the same; nothing where none is there before.
pub fn numbers_since(page: &mut Page, base: &KnowledgeBase, history: &History, now: &LessonRecord) {
    let (counts, measured) = (counts_since(history, now), measured_since(history, now));
    let lines: Vec<String> = changed(base, &counts, &measured).collect();
    page.heading_if(!lines.is_empty(), "Since the last of the same")
        .bullets(lines);
}

fn smallest(change: &Change, unit: &str) -> String {
    change.smallest.map_or_else(String::new, |least| {
        format!(" (shows from {least:.1} {unit})")
    })
}

/// What follows, in a sentence.
fn words(base: &KnowledgeBase, since: &SinceLast) -> String {
    let start = since
        .start
        .as_ref()
        .map_or("what was worked on", |(start, _)| named(base, start));
    match since.advice {
        Advice::LookFirst => {
            format!("Look again first at what was there last time, {start} before all.")
        }
        Advice::GoOn => format!("Go on: it is moving. Keep to {start}."),
        Advice::ChangeDrill => {
            format!("Change the drill: {start} is as it was, and what was given has not moved it.")
        }
        Advice::LookElsewhere if matches!(since.start, Some((_, Held::Gone))) => {
            format!("Look for another start: {start} is gone, and what it was to clear has stayed.")
        }
        Advice::LookElsewhere => {
            format!("Look for another start: what stayed does not hang on {start}.")
        }
        Advice::Hold => format!("It held. Keep {start} as it is, and take the next thing."),
    }
}

fn changed_json(counts: &[CountChange], measured: &[QuantityChange]) -> (Value, Value) {
    let change = |change: &Change| {
        json!({
            "difference": change.difference,
            "smallest_detectable": change.smallest,
            "verdict": change.verdict.words(),
        })
    };
    let counts = counts
        .iter()
        .map(|one| json!({"before": one.before, "after": one.after, "change": change(&one.change)}))
        .collect();
    let measured = measured
        .iter()
        .map(|one| json!({"before": one.before, "after": one.after, "change": change(&one.change)}))
        .collect();
    (counts, measured)
}

/// The same as [`numbers_since`] for a program.
#[must_use]
pub fn numbers_since_json(history: &History, now: &LessonRecord) -> Value {
    let (counts, measured) =
        changed_json(&counts_since(history, now), &measured_since(history, now));
    json!({"counts": counts, "measured": measured})
}

/// The same for a program.
#[must_use]
pub fn since_json(history: &History, since: Option<&SinceLast>) -> Value {
    let Some(since) = since else {
        return json!({"student": history.student.handle, "last": null, "since": [], "advice": null});
    };
    let rows: Vec<Value> = since
        .findings
        .iter()
        .map(
            |one| json!({"id": one.finding, "held": one.held.as_str(), "explained": one.explained}),
        )
        .collect();
    let (counts, measured) = changed_json(&since.counts, &since.measured);
    let mut look_first: Vec<&str> = since
        .start
        .iter()
        .map(|(start, _)| start.as_str())
        .collect();
    for one in &since.findings {
        if !look_first.contains(&one.finding.as_str()) && since.last.seen.contains(&one.finding) {
            look_first.push(&one.finding);
        }
    }
    json!({
        "student": history.student.handle,
        "last": {"date": since.last.day, "lesson": since.last.number, "seen": since.last.seen},
        "worked_on": since.start.as_ref().map(|(start, held)| json!({"id": start, "held": held.as_str()})),
        "look_first": look_first, "since": rows, "counts": counts, "measured_since": measured,
        "advice": since.advice.as_str(),
    })
}
